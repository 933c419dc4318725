import { and, asc, eq, sql } from 'drizzle-orm';
import type { LedgerEntry } from '../domain/ledger-entry.ts';
import type { Database, Writer } from './database.ts';
import { executedCommands, ledgerEntries, links, studioExamples, uploads } from './schema.ts';

/** A command that was carried out before, under its caller's key. */
export interface ExecutedCommand {
  key: string;
  personId: string;
  recordId: string;
  bodyHash: string;
  response: string;
}

/** The ledgers, one a record. */
export class LedgerStore {
  readonly #database: Database;
  constructor(database: Database) {
    this.#database = database;
  }

  async recordIds(): Promise<string[]> {
    const rows = await this.#database.read
      .selectDistinct({ recordId: ledgerEntries.recordId })
      .from(ledgerEntries)
      .where(eq(ledgerEntries.sequence, 1));
    return rows.map((row) => row.recordId);
  }

  async entries(recordId: string): Promise<LedgerEntry[]> {
    const rows = await this.#database.read
      .select()
      .from(ledgerEntries)
      .where(eq(ledgerEntries.recordId, recordId))
      .orderBy(asc(ledgerEntries.sequence));
    return rows.map(({ fact, recordId: _recordId, ...row }) => ({ ...row, fact: JSON.parse(fact) }));
  }

  /** Whether any ledger names a file by its SHA-256: as a version, a stem, or what was signed. */
  async mentions(sha256: string): Promise<boolean> {
    const rows = await this.#database.read
      .select({ sequence: ledgerEntries.sequence })
      .from(ledgerEntries)
      .where(sql`instr(${ledgerEntries.fact}, ${sha256}) > 0`)
      .limit(1);
    return rows.length > 0;
  }

  /** Adds entries at their places; the primary key refuses a place that is taken. */
  async append(writer: Writer, recordId: string, entries: readonly LedgerEntry[]): Promise<void> {
    if (!entries.length) return;
    await writer
      .insert(ledgerEntries)
      .values(entries.map(({ fact, ...entry }) => ({ ...entry, recordId, fact: JSON.stringify(fact) })));
  }

  async executed(personId: string, key: string): Promise<ExecutedCommand | null> {
    const [row] = await this.#database.read
      .select()
      .from(executedCommands)
      .where(and(eq(executedCommands.personId, personId), eq(executedCommands.key, key)));
    return row ?? null;
  }

  async rememberExecuted(writer: Writer, command: ExecutedCommand, at: string): Promise<void> {
    await writer.insert(executedCommands).values({ ...command, at });
  }

  /** Deletes a record whole, with its links, its uploads and what it taught the sorting: for the demo record, which nobody has agreed to. */
  async deleteRecord(recordId: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer.delete(ledgerEntries).where(eq(ledgerEntries.recordId, recordId));
      await writer.delete(executedCommands).where(eq(executedCommands.recordId, recordId));
      await writer.delete(links).where(eq(links.recordId, recordId));
      await writer.delete(uploads).where(eq(uploads.recordId, recordId));
      await writer.delete(studioExamples).where(eq(studioExamples.recordId, recordId));
    });
  }
}
