import { eq } from 'drizzle-orm';
import type { Database } from './database.ts';
import { serverFacts } from './schema.ts';

/** What the server knows of itself, by name. */
export class ServerFactStore {
  readonly #database: Database;
  constructor(database: Database) {
    this.#database = database;
  }

  async get(name: string): Promise<string | null> {
    const [row] = await this.#database.read.select().from(serverFacts).where(eq(serverFacts.name, name));
    return row?.value ?? null;
  }

  async set(name: string, value: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer
        .insert(serverFacts)
        .values({ name, value })
        .onConflictDoUpdate({ target: serverFacts.name, set: { value } });
    });
  }

  async getOrSet(name: string, make: () => string): Promise<string> {
    const known = await this.get(name);
    if (known !== null) return known;
    const value = make();
    await this.set(name, value);
    return value;
  }
}
