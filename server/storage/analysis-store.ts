import { and, asc, eq, inArray, ne, sql } from 'drizzle-orm';
import type { Match } from '../measurement/matched-older.ts';
import type { Database, Writer } from './database.ts';
import { analyses } from './schema.ts';

/** What is made of two compared files once somebody asks: the change between them as sound, or as a map. */
export interface ChangeInput {
  kind: 'change sound' | 'change map';
  olderSha256: string;
  newerSha256: string;
  match: Match;
}

/** A stem as the workers are told of it. */
export interface StoredStem {
  name: string;
  /** `part`, or which alternate of the whole song it is. */
  role: string;
  sha256: string;
}

/** What each stem's gain changed by between two compared files, told by the stems of at least one. */
export interface StemComparisonInput {
  kind: 'stem comparison';
  olderSha256: string;
  newerSha256: string;
  sections: { name: string; start: number; end: number }[];
  olderStems: StoredStem[] | null;
  newerStems: StoredStem[] | null;
  /** What the whole of the newer file is louder by, as their comparison found. */
  overallGainDb: number;
}

/** What a worker is asked to measure. */
export type AnalysisInput =
  | { kind: 'measurement'; sha256: string; sections: { name: string; start: number; end: number }[] }
  | {
      kind: 'comparison';
      olderSha256: string;
      newerSha256: string;
      sections: { name: string; start: number; end: number }[];
      /** Lengths are told in bars, too, where the song has one. */
      tempo?: { tempoBpm: number; beatsPerBar: number } | null;
    }
  /** Sections proposed from the audio alone. */
  | { kind: 'sections'; sha256: string }
  /** Whether stems sum to their print. */
  | { kind: 'stem sum'; sha256: string; stems: StoredStem[] }
  | StemComparisonInput
  | ChangeInput;

export interface Analysis {
  key: string;
  input: AnalysisInput;
  state: 'waiting' | 'running' | 'ready' | 'failed';
  attempts: number;
  message: string | null;
}

/** How far an analysis has come, with the two figures of a finished measurement that every page shows. */
export interface AnalysisStanding extends Analysis {
  integratedLoudnessLufs: number | null;
  truePeakDbtp: number | null;
}

const figure = (name: string) => sql<number | null>`json_extract(${analyses.result}, ${`$.${name}`})`;

/** The analysis queue and its results, in the same database as what they belong to. */
export class AnalysisStore {
  readonly #database: Database;
  constructor(database: Database) {
    this.#database = database;
  }

  /** Queues work unless it is queued, running or done already; a failed one is queued again if `again`. */
  async queue(key: string, input: AnalysisInput, at: string, again = false): Promise<void> {
    await this.#database.write((writer) => this.queueIn(writer, key, input, at, again));
  }

  async queueIn(writer: Writer, key: string, input: AnalysisInput, at: string, again = false): Promise<void> {
    await writer
      .insert(analyses)
      .values({
        key,
        kind: input.kind,
        input: JSON.stringify(input),
        state: 'waiting',
        attempts: 0,
        queuedAt: at,
      })
      .onConflictDoNothing();
    if (again)
      await writer
        .update(analyses)
        .set({ state: 'waiting', attempts: 0, message: null, result: null })
        .where(eq(analyses.key, key));
  }

  async waiting(limit: number): Promise<Analysis[]> {
    const rows = await this.#database.read
      .select()
      .from(analyses)
      .where(eq(analyses.state, 'waiting'))
      .orderBy(asc(analyses.queuedAt))
      .limit(limit);
    return rows.map(toAnalysis);
  }

  /** After a restart: what was running is waiting again. */
  async releaseRunning(): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer.update(analyses).set({ state: 'waiting' }).where(eq(analyses.state, 'running'));
    });
  }

  async start({ key, attempts }: Analysis): Promise<void> {
    await this.#set(key, { state: 'running', attempts: attempts + 1 });
  }

  async finish(key: string, result: unknown): Promise<void> {
    await this.#set(key, { state: 'ready', result: JSON.stringify(result), message: null });
  }

  async retry(key: string): Promise<void> {
    await this.#set(key, { state: 'waiting' });
  }

  async fail(key: string, message: string): Promise<void> {
    await this.#set(key, { state: 'failed', message });
  }

  /** Forgets what was to be measured of a file that is gone; what was measured of it stays. */
  async forgetUnfinished(sha256: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer
        .delete(analyses)
        .where(and(ne(analyses.state, 'ready'), sql`instr(${analyses.input}, ${sha256}) > 0`));
    });
  }

  async #set(key: string, values: Partial<typeof analyses.$inferInsert>): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer.update(analyses).set(values).where(eq(analyses.key, key));
    });
  }

  async states(keys: readonly string[]): Promise<Map<string, AnalysisStanding>> {
    if (!keys.length) return new Map();
    const rows = await this.#database.read
      .select({
        key: analyses.key,
        input: analyses.input,
        state: analyses.state,
        attempts: analyses.attempts,
        message: analyses.message,
        integratedLoudnessLufs: figure('integratedLoudnessLufs'),
        truePeakDbtp: figure('truePeakDbtp'),
      })
      .from(analyses)
      .where(inArray(analyses.key, [...keys]));
    return new Map(
      rows.map(({ integratedLoudnessLufs, truePeakDbtp, ...row }) => [
        row.key,
        { ...toAnalysis(row), integratedLoudnessLufs, truePeakDbtp },
      ]),
    );
  }

  /** A finished result as its JSON text, or `null`. */
  async result(key: string): Promise<string | null> {
    const [row] = await this.#database.read
      .select({ result: analyses.result })
      .from(analyses)
      .where(eq(analyses.key, key));
    return row?.result ?? null;
  }
}

function toAnalysis(row: {
  key: string;
  input: string;
  state: Analysis['state'];
  attempts: number;
  message: string | null;
}): Analysis {
  return {
    key: row.key,
    input: JSON.parse(row.input),
    state: row.state,
    attempts: row.attempts,
    message: row.message,
  };
}
