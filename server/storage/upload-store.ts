import { eq, sql } from 'drizzle-orm';
import type { AudioFormat } from '../audio/audio-format.ts';
import type { Database } from './database.ts';
import { uploads } from './schema.ts';

/** What the server found in an uploaded file. */
export interface Inspection {
  sha256: string | null;
  format: AudioFormat | null;
  durationSeconds: number | null;
  clipped: boolean;
  /** Why the file can't become what it was uploaded for, in plain words. */
  refusal: string | null;
}

export interface Upload {
  id: string;
  recordId: string;
  songId: string;
  gate: string;
  purpose: 'version' | 'stem';
  personId: string;
  fileName: string;
  byteLength: number;
  state: 'receiving' | 'checking' | 'ready' | 'refused';
  inspection: Inspection | null;
  createdAt: string;
}

/** Files on their way to becoming versions or stems. */
export class UploadStore {
  readonly #database: Database;
  constructor(database: Database) {
    this.#database = database;
  }

  async add(upload: Omit<Upload, 'state' | 'inspection'>): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer.insert(uploads).values({ ...upload, state: 'receiving' });
    });
  }

  async find(id: string): Promise<Upload | null> {
    const [row] = await this.#database.read.select().from(uploads).where(eq(uploads.id, id));
    return row ? { ...row, inspection: row.inspection ? JSON.parse(row.inspection) : null } : null;
  }

  async inState(state: Upload['state']): Promise<Upload[]> {
    const rows = await this.#database.read.select().from(uploads).where(eq(uploads.state, state));
    return rows.map((row) => ({ ...row, inspection: row.inspection ? JSON.parse(row.inspection) : null }));
  }

  /** Whether any upload was found to be this file. */
  async hasFile(sha256: string): Promise<boolean> {
    const rows = await this.#database.read
      .select({ id: uploads.id })
      .from(uploads)
      .where(sql`json_extract(${uploads.inspection}, '$.sha256') = ${sha256}`)
      .limit(1);
    return rows.length > 0;
  }

  async update(id: string, state: Upload['state'], inspection: Inspection | null): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer
        .update(uploads)
        .set({ state, inspection: inspection ? JSON.stringify(inspection) : null })
        .where(eq(uploads.id, id));
    });
  }

  async remove(id: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer.delete(uploads).where(eq(uploads.id, id));
    });
  }
}
