import { html, nothing } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import { songCalls } from '../../api/song-calls.ts';
import type { StemCheck, StemSum, VersionView } from '../../api/types.ts';
import { difference, figure } from '../../elements/figures-table.ts';
import { LightElement } from '../../elements/light-element.ts';
import { WorkedOut } from '../../elements/worked-out.ts';
import { stemSumWords } from './stem-sum-words.ts';

/** Says whether the stems of a version sum to it, and its instrumental and a cappella where it has both. */
@customElement('countoff-stem-sum')
export class StemSumElement extends LightElement {
  @property({ attribute: false }) recordId = '';
  @property({ attribute: false }) songId = '';
  @property({ attribute: false }) version: VersionView | null = null;
  @property({ type: Boolean }) mayAskAgain = false;
  private readonly check = new WorkedOut<StemCheck>(this, 'What the stems sum to could not be read.');

  protected override willUpdate() {
    const { version } = this;
    const key = version?.stems && this.isConnected ? `${version.id} ${version.stems.at}` : '';
    this.check.follow(key, (signal, onProgress) =>
      songCalls(this.recordId, this.songId).stemSum(version!.id, signal, onProgress),
    );
  }

  private again = () =>
    this.check.again(() => songCalls(this.recordId, this.songId).sumStemsAgain(this.version!.id));

  private sum(sum: StemSum, version: VersionView) {
    const own = sum.stemGains.filter(({ gainDb }) => gainDb !== null && Math.abs(gainDb) >= 0.05);
    const bands = sum.bands.filter(({ residualDb }) => residualDb !== null);
    return html`<p class="said">${stemSumWords(sum, version.name)}</p>
      ${
        sum.reading === 'stem gains differ' && own.length
          ? html`<p class="said">${own.map(({ stem, gainDb }) => `${stem} ${difference(gainDb, 'dB')}`).join(', ')}.</p>`
          : nothing
      }
      <details>
        <summary>What is left, band by band</summary>
        <dl class="pairs inside">
          ${bands.map(({ name, residualDb }) => html`<div><dt>${name}</dt><dd>${figure(residualDb, 'dB', 0)}</dd></div>`)}
        </dl>
      </details>`;
  }

  override render() {
    const { version } = this;
    const { value: check, fault, progress } = this.check;
    if (!version?.stems) return nothing;
    if (fault)
      return html`<p class="said" role="alert">${version.name}: ${fault}</p>
        ${this.mayAskAgain ? html`<p class="said"><button type="button" @click=${this.again}>Sum them again</button></p>` : nothing}`;
    if (!check)
      return html`<p class="said" role="status">Summing the stems of ${version.name} … ${Math.round(progress * 100)} %</p>`;
    return html`${this.sum(check.stems, version)} ${check.alternates ? this.sum(check.alternates, version) : nothing}
      ${check.notes.map((note) => html`<p class="said">${note}</p>`)}`;
  }
}
