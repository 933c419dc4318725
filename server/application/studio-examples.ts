import type { RecordState } from '../domain/record.ts';
import { defaultScopeSheet, type ScopeSheet } from '../domain/scope-sheet.ts';
import type { Writer } from '../storage/database.ts';
import type { ExampleStore, StudioExample } from '../storage/example-store.ts';
import type { LearnedExample } from '../triage/sort-note.ts';

/** An example as the sorting takes it, with the record that it comes from. */
export interface TaughtExample extends LearnedExample {
  recordId: string;
}

/**
 * What this studio has taught the sorting of notes. A sort takes no time to read a table, so the examples are held in
 * memory, as the same objects from sort to sort, and are read again after each change.
 */
export class StudioExamples {
  readonly #store: ExampleStore;
  #all: readonly StudioExample[] = [];
  #taught = new WeakMap<ScopeSheet, readonly TaughtExample[]>();

  private constructor(store: ExampleStore) {
    this.#store = store;
  }

  static async open(store: ExampleStore): Promise<StudioExamples> {
    const examples = new StudioExamples(store);
    await examples.read();
    return examples;
  }

  /** Reads the examples again, after the transaction that changed them. */
  async read(): Promise<void> {
    this.#all = await this.#store.all();
    this.#taught = new WeakMap();
  }

  /** Every example in use, newest first. */
  get all(): readonly StudioExample[] {
    return this.#all;
  }

  ofRecord(recordId: string): readonly StudioExample[] {
    return this.#all.filter((example) => example.recordId === recordId);
  }

  /**
   * The examples under a contract's scope sheet. Where the level was what the scope sheet of its own contract gave the
   * kind, the example taught the kind alone, and the level is this sheet's.
   */
  under(scopeSheet: ScopeSheet): readonly TaughtExample[] {
    let taught = this.#taught.get(scopeSheet);
    if (!taught) {
      taught = this.#all.map(({ recordId, text, kind, level, byScopeSheet }) => ({
        recordId,
        text,
        kind,
        level: byScopeSheet ? scopeSheet[kind].level : level,
      }));
      this.#taught.set(scopeSheet, taught);
    }
    return taught;
  }

  /** Keeps what the last decision about a request teaches, in the transaction that writes the decision. */
  async learnIn(writer: Writer, record: RecordState, songId: string, requestId: string): Promise<void> {
    const request = record.songs[songId]?.requests.find((each) => each.id === requestId);
    const decision = request?.decisions.at(-1);
    if (!request || decision?.how !== 'engineer') return;
    const { kind, level, reason, by, at } = decision;
    const sheet = record.contract?.terms.scopeSheet ?? defaultScopeSheet();
    await this.#store.keepIn(writer, {
      recordId: record.id,
      requestId,
      songId,
      text: request.text,
      kind,
      level,
      byScopeSheet: sheet[kind].level === level,
      reason: reason ?? '',
      by,
      at,
    });
  }

  /** Takes an example out; false where there is none. */
  async remove(recordId: string, requestId: string, at: string): Promise<boolean> {
    const removed = await this.#store.remove(recordId, requestId, at);
    await this.read();
    return removed;
  }

  /** Puts an example back that was taken out; false where it is not there any more. */
  async restore(recordId: string, requestId: string): Promise<boolean> {
    const restored = await this.#store.restore(recordId, requestId);
    await this.read();
    return restored;
  }
}
