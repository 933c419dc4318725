import type { ReactiveController, ReactiveControllerHost } from 'lit';
import type { NotePlace, NoteView } from '../../api/types.ts';

type Ask = (versionId: string, signal: AbortSignal) => Promise<{ places: NotePlace[] }>;

/** Where the notes on other versions stand in the one that is drawn. Until the server says so they stand where they were. */
export class PlacedNotes implements ReactiveController {
  readonly #host: ReactiveControllerHost;
  readonly #ask: Ask;
  #versionId = '';
  #key = '';
  #places = new Map<string, NotePlace>();
  #stop = new AbortController();

  constructor(host: ReactiveControllerHost, ask: Ask) {
    this.#host = host;
    this.#ask = ask;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.#stop.abort();
    this.#key = '';
  }

  /** @param state What the answer depends on beside the version: the record's entries, and what is compared by now. */
  follow(versionId: string, state: string): void {
    const key = `${versionId} ${state}`;
    if (key === this.#key) return;
    this.#key = key;
    if (versionId !== this.#versionId) this.#places = new Map();
    this.#versionId = versionId;
    void this.#read(versionId);
  }

  async #read(versionId: string): Promise<void> {
    this.#stop.abort();
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    // Without an answer the notes stay where they were, as they do before there is one.
    const answer = await this.#ask(versionId, signal).catch(() => null);
    if (signal.aborted || !answer) return;
    this.#places = new Map(answer.places.map((place) => [place.noteId, place]));
    this.#host.requestUpdate();
  }

  /** `null` for a note of the version itself, and for one whose place isn't known to have moved yet. */
  of(note: Pick<NoteView, 'id'>): NotePlace | null {
    return this.#places.get(note.id) ?? null;
  }
}

/** What is said of a note's place where it isn't plainly that of the version that is drawn; empty where it is. */
export function placeMark(place: NotePlace | null, versionName: string): string {
  if (place?.left === 'none') return 'its place was cut';
  if (place?.left === 'part') return 'part of its place was cut';
  return place?.left === 'unknown' ? `placed as in ${versionName}` : '';
}
