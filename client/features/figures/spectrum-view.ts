import { html, nothing, type TemplateResult } from 'lit';
import type { BandLevel, Figures, SectionFigures } from '../../api/types.ts';
import { hertzWords } from '../../elements/comparison-words.ts';
import { figure } from '../../elements/figures-table.ts';
import '../../plot/third-octave-chart.ts';
import { problemWords } from './undefined-reason.ts';

const scaleDb = 70;

/** Why a band has no level. */
function emptyReason({ nominalHz, cutAtHalfRate }: BandLevel, sampleRateHz: number): string {
  return cutAtHalfRate || nominalHz > sampleRateHz / 2 ? 'over half the sample rate' : 'nothing there';
}

const decibels = (value: number | null) => figure(value, 'dB');

/** The level in each third-octave band of a stretch, and in the six bands of the trade. */
export function spectrumView(
  figures: Figures | SectionFigures,
  where: string,
  sampleRateHz: number,
): TemplateResult {
  const problem = 'problem' in figures ? figures.problem : null;
  if (problem) return html`<p class="said">No spectrum: ${where} ${problemWords[problem]}.</p>`;
  if (figures.silent) return html`<p class="said">No spectrum: ${where} is silent.</p>`;
  const levels = figures.bands.flatMap(({ levelDb }) => (levelDb === null ? [] : [levelDb]));
  const top = Math.ceil(Math.max(-scaleDb, ...levels) / 10) * 10;
  return html`<countoff-third-octaves
      label="Level of ${where} in third-octave bands, in dB relative to full scale"
      .bars=${figures.bands.map(({ nominalHz, levelDb }) => ({ nominalHz, value: levelDb }))}
      .range=${[top - scaleDb, top]}
      .base=${top - scaleDb}
      .words=${decibels}
    ></countoff-third-octaves>
    <dl class="trade-bands">
      ${figures.tradeBands.map(
        ({ name, lowerEdgeHz, upperEdgeHz, levelDb }) =>
          html`<div>
            <dt>${name}<small>${edgeWords(lowerEdgeHz)} to ${edgeWords(upperEdgeHz)}</small></dt>
            <dd>${decibels(levelDb)}</dd>
          </div>`,
      )}
    </dl>
    <details>
      <summary>All 31 bands as a table</summary>
      <div class="bands-table">
        <table>
          <caption class="unseen">Third-octave bands of ${where}</caption>
          <thead>
            <tr>
              <th scope="col">Band</th>
              <th scope="col" class="num">Level</th>
              <th scope="col" class="num">Correlation</th>
            </tr>
          </thead>
          <tbody>
            ${figures.bands.map(
              (band) =>
                html`<tr>
                  <th scope="row">${hertzWords(band.nominalHz)}</th>
                  <td class="num">
                    ${decibels(band.levelDb)}
                    ${
                      band.levelDb === null
                        ? html`<small>${emptyReason(band, sampleRateHz)}</small>`
                        : band.cutAtHalfRate
                          ? html`<small>reads low: half the sample rate cuts into it</small>`
                          : nothing
                    }
                  </td>
                  <td class="num">${figure(band.correlation, '', 2)}</td>
                </tr>`,
            )}
          </tbody>
        </table>
      </div>
    </details>`;
}

/** A band's edge as one says it: to two figures that matter. */
function edgeWords(hz: number): string {
  return hertzWords(Number(hz.toPrecision(2)));
}

/** The correlation of left and right in each band. */
export function correlationView(figures: Figures | SectionFigures, where: string): TemplateResult {
  return html`<countoff-third-octaves
    label="Correlation of left and right of ${where} by band: +1 is the same in both, below 0 they cancel"
    .bars=${figures.bands.map(({ nominalHz, correlation }) => ({ nominalHz, value: correlation }))}
    .range=${[-1, 1]}
    .base=${0}
    .heightPixels=${180}
    .words=${(value: number | null) => figure(value, '', 2)}
  ></countoff-third-octaves>`;
}
