import { Refusal, read, sent } from './call.ts';
import type { RecordSheet, SongSheet } from './types.ts';
import { type Connection, type StreamEvent, watchRecord } from './watch-record.ts';

/** What the pages of one record and song stand on. */
export interface StoreState {
  recordId: string | null;
  songId: string | null;
  record: RecordSheet | null;
  sheet: SongSheet | null;
  connection: Connection;
  /** Why the sheets could not be read. */
  fault: Refusal | null;
}

const nothing: StoreState = {
  recordId: null,
  songId: null,
  record: null,
  sheet: null,
  connection: 'connecting',
  fault: null,
};

/**
 * Keeps the sheets of the record and the song in view fresh: reads them when the place changes, when the stream says
 * that something changed, and after every change made from this page. A sheet is replaced as a whole; what a person is
 * typing lives in the page and is not touched.
 */
export class RecordStore {
  #state: StoreState = nothing;
  #stop: () => void = () => {};
  #reading = false;
  #again = false;
  readonly #onChange: (state: StoreState) => void;
  readonly #onEvent: (event: StreamEvent) => void;

  constructor(onChange: (state: StoreState) => void, onEvent: (event: StreamEvent) => void = () => {}) {
    this.#onChange = onChange;
    this.#onEvent = onEvent;
    sent.addEventListener('sent', () => void this.refresh());
  }

  get state(): StoreState {
    return this.#state;
  }

  /** Goes to a place: the sheets of another one are dropped, those of the same one stay while they are read again. */
  goTo(recordId: string | null, songId: string | null): void {
    const before = this.#state;
    if (recordId === before.recordId && songId === before.songId) return;
    if (recordId !== before.recordId) {
      this.#stop();
      this.#state = { ...nothing, recordId, songId };
      if (recordId) this.#watch(recordId);
    } else {
      this.#state = { ...before, songId, sheet: null, fault: null };
    }
    this.#onChange(this.#state);
    void this.refresh();
  }

  /** Reads the sheets again; calls during a reading lead to one more after it. */
  async refresh(): Promise<void> {
    if (this.#reading) {
      this.#again = true;
      return;
    }
    this.#reading = true;
    try {
      do {
        this.#again = false;
        await this.#read();
      } while (this.#again);
    } finally {
      this.#reading = false;
    }
  }

  async #read(): Promise<void> {
    const { recordId, songId } = this.#state;
    if (!recordId) return;
    const at = `/api/records/${encodeURIComponent(recordId)}`;
    try {
      const [record, sheet] = await Promise.all([
        read<RecordSheet>(at),
        songId ? read<SongSheet>(`${at}/songs/${encodeURIComponent(songId)}`) : null,
      ]);
      if (this.#isAt(recordId, songId)) this.#set({ record, sheet, fault: null });
      else this.#again = true;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      if (this.#isAt(recordId, songId)) this.#set({ fault: error });
      else this.#again = true;
    }
  }

  #isAt(recordId: string, songId: string | null): boolean {
    return this.#state.recordId === recordId && this.#state.songId === songId;
  }

  #watch(recordId: string): void {
    this.#stop = watchRecord(
      recordId,
      (event) => {
        this.#onEvent(event);
        if (event.type === 'changed') {
          if (event.sequence > (this.#state.record?.record.sequence ?? 0)) void this.refresh();
        } else if (event.type === 'analysis') this.#analysis(event);
      },
      (connection) => {
        const lost = this.#state.connection === 'reconnecting';
        this.#set({ connection });
        if (lost && connection === 'open') void this.refresh();
      },
    );
  }

  /** Progress is put in place; an end brings figures, so the sheet is read again. */
  #analysis(event: StreamEvent & { type: 'analysis' }): void {
    const { sheet } = this.#state;
    if (event.state === 'ready' || event.state === 'failed') void this.refresh();
    else if (event.kind === 'measurement' && sheet && sheet.song.id === event.song) {
      const state = event.state === 'waiting' ? 'waiting' : 'running';
      const versions = sheet.versions.map((version) =>
        version.id === event.versionId
          ? { ...version, analysis: { ...version.analysis, state, progress: event.progress } as const }
          : version,
      );
      this.#set({ sheet: { ...sheet, versions } });
    }
  }

  #set(part: Partial<StoreState>): void {
    this.#state = { ...this.#state, ...part };
    this.#onChange(this.#state);
  }
}
