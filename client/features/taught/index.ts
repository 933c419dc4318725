import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../../api/call.ts';
import { exampleCalls } from '../../api/example-calls.ts';
import type { ExampleView } from '../../api/types.ts';
import { announceRefusal, attempt } from '../../elements/announcer.ts';
import { asSentence, countWords } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { levelMark } from '../../elements/level-mark.ts';
import { kindWord } from '../../elements/request-words.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import './taught.css';

export const tag = 'countoff-taught';

const keyOf = (example: ExampleView) => `${example.record.id} ${example.requestId}`;

/** What re-sortings have taught the sorting of notes: of one record, or for the owner of all records of this server. */
@customElement(tag)
export class TaughtPage extends FeatureElement {
  @state() private examples: ExampleView[] | null = null;
  @state() private fault: string | null = null;
  /** Taken out from this page, so that they can be put back. */
  @state() private removed: ReadonlySet<string> = new Set();
  @state() private busy = false;
  private readFor: string | null = null;

  private get calls() {
    return exampleCalls(this.recordId || null);
  }

  protected override willUpdate() {
    if (this.readFor === this.recordId) return;
    this.readFor = this.recordId;
    void this.readExamples();
  }

  private async readExamples() {
    try {
      this.examples = await this.calls.all();
    } catch (error) {
      if (error instanceof Refusal) this.fault = error.message;
      else announceRefusal(error);
    }
  }

  private async turn(example: ExampleView) {
    const key = keyOf(example);
    const out = this.removed.has(key);
    this.busy = true;
    const done = await attempt(
      () => (out ? this.calls.restore(example) : this.calls.remove(example)),
      out ? 'Put back: it holds again.' : 'Taken out of the sorting. It can be put back for an hour.',
    );
    this.busy = false;
    if (!done) return;
    const removed = new Set(this.removed);
    if (out) removed.delete(key);
    else removed.add(key);
    this.removed = removed;
  }

  private example(example: ExampleView) {
    const out = this.removed.has(keyOf(example));
    const listen = songAddress(example.record.id, example.song.id);
    return html`<li class=${out ? 'out' : nothing}>
      <div class="words">
        <p><q>${example.text}</q></p>
        <p class="from">
          <a href=${listen}>${this.recordId ? example.song.title : `${example.record.title} · ${example.song.title}`}</a>
        </p>
      </div>
      <div class="sorted">
        ${levelMark(example.level)} <span>${kindWord[example.kind]}</span>
        <small>${
          example.byScopeSheet
            ? 'as the scope sheet has it; under another contract, that one’s holds'
            : 'against the scope sheet, under every contract'
        }</small>
      </div>
      <div class="why">
        <p>${example.reason}</p>
        <small>${example.by.name}, ${dayWords(example.at)}</small>
      </div>
      <button
        type="button"
        class="quiet"
        ?disabled=${this.busy}
        aria-label="${out ? 'Put back' : 'Take out'}: ${example.text}"
        @click=${() => this.turn(example)}
      >
        ${out ? 'Put it back' : 'Take it out'}
      </button>
    </li>`;
  }

  override render() {
    const { examples, fault } = this;
    const heading = 'What this studio has taught the sorting';
    if (fault) return html`<div class="page narrow"><h1>${heading}</h1><p class="lede">${fault}</p></div>`;
    if (!examples) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const held = examples.filter((example) => !this.removed.has(keyOf(example))).length;
    return html`<div class="page taught">
      <h1>${heading}</h1>
      <p class="lede">
        ${
          held
            ? html`<b>${asSentence(countWords(held, 'example'))}</b>${this.recordId ? ' from this record' : ''}. A new note with nearly
                the same words is sorted likewise; nothing that was decided before changes.`
            : 'Nothing yet. When a request is re-sorted with a reason, the next note with nearly the same words is sorted likewise.'
        }
      </p>
      ${
        examples.length
          ? html`<div class="tools">
                <p>
                  They stay on this server alone, in its database, and so in every backup of the data folder. People of
                  another record are never shown these words.
                </p>
                <a class="button" href=${this.calls.file} download>Download as JSON lines</a>
              </div>
              <ol class="sheet examples">
                ${examples.map((example) => this.example(example))}
              </ol>`
          : nothing
      }
      ${
        this.recordId && this.record?.reader.owner
          ? html`<p><a href="/taught">From all records</a></p>`
          : nothing
      }
    </div>`;
  }
}
