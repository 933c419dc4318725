import { html, nothing, type PropertyValues } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { Sorting } from '../../api/song-calls.ts';
import type { Level, Part, Section } from '../../api/types.ts';
import { levelMeaning, levelShape, levelWord } from '../../elements/level-mark.ts';
import { LightElement } from '../../elements/light-element.ts';
import { parseTimeCode, timeCode } from '../../elements/time-code.ts';
import type { NotePlace } from './listen-view.ts';
import { lacksPlace } from './missing-place.ts';

const levels: readonly Level[] = ['mix', 'production', 'mastering', 'none'];

/** Whether a part is in the recording; `delivered` is `null` where the author can't tell. */
export interface PartAnswer {
  part: string;
  delivered: boolean | null;
  question: string;
}

/**
 * Pressing a button leaves the focus in the text: the foot keeps its height, so that the button is still under the
 * finger when it is let go, and a phone's keyboard stays up.
 */
function keepFocus(event: MouseEvent): void {
  if ((event.target as Element).closest('button')) event.preventDefault();
}

/**
 * Where a note is written. Reports `draft` (text), `pin-note`, `choose-level` (index, level),
 * `answer-part` (a `PartAnswer`), and for the place
 * `start-here`, `end-here`, `type-range` (range), `whole-song`, `loop-range`, `clear-place`.
 */
@customElement('countoff-composer')
export class Composer extends LightElement {
  @property({ attribute: false }) place: NotePlace = { kind: 'playhead' };
  /** In tenths, for the label while no place was chosen. */
  @property({ attribute: false }) playheadSeconds = 0;
  @property({ attribute: false }) durationSeconds = 0;
  @property({ attribute: false }) versionName = '';
  @property({ attribute: false }) sorting: Sorting | null = null;
  @property({ attribute: false }) question: Sorting['question'] = null;
  @property({ attribute: false }) parts: readonly Part[] = [];
  @property({ attribute: false }) sections: readonly Section[] = [];
  @property({ attribute: false }) chosen: (Level | null)[] = [];
  @property({ type: Boolean }) busy = false;
  /** The marked range plays round and round. */
  @property({ type: Boolean }) loop = false;
  @property({ attribute: false }) text = '';
  @state() private active = false;
  /** The author said that the whole song is meant, which it is by itself while no place is chosen. */
  @state() private songMeant = false;
  @state() private wrongTime: 'start' | 'end' | null = null;

  override focus() {
    this.querySelector('textarea')?.focus();
  }

  private report(name: string, detail: object = {}) {
    this.dispatchEvent(new CustomEvent(name, { bubbles: true, detail }));
  }

  protected override updated(changed: PropertyValues<this>) {
    if (changed.has('place')) this.wrongTime = null;
    if (!this.text) this.songMeant = false;
    const field = this.querySelector('textarea');
    if (!field || !changed.has('text')) return;
    field.style.height = 'auto';
    field.style.height = `${Math.min(field.scrollHeight + 2, 160)}px`;
  }

  private typed(event: Event) {
    this.text = (event.target as HTMLTextAreaElement).value;
    this.report('draft', { text: this.text });
  }

  private keys(event: KeyboardEvent) {
    if (event.key === 'Enter' && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      this.pin();
    }
    if (event.key === 'Escape') (event.target as HTMLElement).blur();
  }

  private submit(event: Event) {
    event.preventDefault();
    this.pin();
  }

  private pin() {
    if (this.text.trim() && !this.busy) this.report('pin-note');
  }

  private typeTime(which: 'start' | 'end', event: Event) {
    const { value } = event.target as HTMLInputElement;
    const seconds = parseTimeCode(value);
    const range =
      this.place.kind === 'range'
        ? this.place.range
        : { startSeconds: this.playheadSeconds, endSeconds: null };
    if (which === 'end' && !value.trim()) {
      this.report('type-range', { range: { ...range, endSeconds: null } });
      return;
    }
    if (seconds === null || (this.durationSeconds && seconds > this.durationSeconds)) {
      this.wrongTime = which;
      return;
    }
    this.wrongTime = null;
    this.report('type-range', {
      range:
        which === 'start'
          ? {
              startSeconds: seconds,
              endSeconds: range.endSeconds !== null && range.endSeconds > seconds ? range.endSeconds : null,
            }
          : { startSeconds: range.startSeconds, endSeconds: seconds },
    });
  }

  private focusMoved(event: FocusEvent) {
    this.active = event.type === 'focusin' || this.contains(event.relatedTarget as Node | null);
  }

  private get isWholeSong(): boolean {
    return this.place.kind === 'song' || (this.place.kind === 'playhead' && this.playheadSeconds === 0);
  }

  private get placeWords(): string {
    if (this.isWholeSong) return 'about the whole song';
    const range =
      this.place.kind === 'range'
        ? this.place.range
        : { startSeconds: this.playheadSeconds, endSeconds: null };
    const start = timeCode(range.startSeconds, { tenths: true });
    return range.endSeconds === null
      ? `at ${start}`
      : `from ${start} to ${timeCode(range.endSeconds, { tenths: true })}`;
  }

  private times() {
    const range = this.place.kind === 'range' ? this.place.range : null;
    const start = range?.startSeconds ?? this.playheadSeconds;
    const end = range?.endSeconds ?? null;
    const song = this.isWholeSong;
    const time = (which: 'start' | 'end', value: string, label: string) => html`<label
        >${label}
        <input
          class="time"
          inputmode="decimal"
          autocomplete="off"
          .value=${value}
          placeholder="m:ss"
          aria-invalid=${this.wrongTime === which}
          aria-describedby="time-fault"
          @change=${(event: Event) => this.typeTime(which, event)}
        /></label>`;
    return html`<div class="place">
      ${time('start', song ? '' : timeCode(start, { tenths: true }), 'From')}
      ${time('end', song || end === null ? '' : timeCode(end, { tenths: true }), 'to')}
      <button type="button" @click=${() => this.report('start-here')}>From here <kbd>i</kbd></button>
      <button type="button" @click=${() => this.report('end-here')}>To here <kbd>o</kbd></button>
      <button type="button" aria-pressed=${song} @click=${() => this.report(this.place.kind === 'song' ? 'clear-place' : 'whole-song')}>
        Whole song
      </button>
      ${
        this.place.kind === 'range'
          ? html`${
              range?.endSeconds != null
                ? html`<button type="button" aria-pressed=${this.loop} @click=${() => this.report('loop-range')}>
                      Round and round <kbd>l</kbd>
                    </button>`
                : nothing
            }<button type="button" class="quiet" @click=${() => this.report('clear-place')}>Clear</button>`
          : nothing
      }
      <span id="time-fault" class="fault" role="status"
        >${this.wrongTime ? `Type a time inside the song, as ${timeCode(this.durationSeconds / 2, { tenths: true })}.` : ''}</span
      >
    </div>`;
  }

  /** The question stands first: where there is little room, what stands last is out of sight. */
  private proposal() {
    const { sorting } = this;
    if (!this.text.trim()) return nothing;
    const requests = sorting?.requests ?? [];
    return html`${this.question?.vague ? this.clarified(this.question.words) : this.asked()}
    ${
      requests.length
        ? html`<ul class="proposed">
            ${requests.map((request, index) => {
              const level = this.chosen[index] ?? request.level;
              return html`<li>
                <span class="wish"><q>${request.text}</q></span>
                <span class="choice" role="group" aria-label=${`Level of “${request.text}”`}>
                  ${levels.map(
                    (each) => html`<button
                      type="button"
                      aria-pressed=${each === level}
                      title=${levelMeaning[each]}
                      @click=${() => this.report('choose-level', { index, level: each })}
                    >
                      ${levelShape(each)}<span class="level ${each === level ? each : ''}">${levelWord[each]}</span>
                    </button>`,
                  )}
                </span>
              </li>`;
            })}
          </ul>`
        : nothing
    }
    ${
      sorting?.protections.length
        ? html`<p>To be left as it is: ${sorting.protections.map(({ text }) => `“${text}”`).join(', ')}.</p>`
        : nothing
    }
    ${this.placeOffered()}`;
  }

  /** Goes on in the text where a button that goes with its own press was pressed by key. */
  private pressed(deed: () => void) {
    return (event: Event) => {
      const focused = (event.currentTarget as Element).contains(document.activeElement);
      deed();
      if (focused) this.focus();
    };
  }

  /**
   * A wish that names no part gets one question back, with the song's parts to press; it can be pinned without. A part goes
   * behind a colon, which every language reads.
   */
  private clarified(question: string) {
    const say = (words: string) => {
      this.text = `${this.text.trimEnd().replace(/[.!?…]+$/u, '')}${words}`;
      this.report('draft', { text: this.text });
    };
    const chips = this.parts
      .filter((part) => part.delivered)
      .map(({ name }) => ({ name, words: `: ${name}` }));
    return html`<div class="question" role="group" aria-label=${question}>
      <p>${question}</p>
      <span class="answers chips">
        ${[...chips, { name: 'the whole song', words: ' in the whole song' }].map(
          ({ name, words }) =>
            html`<button type="button" @click=${this.pressed(() => say(words))}>${name}</button>`,
        )}
      </span>
    </div>`;
  }

  private meanSong = () => {
    this.songMeant = true;
    if (this.place.kind !== 'song') this.report('whole-song');
  };

  /** Where a wish is for no place, its place can be pressed; it can be pinned without. */
  private placeOffered() {
    const { sections } = this;
    if (!sections.length || !this.isWholeSong || this.songMeant || !lacksPlace(this.sorting)) return nothing;
    return html`<div class="question" role="group" aria-label="Where is it?">
      <p>Where is it?</p>
      <span class="answers chips">
        <button type="button" @click=${this.pressed(this.meanSong)}>The whole song</button>
        ${sections.map(
          ({ name, startSeconds, endSeconds }) =>
            html`<button
              type="button"
              @click=${this.pressed(() => this.report('type-range', { range: { startSeconds, endSeconds } }))}
            >
              ${name}
            </button>`,
        )}
      </span>
    </div>`;
  }

  private asked() {
    const { question } = this;
    if (!question) return nothing;
    const { words, part } = question;
    if (part === null) return html`<p class="question">${words}</p>`;
    const answer = (delivered: boolean | null) =>
      this.pressed(() =>
        this.report('answer-part', { part, delivered, question: words } satisfies PartAnswer),
      );
    return html`<div class="question" role="group" aria-label=${words}>
      <p>${words}</p>
      <span class="answers">
        <button type="button" ?disabled=${this.busy} @click=${answer(true)}>Yes, it’s there</button>
        <button type="button" ?disabled=${this.busy} @click=${answer(false)}>No, it’s not</button>
        <button type="button" class="quiet" @click=${answer(null)}>Not sure</button>
      </span>
    </div>`;
  }

  override render() {
    const open = this.active || this.text.trim() !== '' || this.place.kind !== 'playhead';
    return html`<form class="compose-form" @submit=${this.submit} @mousedown=${keepFocus} @focusin=${this.focusMoved} @focusout=${this.focusMoved}>
      <div class="proposal">
        ${open ? this.times() : nothing}
        <p class="meaning" role="status">${this.text.trim() ? (this.sorting?.meaning ?? '') : ''}</p>
        ${this.proposal()}
      </div>
      <div class="compose">
        <textarea
          rows="1"
          aria-label=${`Note on ${this.versionName} ${this.placeWords}`}
          placeholder=${this.isWholeSong || this.place.kind === 'range' ? 'Write what you hear' : `Write what you hear ${this.placeWords}`}
          .value=${this.text}
          @input=${this.typed}
          @keydown=${this.keys}
        ></textarea>
        <button class=${this.text.trim() ? 'main' : ''} ?disabled=${!this.text.trim() || this.busy}>Pin note</button>
      </div>
    </form>`;
  }
}
