import { createReadStream } from 'node:fs';
import { access, copyFile, mkdir, open, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { eq, inArray } from 'drizzle-orm';
import type { AudioFormat } from '../audio/audio-format.ts';
import type { Database } from './database.ts';
import { audioFiles } from './schema.ts';

/** A file in the store, under its own SHA-256. */
export interface AudioFile {
  sha256: string;
  fileName: string;
  byteLength: number;
  format: AudioFormat;
  /** `original` where browsers play the file itself; else what the listening copy is. */
  listening: string;
}

/** What stands in a file's folder; a series is named after the engine that measured it. */
export type StoredPart = 'original' | 'listening.wav' | 'waveform.dat' | `series-${string}.dat`;

/** What is made of two files, each named after the engine that made it. */
export type StoredChange = `sound-${string}.wav` | `map-${string}.dat`;

const exists = (path: string) =>
  access(path).then(
    () => true,
    () => false,
  );

/**
 * Audio on disk, one folder a file: the exact bytes that were posted, a listening copy where browsers need one, the waveform
 * and the series over time. Nothing in it is ever overwritten with other bytes.
 */
export class AudioStore {
  readonly #database: Database;
  readonly folder: string;
  constructor(database: Database, folder: string) {
    this.#database = database;
    this.folder = folder;
  }

  pathOf(sha256: string, what: StoredPart): string {
    return join(this.folder, sha256.slice(0, 2), sha256, what);
  }

  /** Where what was made of two files lies: together in one folder, since all but the last used of it is dropped. */
  changePathOf(olderSha256: string, newerSha256: string, what: StoredChange): string {
    return join(this.folder, 'changes', `${newerSha256}-${olderSha256}-${what}`);
  }

  async hasWaveform(sha256: string): Promise<boolean> {
    return exists(this.pathOf(sha256, 'waveform.dat'));
  }

  /** Takes a file into the store by renaming it (or copying it, to keep the source), and makes it durable. */
  async take(sourcePath: string, sha256: string, keepSource = false): Promise<string> {
    const target = this.pathOf(sha256, 'original');
    await mkdir(join(target, '..'), { recursive: true });
    if (await exists(target)) {
      if (!keepSource) await rm(sourcePath, { force: true });
      return target;
    }
    const arriving = `${target}.arriving`;
    if (keepSource) await copyFile(sourcePath, arriving);
    else
      await rename(sourcePath, arriving).catch(async () => {
        await copyFile(sourcePath, arriving);
        await rm(sourcePath, { force: true });
      });
    const handle = await open(arriving, 'r+');
    await handle.sync();
    await handle.close();
    await rename(arriving, target);
    return target;
  }

  /** Says what a stored file is. Of one that is known already, only how it is listened to is said anew. */
  async describe(file: AudioFile, at: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer
        .insert(audioFiles)
        .values({ ...file, format: JSON.stringify(file.format), addedAt: at })
        .onConflictDoUpdate({ target: audioFiles.sha256, set: { listening: file.listening } });
    });
  }

  /** Removes a file with all that was made of it alone. */
  async remove(sha256: string): Promise<void> {
    await this.#database.write(async (writer) => {
      await writer.delete(audioFiles).where(eq(audioFiles.sha256, sha256));
    });
    await rm(join(this.pathOf(sha256, 'original'), '..'), { recursive: true, force: true });
  }

  async find(sha256: string): Promise<AudioFile | null> {
    const [row] = await this.#database.read.select().from(audioFiles).where(eq(audioFiles.sha256, sha256));
    return row ? { ...row, format: JSON.parse(row.format) } : null;
  }

  /** How each of several files is listened to, by SHA-256. */
  async listening(hashes: readonly string[]): Promise<Map<string, string>> {
    if (!hashes.length) return new Map();
    const rows = await this.#database.read
      .select({ sha256: audioFiles.sha256, listening: audioFiles.listening })
      .from(audioFiles)
      .where(inArray(audioFiles.sha256, [...hashes]));
    return new Map(rows.map((row) => [row.sha256, row.listening]));
  }

  /** The bytes of a range, both ends included. */
  stream(path: string, start: number, end: number): ReadableStream<Uint8Array> {
    const source = createReadStream(path, { start, end, highWaterMark: 256 * 1024 });
    return new ReadableStream(
      {
        start(controller) {
          source.on('data', (chunk) => {
            controller.enqueue(new Uint8Array(chunk as Buffer));
            if ((controller.desiredSize ?? 0) <= 0) source.pause();
          });
          source.on('end', () => controller.close());
          source.on('error', (error) => controller.error(error));
        },
        pull() {
          source.resume();
        },
        cancel() {
          source.destroy();
        },
      },
      { highWaterMark: 4 },
    );
  }
}
