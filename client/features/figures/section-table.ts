import { html, nothing, type TemplateResult } from 'lit';
import type { Measurement } from '../../api/types.ts';
import { timeCode } from '../../elements/time-code.ts';
import { figureName, figureValue, type NumberName, unitOf } from './figure-value.ts';
import { problemWords } from './undefined-reason.ts';

/** A column: a figure under a short name. */
export type SectionColumn = [name: NumberName, words: string];

/** The same figures of the whole song and of every section; a section without figures says why. */
export function sectionTable(
  caption: string,
  columns: readonly SectionColumn[],
  measurement: Measurement,
  listenAddress: (seconds: number) => string,
): TemplateResult {
  const { channelCount } = measurement;
  return html`<div class="wide-table" tabindex="0" role="region" aria-label=${caption}>
    <table class="by-section">
      <caption class="unseen">${caption}</caption>
      <thead>
        <tr>
          <th scope="col">Section</th>
          ${columns.map(
            ([name, words]) =>
              html`<th scope="col" class="num">${figureName(name, words)} <small>${unitOf(name)}</small></th>`,
          )}
        </tr>
      </thead>
      <tbody>
        <tr class="whole">
          <th scope="row">Whole song</th>
          ${columns.map(
            ([name]) =>
              html`<td class="num">${figureValue(name, measurement, channelCount, { unit: false })}</td>`,
          )}
        </tr>
        ${measurement.sections.map(
          (section) =>
            html`<tr>
              <th scope="row">
                ${section.name}
                <small><a href=${listenAddress(section.start)}>${timeCode(section.start)}–${timeCode(section.end)}</a></small>
              </th>
              ${
                section.problem
                  ? html`<td colspan=${columns.length}>– <small>${problemWords[section.problem]}</small></td>`
                  : section.silent
                    ? html`<td colspan=${columns.length}>– <small>silence</small></td>`
                    : columns.map(
                        ([name]) =>
                          html`<td class="num">${figureValue(name, section, channelCount, { unit: false })}</td>`,
                      )
              }
            </tr>`,
        )}
        ${
          measurement.sections.length
            ? nothing
            : html`<tr><td colspan=${columns.length + 1}>The song has no sections yet, so there are no figures of parts.</td></tr>`
        }
      </tbody>
    </table>
  </div>`;
}
