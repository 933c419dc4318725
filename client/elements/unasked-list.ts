import { html, nothing, type PropertyValues } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { Range, UnaskedView } from '../api/types.ts';
import './asked-list.css';
import { LightElement } from './light-element.ts';

/** What somebody wrote about one change. */
export interface ExplainedChange {
  place: Range | null;
  text: string;
}

const keyOf = ({ place }: Pick<UnaskedView, 'place'>) =>
  place ? `${place.startSeconds.toFixed(2)} ${place.endSeconds?.toFixed(2)}` : 'whole song';

/**
 * Changes that nobody asked for, the biggest first, each with its explanation or a field for one. Reports
 * `explain-change` when one is given; where they are kept until later, `draft-explanations` with all that are written.
 */
@customElement('countoff-unasked-list')
export class UnaskedList extends LightElement {
  @property({ attribute: false }) changes: readonly UnaskedView[] = [];
  @property({ attribute: false }) mayExplain = false;
  /** Whether a list was answered, so that a change without a word is “not explained yet”. */
  @property({ attribute: false }) answersList = true;
  /** Kept by the page until the version is posted. */
  @property({ attribute: false }) later = false;
  @property({ attribute: false }) listenAddress: ((change: UnaskedView) => string) | null = null;
  @state() private written = new Map<string, string>();
  /** The explained changes that are being explained anew. */
  @state() private changing = new Set<string>();

  protected override willUpdate(changed: PropertyValues<this>) {
    if (!changed.has('changes')) return;
    const known = changed.get('changes') ?? [];
    // What is on the record now leaves its field; what is being typed elsewhere stays.
    for (const change of this.changes) {
      const before = known.find((each) => keyOf(each) === keyOf(change));
      if (before && change.explanation && before.explanation?.at !== change.explanation.at) {
        this.written.delete(keyOf(change));
        this.changing.delete(keyOf(change));
      }
    }
  }

  private write(change: UnaskedView, text: string) {
    this.written = new Map(this.written).set(keyOf(change), text);
    if (!this.later) return;
    const detail = this.changes
      .map(
        (each): ExplainedChange => ({ place: each.place, text: this.written.get(keyOf(each))?.trim() ?? '' }),
      )
      .filter((each) => each.text);
    this.dispatchEvent(new CustomEvent<ExplainedChange[]>('draft-explanations', { bubbles: true, detail }));
  }

  private explain(event: Event, change: UnaskedView) {
    event.preventDefault();
    const text = this.written.get(keyOf(change))?.trim() ?? '';
    if (!text || this.later) return;
    const detail: ExplainedChange = { place: change.place, text };
    this.dispatchEvent(new CustomEvent<ExplainedChange>('explain-change', { bubbles: true, detail }));
  }

  private field(change: UnaskedView) {
    const key = keyOf(change);
    const text = this.written.get(key) ?? change.explanation?.text ?? '';
    const label = html`<label class="field"
      >Why, or that it goes back: ${change.where}<textarea
        rows="2"
        .value=${text}
        @input=${(event: Event) => this.write(change, (event.target as HTMLTextAreaElement).value)}
      ></textarea>
    </label>`;
    if (this.later) return html`<div class="explanation unprinted">${label}</div>`;
    return html`<form class="unprinted" @submit=${(event: Event) => this.explain(event, change)}>
      ${label}<button ?disabled=${!text.trim() || text.trim() === change.explanation?.text}>Explain</button>
    </form>`;
  }

  private explanation(change: UnaskedView) {
    const { explanation } = change;
    if (!explanation) {
      const open = this.answersList ? html`<p class="explanation open">Not explained yet.</p>` : nothing;
      return html`${this.later ? nothing : open}${this.mayExplain ? this.field(change) : nothing}`;
    }
    const key = keyOf(change);
    return html`<p class="explanation"><b>${explanation.by.name}:</b> ${explanation.text}
        ${
          this.mayExplain && !this.changing.has(key)
            ? html`<button type="button" class="quiet unprinted" aria-label="Explain ${change.where} anew" @click=${() => {
                this.changing = new Set(this.changing).add(key);
              }}>Change</button>`
            : nothing
        }</p>
      ${this.changing.has(key) ? this.field(change) : nothing}`;
  }

  override render() {
    return html`<ul class="rows unasked">
      ${this.changes.map(
        (change) => html`<li>
          <p class="where">${change.where}</p>
          <div>
            <p>${change.plain}</p>
            <p class="figure">${change.figures}</p>
          </div>
          ${
            this.listenAddress
              ? html`<a class="button spot" href=${this.listenAddress(change)} aria-label="Play this spot: ${change.where}">Play this spot</a>`
              : html`<span></span>`
          }
          ${this.explanation(change)}
        </li>`,
      )}
    </ul>`;
  }
}
