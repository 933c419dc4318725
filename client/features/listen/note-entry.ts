import { html, nothing, type TemplateResult } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { Level, NoteView, Range, RequestView } from '../../api/types.ts';
import { listWords } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { levelMark, levelMeaning, levelShape, levelWord } from '../../elements/level-mark.ts';
import { LightElement } from '../../elements/light-element.ts';
import { rangeCode } from '../../elements/time-code.ts';
import { placeOfNote } from './sheet-line.ts';

const levels: readonly Level[] = ['mix', 'production', 'mastering', 'none'];
/** The level whose shape stands for a whole note: the one with the widest consequences first. */
const weight: Record<Level, number> = { production: 3, mix: 2, mastering: 1, none: 0 };

export function noteLevel(note: Pick<NoteView, 'requests'>): Level {
  return note.requests.reduce<Level>(
    (found, request) => (weight[request.level] > weight[found] ? request.level : found),
    'none',
  );
}

const lockBreakWords: Record<NonNullable<RequestView['lockBreakStatus']>, string> = {
  flagged: 'Breaks the production lock; it is with the producer. Counts in no round.',
  withdrawn: 'Re-sorted, so the lock holds.',
  declined: 'The producer declined it; the lock holds.',
  priced: 'The producer priced it; it waits for the payer. The lock holds.',
  refused: 'The payer said no to its price; the lock holds.',
  accepted: 'Accepted as a change order: the lock is open for it.',
  delivered: 'Delivered with the new production, which is locked again.',
};

/**
 * One note in the margin. Reports `play-spot` (seconds), `withdraw-note`, `reply-note` (text), `choose-level`
 * (requestId, level); each carries `noteId`.
 */
@customElement('countoff-note')
export class NoteEntry extends LightElement {
  @property({ attribute: false }) note: NoteView | null = null;
  /** The author with their part on the record: `Ines, artist`. */
  @property({ attribute: false }) author = '';
  /** The version in which its round was answered, if it was. */
  @property({ attribute: false }) answeredBy: string | null = null;
  /** Where the note's moment stands in the version that is heard. */
  @property({ attribute: false }) placedSeconds: number | null = null;
  /** The same of its stretch, where it stands on another version; `null` where nothing of it is left. */
  @property({ attribute: false }) placedRange: Range | null = null;
  /** What is said of its place: that it was cut, or that it is another version’s. */
  @property({ attribute: false }) placeMark = '';
  @property({ type: Boolean, reflect: true }) current = false;
  @state() private replying = false;
  @state() private reply = '';

  /** Empties the reply once it is on the record. */
  replied() {
    this.replying = false;
    this.reply = '';
  }

  private report(name: string, detail: object = {}) {
    this.dispatchEvent(
      new CustomEvent(name, { bubbles: true, detail: { noteId: this.note?.id, ...detail } }),
    );
  }

  private answer(request: RequestView): TemplateResult | typeof nothing {
    const { answer } = request;
    if (!answer) return nothing;
    const in_ = this.answeredBy ? ` in ${this.answeredBy}` : '';
    const said = { done: `Done${in_}`, 'not done': 'Not done', question: 'Question' }[answer.kind];
    return html`<div class="answer">
      <b class=${answer.kind === 'done' ? 'done' : nothing}>${said}${answer.text ? ':' : '.'}</b> ${answer.text}
    </div>`;
  }

  private together(request: RequestView): TemplateResult | typeof nothing {
    const others = request.standsWith
      ? [request.standsWith.name]
      : [...new Set(request.merged.map((each) => each.author.name))];
    return others.length
      ? html`<div class="answer">One request with ${listWords(others)}: it counts once and is answered for all.</div>`
      : nothing;
  }

  private standing(request: RequestView): TemplateResult | typeof nothing {
    if (request.lockBreakStatus)
      return html`<div class=${request.lockBreakStatus === 'flagged' ? 'flag' : 'answer'}>
        ${lockBreakWords[request.lockBreakStatus]}
      </div>`;
    if (request.parked) return html`<div class="answer">Parked for the master gate.</div>`;
    if (request.leftOut)
      return html`<div class="answer">Left out of the round: ${request.leftOut.reason}</div>`;
    if (request.ownMistake)
      return html`<div class="answer">Puts right the engineer’s own slip; it counts in no round.</div>`;
    return nothing;
  }

  private why(request: RequestView) {
    return html`<details class="why">
      <summary>${request.decisionNames.length > 1 ? 'why, and what was decided' : 'why'}</summary>
      <div>
        <p>${request.why}</p>
        <ul>
          ${request.decisionNames.map((name) => html`<li>${name}</li>`)}
        </ul>
        ${
          this.note?.mine && !this.note.sent
            ? html`<div class="acts" role="group" aria-label="Change the level">
                ${levels.map(
                  (level) =>
                    html`<button
                      type="button"
                      aria-pressed=${level === request.level}
                      title=${levelMeaning[level]}
                      @click=${() => this.report('choose-level', { requestId: request.id, level })}
                    >
                      ${levelShape(level)}${levelWord[level]}
                    </button>`,
                )}
              </div>`
            : nothing
        }
      </div>
    </details>`;
  }

  private requests(requests: readonly RequestView[]) {
    const [first, ...others] = requests;
    if (!first) return nothing;
    if (!others.length) return html`${this.together(first)}${this.standing(first)}${this.answer(first)}`;
    return html`<ul class="requests">
      ${requests.map(
        (request) => html`<li>
          ${levelMark(request.level)} <q>${request.text}</q> ${this.why(request)}
          ${this.together(request)}${this.standing(request)}${this.answer(request)}
        </li>`,
      )}
    </ul>`;
  }

  private submit(event: Event) {
    event.preventDefault();
    if (this.reply.trim()) this.report('reply-note', { text: this.reply.trim() });
  }

  override render() {
    const { note } = this;
    if (!note) return nothing;
    const seconds = this.placedSeconds;
    const range = this.placedRange ?? placeOfNote(note);
    const alone = note.requests.length === 1 ? note.requests[0]! : null;
    return html`<article class="note" aria-label=${`Note by ${note.by.name}`}>
      ${levelShape(noteLevel(note))}
      <div>
        <p class="words">
          ${
            range && seconds !== null
              ? html`<button
                  type="button"
                  class="spot"
                  aria-label=${`Play from ${rangeCode(range)}`}
                  @click=${() => this.report('play-spot', { seconds, range })}
                >
                  ${rangeCode(range)}
                </button>`
              : html`<span class="spot-less">whole song</span>`
          }${note.text}
        </p>
        <p class="by">
          ${alone ? html`<span class="level ${alone.level}">${levelWord[alone.level]}</span> · ` : nothing}${this.author} ·
          ${note.versionName}, ${dayWords(note.at)}${note.heardOn ? ` · heard on ${note.heardOn}` : ''}${
            note.afterApproval ? html` · <b>after approval</b>` : nothing
          }${this.placeMark ? html` · <b>${this.placeMark}</b>` : nothing}
        </p>
        ${this.requests(note.requests)}
        ${note.replies.map((reply) => html`<p class="reply"><b>${reply.by.name}:</b> ${reply.text}</p>`)}
        ${
          this.replying
            ? html`<form class="reply-form" @submit=${this.submit}>
                <textarea
                  rows="2"
                  aria-label=${`Reply to ${note.by.name}`}
                  .value=${this.reply}
                  @input=${(event: Event) => {
                    this.reply = (event.target as HTMLTextAreaElement).value;
                  }}
                ></textarea>
                <div class="acts">
                  <button ?disabled=${!this.reply.trim()}>Send reply</button>
                  <button type="button" class="quiet" @click=${this.replied}>Cancel</button>
                </div>
              </form>`
            : html`<div class="acts small">
                ${alone ? this.why(alone) : nothing}
                <button type="button" class="quiet" @click=${this.startReply}>Reply</button>
                ${
                  note.mine && !note.sent
                    ? html`<button type="button" class="quiet" @click=${() => this.report('withdraw-note')}>
                        Withdraw
                      </button>`
                    : nothing
                }
              </div>`
        }
      </div>
    </article>`;
  }

  private async startReply() {
    this.replying = true;
    await this.updateComplete;
    this.querySelector('textarea')?.focus();
  }
}
