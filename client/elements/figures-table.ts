import { html, nothing, type TemplateResult } from 'lit';
import type { Measurement } from '../api/types.ts';
import './figures-table.css';

/** A figure as one reads it, with a real minus sign; `–` where it is undefined. */
export function figure(value: number | null | undefined, unit: string, digits = 1): string {
  if (value === null || value === undefined) return '–';
  return `${signless(value, digits)}${unit ? ` ${unit}` : ''}`;
}

const signless = (value: number, digits: number) => value.toFixed(digits).replace('-', '−');

/** A difference, always with its sign: `+1.4 LU`, `±0.0 LU`. */
export function difference(value: number | null | undefined, unit: string, digits = 1): string {
  if (value === null || value === undefined) return '–';
  const rounded = Number(value.toFixed(digits));
  const sign = rounded > 0 ? '+' : rounded < 0 ? '−' : '±';
  return `${sign}${Math.abs(rounded).toFixed(digits)}${unit ? ` ${unit}` : ''}`;
}

/** The figures that are looked at before a file is signed, each with its standard behind it. */
export function figuresTable(measurement: Measurement): TemplateResult {
  const rows: [string, string, string][] = [
    [
      'Integrated loudness',
      figure(measurement.integratedLoudnessLufs, 'LUFS'),
      measurement.standards.loudness,
    ],
    ['True peak', figure(measurement.truePeakDbtp, 'dBTP'), measurement.standards.truePeak],
    [
      'Loudness range',
      figure(measurement.loudnessRangeLu, 'LU'),
      `${measurement.standards.loudnessRange}${measurement.loudnessRangeReliable ? '' : '; under 60 s it says little'}`,
    ],
    [
      'Loudest momentary, short-term',
      `${figure(measurement.maxMomentaryLoudnessLufs, '')}, ${figure(measurement.maxShortTermLoudnessLufs, 'LUFS')}`,
      measurement.standards.meter,
    ],
    ['Sample peak', figure(measurement.samplePeakDbfs, 'dBFS'), ''],
    ['RMS', figure(measurement.rmsDbfs, 'dBFS'), measurement.standards.rms],
    ['Peak over loudness (PLR)', figure(measurement.plrDb, 'dB'), ''],
    ['Stereo correlation', figure(measurement.correlation, '', 2), 'left against right, −1 to +1'],
    [
      'Mono fold-down',
      measurement.monoFoldDownLossLu === null ? '–' : `${figure(measurement.monoFoldDownLossLu, 'LU')} lost`,
      'both speakers playing (L + R) / 2',
    ],
    [
      'Clipped runs',
      measurement.clippedRuns === null ? '–' : String(measurement.clippedRuns),
      'three or more samples in a row at full scale',
    ],
  ];
  return html`<table class="figures">
    <caption class="unseen">Measurements</caption>
    <tbody>
      ${rows.map(
        ([name, value, source]) =>
          html`<tr><th scope="row">${name}${source ? html`<small>${source}</small>` : nothing}</th><td class="num">${value}</td></tr>`,
      )}
    </tbody>
  </table>`;
}
