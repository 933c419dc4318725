import { html, type TemplateResult } from 'lit';
import type { Measurement } from '../../api/types.ts';
import { asSentence, listWords } from '../../elements/count-words.ts';
import { figure } from '../../elements/figures-table.ts';
import { timeCode } from '../../elements/time-code.ts';
import type { FigureName } from '../glossary/figure-entries.ts';
import { figureName, figureValue, type NumberName } from './figure-value.ts';
import { channelWord } from './finding.ts';

type Row = [name: TemplateResult, value: TemplateResult | string];

/** Everything that is measured of a whole file, in four short lists. */
export function wholeSong(measurement: Measurement, formatWords: string): TemplateResult {
  const { channelCount, sampleRateHz, frameCount } = measurement;
  const row = (name: NumberName, words?: string): Row => [
    figureName(name, words),
    figureValue(name, measurement, channelCount),
  ];
  const silence = (name: FigureName, words: string, seconds: number | null): Row => [
    figureName(name, words),
    seconds === null ? html`– <small>silence</small>` : figure(seconds, 's', 2),
  ];
  const groups: [string, Row[]][] = [
    [
      'Loudness',
      [
        row('integratedLoudnessLufs'),
        [
          figureName('loudnessRangeLu'),
          html`${figureValue('loudnessRangeLu', measurement, channelCount)}${
            measurement.loudnessRangeReliable || measurement.loudnessRangeLu === null
              ? ''
              : html` <small>under 60 s it says little</small>`
          }`,
        ],
        row('maxMomentaryLoudnessLufs'),
        row('maxShortTermLoudnessLufs'),
        row('plrDb'),
      ],
    ],
    [
      'Peaks and level',
      [
        row('truePeakDbtp'),
        row('samplePeakDbfs'),
        row('rmsDbfs', 'RMS, full-scale sine −3.01'),
        row('rmsAes17Dbfs', 'RMS by AES17'),
        row('crestFactorDb'),
        [figureName('oversCount'), String(measurement.oversCount)],
        row('clippedRuns'),
        [figureName('dcOffset'), dcOffset(measurement)],
      ],
    ],
    [
      'Image',
      [
        row('correlation'),
        row('midSideBalanceDb'),
        [
          figureName('monoFoldDownLossLu'),
          html`${figureValue('monoFoldDownLossLu', measurement, channelCount)}${measurement.monoFoldDownLossLu === null ? '' : ' lost'}`,
        ],
        [figureName('polaritySuspect'), polarity(measurement)],
        [figureName('deadChannels'), deadChannels(measurement)],
      ],
    ],
    [
      'File',
      [
        [html`Format`, formatWords],
        [
          html`Length`,
          html`${timeCode(measurement.durationSeconds, { tenths: true })} <small>${frameCount.toLocaleString('en-GB')} frames at ${sampleRateHz.toLocaleString('en-GB')} Hz</small>`,
        ],
        silence('headSilenceSeconds', 'Silence at the head', measurement.headSilenceSeconds),
        silence('tailSilenceSeconds', 'Silence at the tail', measurement.tailSilenceSeconds),
      ],
    ],
  ];
  return html`<div class="groups">
    ${groups.map(
      ([name, rows]) =>
        html`<div>
          <h3>${name}</h3>
          <dl class="pairs">${rows.map(([term, value]) => html`<div><dt>${term}</dt><dd>${value}</dd></div>`)}</dl>
        </div>`,
    )}
  </div>`;
}

function dcOffset({ dcOffset, channelCount }: Measurement): string {
  return dcOffset
    .map((mean, channel) => {
      const value = figure(mean === null ? null : mean * 100, '%', 3);
      return channelCount === 1 ? value : `${channelWord(channel, channelCount)} ${value}`;
    })
    .join(', ');
}

function polarity(measurement: Measurement): TemplateResult {
  const { polaritySuspect, correlation, channelCount } = measurement;
  // Polarity is judged by the correlation, so the one is undefined where the other is.
  if (correlation === null) return figureValue('correlation', measurement, channelCount);
  return polaritySuspect ? html`one side may be the wrong way round` : html`nothing suspect`;
}

function deadChannels({ deadChannels, channelCount, silent }: Measurement): string {
  if (silent) return 'all: the file is silent';
  if (!deadChannels.length) return 'none';
  return asSentence(listWords(deadChannels.map((channel) => channelWord(channel, channelCount))));
}
