import { createHash } from 'node:crypto';
import type { Act, Command } from '../domain/command.ts';
import { decide } from '../domain/decide.ts';
import { evolve, fold } from '../domain/evolve.ts';
import { chain, chainStart } from '../domain/ledger-chain.ts';
import type { Fact, LedgerEntry } from '../domain/ledger-entry.ts';
import type { PersonId } from '../domain/person.ts';
import type { RecordState } from '../domain/record.ts';
import type { Refusal } from '../domain/refusal.ts';
import type { Database, Writer } from '../storage/database.ts';
import type { LedgerStore } from '../storage/ledger-store.ts';

/** What a command came to. */
export type Outcome =
  | { ok: true; sequence: number; facts: Fact['type'][] }
  | { ok: false; refusal: Refusal }
  | { ok: false; misuse: 'key_reused' };

export interface Changed {
  recordId: string;
  sequence: number;
  entries: LedgerEntry[];
}

/** A caller's key for one intent, and the body that it was first used with. */
export interface Idempotency {
  key: string;
  body: unknown;
}

interface Held {
  state: RecordState | null;
  head: string;
}

/**
 * Carries out commands: folds the record's ledger, asks the rules, appends the facts at the next places of the chain,
 * and tells those who watch. One command at a time; a fact is told only once it is on disk.
 */
export class RecordLedger {
  readonly #database: Database;
  readonly #store: LedgerStore;
  readonly #now: () => string;
  readonly #held = new Map<string, Held>();
  readonly #watchers = new Set<(changed: Changed) => void>();
  #turn: Promise<unknown> = Promise.resolve();

  constructor(database: Database, store: LedgerStore, now: () => string) {
    this.#database = database;
    this.#store = store;
    this.#now = now;
  }

  /** The state of a record, or `null` where there is none. */
  async state(recordId: string): Promise<RecordState | null> {
    return (await this.#hold(recordId)).state;
  }

  /** Where a record's chain ends: what a certificate or a receipt keeps outside, to show a tail that was cut. */
  async head(recordId: string): Promise<{ sequence: number; hash: string }> {
    const { state, head } = await this.#hold(recordId);
    return { sequence: state?.sequence ?? 0, hash: head };
  }

  async recordIds(): Promise<string[]> {
    return this.#store.recordIds();
  }

  async entries(recordId: string): Promise<LedgerEntry[]> {
    return this.#store.entries(recordId);
  }

  /** Whether any record's ledger names a file by its SHA-256. */
  async mentions(sha256: string): Promise<boolean> {
    return this.#store.mentions(sha256);
  }

  watch(onChange: (changed: Changed) => void): () => void {
    this.#watchers.add(onChange);
    return () => this.#watchers.delete(onChange);
  }

  /**
   * Carries out one command. `alongside` writes in the same transaction (work that the facts ask for), and runs only
   * when there are facts. `at` may be given for the demo's past.
   */
  execute(
    recordId: string,
    by: PersonId,
    command: Command,
    {
      idempotency = null,
      alongside,
      at,
    }: {
      idempotency?: Idempotency | null;
      alongside?: (writer: Writer, facts: readonly Fact[], state: RecordState) => Promise<void>;
      at?: string;
    } = {},
  ): Promise<Outcome> {
    const outcome = this.#turn.then(() =>
      this.#execute(recordId, { at: at ?? this.#now(), by, command }, idempotency, alongside),
    );
    this.#turn = outcome.catch(() => undefined);
    return outcome;
  }

  async #execute(
    recordId: string,
    act: Act,
    idempotency: Idempotency | null,
    alongside: ((writer: Writer, facts: readonly Fact[], state: RecordState) => Promise<void>) | undefined,
  ): Promise<Outcome> {
    const bodyHash = idempotency
      ? createHash('sha256')
          .update(JSON.stringify([recordId, idempotency.body]))
          .digest('hex')
      : '';
    if (idempotency) {
      const before = await this.#store.executed(act.by, idempotency.key);
      if (before)
        return before.bodyHash === bodyHash
          ? JSON.parse(before.response)
          : { ok: false, misuse: 'key_reused' };
    }
    const held = await this.#hold(recordId);
    const decision = decide(held.state, act);
    if (!decision.ok) return decision;
    let { state, head } = held;
    const entries = decision.facts.map((fact) => {
      const entry = chain(head, { sequence: (state?.sequence ?? 0) + 1, at: act.at, by: act.by, fact });
      state = evolve(state, entry);
      head = entry.hash;
      return entry;
    });
    const outcome: Outcome = {
      ok: true,
      sequence: state?.sequence ?? 0,
      facts: decision.facts.map((fact) => fact.type),
    };
    await this.#database.write(async (writer) => {
      await this.#store.append(writer, recordId, entries);
      if (idempotency)
        await this.#store.rememberExecuted(
          writer,
          { key: idempotency.key, personId: act.by, recordId, bodyHash, response: JSON.stringify(outcome) },
          act.at,
        );
      if (alongside && state && entries.length) await alongside(writer, decision.facts, state);
    });
    this.#held.set(recordId, { state, head });
    if (entries.length) this.#tell({ recordId, sequence: outcome.sequence, entries });
    return outcome;
  }

  async #hold(recordId: string): Promise<Held> {
    const held = this.#held.get(recordId);
    if (held) return held;
    const entries = await this.#store.entries(recordId);
    const read = { state: fold(entries), head: entries.at(-1)?.hash ?? chainStart };
    const meanwhile = this.#held.get(recordId);
    if (meanwhile) return meanwhile;
    this.#held.set(recordId, read);
    return read;
  }

  #tell(changed: Changed): void {
    for (const watcher of this.#watchers) watcher(changed);
  }

  /** Deletes a record that nobody agreed to: the demo. */
  async deleteRecord(recordId: string): Promise<void> {
    await this.#store.deleteRecord(recordId);
    this.#held.delete(recordId);
    this.#tell({ recordId, sequence: 0, entries: [] });
  }
}
