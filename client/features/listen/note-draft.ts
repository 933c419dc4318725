import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { newId } from '../../api/call.ts';
import type { Sorting } from '../../api/song-calls.ts';
import type { Level } from '../../api/types.ts';

const sortingDelayMilliseconds = 300;

/** A level that the author has chosen, by the words of the request. */
interface ChosenLevel {
  text: string;
  level: Level;
}

type Sort = (text: string, chosen: readonly ChosenLevel[], signal: AbortSignal) => Promise<Sorting>;

/**
 * The note that is being written: its words, kept on this device until they are on the record, and what they would be
 * sorted as, asked for when the typing pauses.
 */
export class NoteDraft implements ReactiveController {
  text = '';
  sorting: Sorting | null = null;
  /** One draft has one id, so that a note whose answer got lost is not written twice. */
  noteId = newId();
  /** Choices of level by the words that they were made for, so that they outlast further typing. */
  readonly #chosen = new Map<string, Level>();
  readonly #leftOpen = new Set<string>();
  readonly #host: ReactiveControllerHost;
  readonly #name: () => string;
  readonly #sort: Sort;
  #sortedText = '';
  #stop = new AbortController();
  #timer: ReturnType<typeof setTimeout> | undefined;

  /**
   * @param name The name that the words are kept under.
   */
  constructor(host: ReactiveControllerHost, name: () => string, sort: Sort) {
    this.#host = host;
    this.#name = name;
    this.#sort = sort;
    host.addController(this);
  }

  /** Takes up what was left unsent. */
  restore(): void {
    const kept = localStorage.getItem(this.#name());
    if (kept) this.write(kept);
  }

  hostDisconnected(): void {
    clearTimeout(this.#timer);
    this.#stop.abort();
  }

  write(text: string): void {
    this.text = text;
    if (text) localStorage.setItem(this.#name(), text);
    else localStorage.removeItem(this.#name());
    this.sortSoon();
    this.#host.requestUpdate();
  }

  sortSoon(): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#sortNow(), sortingDelayMilliseconds);
  }

  /** The author's choice for each proposed request; `null` leaves it as proposed. */
  get levels(): (Level | null)[] {
    return this.sorting?.requests.map(({ text }) => this.#chosen.get(text) ?? null) ?? [];
  }

  choose(index: number, level: Level): void {
    const request = this.sorting?.requests[index];
    if (!request) return;
    this.#chosen.set(request.text, level);
    this.#host.requestUpdate();
    void this.sortAgain();
  }

  /** The author can't tell: the question is not asked again for this note. */
  leaveOpen(question: string): void {
    this.#leftOpen.add(question);
    this.#host.requestUpdate();
  }

  /** The question that waits for an answer. */
  get question(): Sorting['question'] {
    const question = this.sorting?.question ?? null;
    return question && !this.#leftOpen.has(question.words) ? question : null;
  }

  /** Sorts again at once, since something that it goes by has changed. */
  async sortAgain(): Promise<void> {
    clearTimeout(this.#timer);
    await this.#sortNow();
  }

  /** The choices go by the order of the requests, so before sending that order must be of these very words. */
  async settle(): Promise<void> {
    clearTimeout(this.#timer);
    if (this.#chosen.size && this.#sortedText !== this.text) await this.#sortNow();
  }

  /** Starts a new note once this one is on the record. */
  finish(): void {
    this.noteId = newId();
    this.#chosen.clear();
    this.#leftOpen.clear();
    this.sorting = null;
    this.write('');
  }

  /** A failure only means that no proposal is shown; the server sorts again when the note is written. */
  async #sortNow(): Promise<void> {
    const { text } = this;
    this.#stop.abort();
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    const chosen = [...this.#chosen].map(([words, level]) => ({ text: words, level }));
    const sorting = text.trim() ? await this.#sort(text, chosen, signal).catch(() => null) : null;
    if (signal.aborted) return;
    this.sorting = sorting;
    this.#sortedText = text;
    this.#host.requestUpdate();
  }
}
