import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { FeatureElement } from '../../elements/feature-element.ts';
import { figureEntries } from './figure-entries.ts';
import type { GlossaryEntry } from './glossary-entry.ts';
import { tradeEntries } from './trade-entries.ts';
import './glossary.css';

export const tag = 'countoff-glossary';

/** Every figure and every word of the trade in two sentences each; an address with an anchor opens at its entry. */
@customElement(tag)
export class GlossaryPage extends FeatureElement {
  @state() private anchor = '';

  override connectedCallback() {
    super.connectedCallback();
    window.addEventListener('hashchange', this.arrive);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    window.removeEventListener('hashchange', this.arrive);
  }

  protected override firstUpdated() {
    // After the shell has put the page in its place and the focus on it.
    requestAnimationFrame(this.arrive);
  }

  private arrive = () => {
    this.anchor = decodeURIComponent(location.hash.slice(1));
    if (this.anchor) this.querySelector(`#${CSS.escape(this.anchor)}`)?.scrollIntoView({ block: 'center' });
  };

  private entry = ([anchor, { name, sentences, unit, standard }]: [string, GlossaryEntry]) =>
    html`<div id=${anchor} ?data-asked=${anchor === this.anchor}>
      <dt>${name}${unit ? html` <small>${unit}</small>` : nothing}</dt>
      <dd>${sentences.join(' ')}${standard ? html` <small>${standard}</small>` : nothing}</dd>
    </div>`;

  override render() {
    return html`<div class="page narrow glossary">
      <h1>Glossary</h1>
      <p class="lede">What is measured, and what the words of the trade mean here: two sentences each.</p>
      <p class="jumps"><a href="#figures">Figures</a> <a href="#words">Words of the trade</a></p>
      <section aria-labelledby="figures">
        <h2 id="figures">Figures</h2>
        <dl class="entries">${Object.entries(figureEntries).map(this.entry)}</dl>
      </section>
      <section aria-labelledby="words">
        <h2 id="words">Words of the trade</h2>
        <dl class="entries">${Object.entries(tradeEntries).map(this.entry)}</dl>
      </section>
      <p class="caution">
        A figure says how a file is, not how good it is. Loudness of the whole mix says nothing about the balance of a
        voice, and a meter hears neither taste nor intent.
      </p>
    </div>`;
  }
}
