import { and, desc, eq, isNull, lt } from 'drizzle-orm';
import type { Level, RequestKind } from '../domain/request-kind.ts';
import type { Database, Writer } from './database.ts';
import { studioExamples } from './schema.ts';

/** What one re-sorting taught: how this studio reads such words, with who decided it and why. */
export interface StudioExample {
  recordId: string;
  requestId: string;
  songId: string;
  text: string;
  kind: RequestKind;
  level: Level;
  /** The level is the one that the contract's scope sheet gave the kind then. */
  byScopeSheet: boolean;
  reason: string;
  by: string;
  at: string;
}

/** For so long an example that was taken out can be put back; the next change to the examples deletes it then. */
const keptMilliseconds = 60 * 60 * 1000;

/** The examples that this server's re-sortings made, in the database like everything else, and so in its backup. */
export class ExampleStore {
  readonly #database: Database;
  constructor(database: Database) {
    this.#database = database;
  }

  /** Every example in use, newest first. */
  async all(): Promise<StudioExample[]> {
    const rows = await this.#database.read
      .select()
      .from(studioExamples)
      .where(isNull(studioExamples.removedAt))
      .orderBy(desc(studioExamples.at), desc(studioExamples.requestId));
    return rows.map(({ removedAt: _removedAt, ...example }) => example);
  }

  /** Keeps an example in a transaction that is under way, in place of an earlier one of the same request. */
  async keepIn(writer: Writer, example: StudioExample): Promise<void> {
    const { recordId: _record, requestId: _request, ...rest } = example;
    await writer
      .insert(studioExamples)
      .values(example)
      .onConflictDoUpdate({
        target: [studioExamples.recordId, studioExamples.requestId],
        set: { ...rest, removedAt: null },
      });
    await deleteRemoved(writer, example.at);
  }

  /** Takes an example out; false where there is none in use. */
  async remove(recordId: string, requestId: string, at: string): Promise<boolean> {
    return this.#database.write(async (writer) => {
      await deleteRemoved(writer, at);
      const rows = await writer
        .update(studioExamples)
        .set({ removedAt: at })
        .where(and(ofRequest(recordId, requestId), isNull(studioExamples.removedAt)))
        .returning({ requestId: studioExamples.requestId });
      return rows.length > 0;
    });
  }

  /** Puts an example back that was taken out; false where it is not there any more. */
  async restore(recordId: string, requestId: string): Promise<boolean> {
    return this.#database.write(async (writer) => {
      const rows = await writer
        .update(studioExamples)
        .set({ removedAt: null })
        .where(ofRequest(recordId, requestId))
        .returning({ requestId: studioExamples.requestId });
      return rows.length > 0;
    });
  }
}

const ofRequest = (recordId: string, requestId: string) =>
  and(eq(studioExamples.recordId, recordId), eq(studioExamples.requestId, requestId));

async function deleteRemoved(writer: Writer, at: string): Promise<void> {
  const until = new Date(Date.parse(at) - keptMilliseconds).toISOString();
  await writer.delete(studioExamples).where(lt(studioExamples.removedAt, until));
}
