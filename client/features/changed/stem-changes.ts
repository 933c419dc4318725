import { html, nothing } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import { songCalls } from '../../api/song-calls.ts';
import type { StemChange, StemComparison, VersionView } from '../../api/types.ts';
import { difference, figure } from '../../elements/figures-table.ts';
import { LightElement } from '../../elements/light-element.ts';
import { timeCode } from '../../elements/time-code.ts';
import { WorkedOut } from '../../elements/worked-out.ts';
import { songAddress } from '../../route.ts';
import '../stems/stem-sum.ts';
import './stem-changes.css';
import { changeInCell, doubtWords, isMoved, stemSentences } from './stem-words.ts';

const bases: Record<StemComparison['basis'], 'a' | 'b' | 'both'> = {
  'stems of A': 'a',
  'stems of B': 'b',
  'stems of both': 'both',
};

/** What each stem's fader did from one version to another: sentences first, then stems by sections, then the sums. */
@customElement('countoff-stem-changes')
export class StemChanges extends LightElement {
  @property({ attribute: false }) recordId = '';
  @property({ attribute: false }) songId = '';
  @property({ attribute: false }) older: VersionView | null = null;
  @property({ attribute: false }) newer: VersionView | null = null;
  /** Named anew when the sections are, since each is told by itself. */
  @property({ attribute: false }) revision = 0;
  @property({ attribute: false }) mayAttach = false;
  private readonly told = new WorkedOut<StemComparison>(this, 'What the stems tell could not be read.');

  protected override willUpdate() {
    const { older, newer } = this;
    const stems = [older?.stems?.at, newer?.stems?.at];
    const wanted = this.isConnected && stems.some(Boolean);
    const key = wanted ? [older?.id, newer?.id, ...stems, this.revision].join(' ') : '';
    this.told.follow(key, (signal, onProgress) =>
      songCalls(this.recordId, this.songId).stemComparison(older!.id, newer!.id, signal, onProgress),
    );
  }

  private again = () =>
    this.told.again(() =>
      songCalls(this.recordId, this.songId).compareStemsAgain(this.older!.id, this.newer!.id),
    );

  private basisWords({ basis, overallGainDb }: StemComparison): string {
    const whose = {
      a: `the stems of ${this.older?.name}`,
      b: `the stems of ${this.newer?.name}`,
      both: 'the stems of both',
    }[bases[basis]];
    const whole =
      Math.abs(overallGainDb) < 0.05
        ? ''
        : `; beside the whole mix, which is at ${difference(overallGainDb, 'dB')}`;
    return `told by ${whose}${whole}`;
  }

  private cell(change: StemChange) {
    const error = change.standardErrorDb;
    const measured = isMoved(change) && error !== null && error >= 0.05;
    return html`<td class=${isMoved(change) ? 'moved' : 'still'}>
      ${changeInCell(change)}${measured ? html` <small>±${error.toFixed(1)}</small>` : nothing}
    </td>`;
  }

  private table({ sections }: StemComparison) {
    const stems = sections[0]?.stems ?? [];
    return html`<div class="stem-table" tabindex="0" role="region" aria-label="Stems by sections">
      <table>
        <caption class="unseen">What each stem’s gain changed by, section by section</caption>
        <thead>
          <tr>
            <th scope="col">Stem</th>
            ${sections.map(({ name, start }) => html`<th scope="col">${name}<small>${timeCode(start)}</small></th>`)}
          </tr>
        </thead>
        <tbody>
          ${stems.map(
            ({ stem }, index) => html`<tr>
              <th scope="row">${stem}</th>
              ${sections.map((section) => this.cell(section.stems[index]!))}
            </tr>`,
          )}
        </tbody>
        ${this.unexplained(sections)}
      </table>
    </div>`;
  }

  /** What the stems leave of the prints; held against their namesakes, they leave no such figure. */
  private unexplained(sections: StemComparison['sections']) {
    const left = sections.map(({ unexplainedDb: { a, b } }) =>
      a === null && b === null ? null : Math.max(a ?? -150, b ?? -150),
    );
    if (left.every((value) => value === null)) return nothing;
    return html`<tfoot>
      <tr>
        <th scope="row">Unexplained</th>
        ${left.map((value) => html`<td class="still">${figure(value, 'dB', 0)}</td>`)}
      </tr>
    </tfoot>`;
  }

  private result(told: StemComparison) {
    const sentences = stemSentences(told.sections, told.overallGainDb);
    const doubts = told.sections.map(doubtWords).filter((words) => words !== null);
    return html`${
      sentences.length
        ? html`<ul class="stem-sentences">${sentences.map((words) => html`<li>${words}</li>`)}</ul>`
        : html`<p class="said strong">No stem’s gain changed measurably in any section.</p>`
    }
      ${this.table(told)} ${doubts.map((words) => html`<p class="said">${words}</p>`)}
      ${told.notes.map((note) => html`<p class="said">${this.named(note)}</p>`)}
      <p class="said">Gains in dB, newer less older, as if each stem’s own fader had moved.${told.basis === 'stems of both' ? '' : ' “Unexplained” is what the stems leave of the prints: over −40 dB, small moves can’t be told.'}</p>`;
  }

  /** The measurement calls the two A and B. */
  private named(note: string): string {
    return note
      .replace(/\bOnly A\b/u, `Only ${this.older?.name}`)
      .replace(/\bOnly B\b/u, `Only ${this.newer?.name}`);
  }

  override render() {
    const { older, newer } = this;
    const { value: told, fault, progress } = this.told;
    if (!older || !newer) return nothing;
    const address = (version: VersionView) =>
      songAddress(this.recordId, this.songId, 'stems', { v: version.id });
    if (!older.stems && !newer.stems)
      return this.mayAttach
        ? html`<p class="said stems-missing unprinted">
            With the stems of ${newer.name} or ${older.name} this page says which part moved and by how much:
            <a href=${address(newer)}>attach stems</a>.
          </p>`
        : nothing;
    return html`<section class="list stem-by-stem">
      <h2>Stem by stem <small>${told ? this.basisWords(told) : ''}</small></h2>
      ${
        fault
          ? html`<p class="said" role="alert">${fault}</p>
              ${this.mayAttach ? html`<p class="said"><button type="button" @click=${this.again}>Compare stem by stem again</button></p>` : nothing}`
          : told
            ? this.result(told)
            : html`<p class="said" role="status">Telling the stems apart … ${Math.round(progress * 100)} %</p>`
      }
      ${[newer, older].filter(({ stems }) => stems !== null).map((version) => html`<countoff-stem-sum .recordId=${this.recordId} .songId=${this.songId} .version=${version} .mayAskAgain=${this.mayAttach}></countoff-stem-sum>`)}
      ${
        this.mayAttach
          ? html`<p class="said addresses unprinted">${[newer, older].map((version) => html`<a href=${address(version)}>Stems of ${version.name}</a>`)}</p>`
          : nothing
      }
    </section>`;
  }
}
