import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { type Client, createClient, type Transaction } from '@libsql/client';
import { drizzle, type LibSQLDatabase } from 'drizzle-orm/libsql';
import { migrate } from 'drizzle-orm/libsql/migrator';
import { projectFolder } from '../project-folder.ts';
import * as schema from './schema.ts';

export type Reader = LibSQLDatabase<typeof schema>;
export type Writer = Parameters<Parameters<Reader['transaction']>[0]>[0];

/** Said when a second server is started on the same data. */
export class DataInUseError extends Error {
  override name = 'DataInUseError';
}

const busyRetries = 6;
const firstPauseMilliseconds = 25;

const errorCode = (error: unknown): string | undefined => {
  for (let each = error; each instanceof Error; each = each.cause)
    if ('code' in each && typeof each.code === 'string' && each.code.startsWith('SQLITE_')) return each.code;
  return undefined;
};

/**
 * The embedded database. All writes go through one queue as write transactions: a lone statement that meets a busy
 * file can be acknowledged and lost by the driver (DEVELOPERS.md, Decisions), so there is no other way to write.
 */
export class Database {
  readonly read: Reader;
  /** How often a write met a busy file and was tried again. */
  busyCount = 0;
  readonly #client: Client;
  readonly #guard: { client: Client; transaction: Transaction };
  #queue: Promise<unknown> = Promise.resolve();

  private constructor(client: Client, guard: { client: Client; transaction: Transaction }) {
    this.#client = client;
    this.#guard = guard;
    this.read = drizzle(client, { schema });
  }

  /**
   * Opens and migrates the database in a folder, and holds it for this process alone.
   * @throws DataInUseError where another process holds it.
   */
  static async open(folder: string): Promise<Database> {
    mkdirSync(folder, { recursive: true });
    const fileUrl = (name: string) => pathToFileURL(join(folder, name)).href;
    const guardClient = createClient({ url: fileUrl('in-use.db'), timeout: 200 });
    let transaction: Transaction;
    try {
      transaction = await guardClient.transaction('write');
    } catch (error) {
      guardClient.close();
      if (errorCode(error)?.startsWith('SQLITE_BUSY'))
        throw new DataInUseError(
          `Another Countoff server uses ${folder}. Stop that one first, or give this one a folder of its own (COUNTOFF_DATA).`,
        );
      throw error;
    }
    const client = createClient({ url: fileUrl('countoff.db'), timeout: 5000 });
    await client.execute('PRAGMA journal_mode = WAL');
    await migrate(drizzle(client), { migrationsFolder: join(projectFolder, 'drizzle') });
    return new Database(client, { client: guardClient, transaction });
  }

  /** Runs a write transaction after all those before it; nothing slow may be awaited inside. */
  write<T>(work: (writer: Writer) => Promise<T>): Promise<T> {
    const result = this.#queue.then(() => this.#attempt(work));
    this.#queue = result.catch(() => undefined);
    return result;
  }

  async #attempt<T>(work: (writer: Writer) => Promise<T>): Promise<T> {
    for (let attempt = 0; ; attempt += 1) {
      try {
        return await this.read.transaction(work, { behavior: 'immediate' });
      } catch (error) {
        if (!errorCode(error)?.startsWith('SQLITE_BUSY') || attempt >= busyRetries) throw error;
        this.busyCount += 1;
        await this.#client.reconnect();
        await new Promise((resolve) => setTimeout(resolve, firstPauseMilliseconds * 2 ** attempt));
      }
    }
  }

  async close(): Promise<void> {
    await this.#queue;
    this.#client.close();
    this.#guard.transaction.close();
    this.#guard.client.close();
  }
}
