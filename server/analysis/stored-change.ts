import { readdir, rm, stat, utimes } from 'node:fs/promises';
import { dirname, extname, join } from 'node:path';
import type { Comparison } from '../measurement/comparison.ts';
import { engine } from '../measurement/engine.ts';
import { matchOf } from '../measurement/matched-older.ts';
import type { ChangeInput } from '../storage/analysis-store.ts';

/** What sound and map are kept as; another engine's are never taken for them. */
export const changeFileName = {
  'change sound': `sound-${engine.version}.wav`,
  'change map': `map-${engine.version}.dat`,
} as const satisfies Record<ChangeInput['kind'], string>;

/**
 * How many of each are kept; the ones that were asked for longest ago go first, and are made again when somebody asks. A
 * sound takes as much as its song, some 70 MB for four minutes at 48 kHz; a map some 60 kB.
 */
const mostKept: Record<string, number> = { '.wav': 8, '.dat': 400 };

/** What is made of two files by what their comparison found. */
export function changeInput(
  kind: ChangeInput['kind'],
  olderSha256: string,
  newerSha256: string,
  comparison: Pick<Comparison, 'alignment' | 'gainDb'>,
): ChangeInput {
  return { kind, olderSha256, newerSha256, match: matchOf(comparison) };
}

/** Says that a file was asked for just now, so that others go before it; a file that is not there stays so. */
export async function markUsed(path: string): Promise<void> {
  const now = new Date();
  await utimes(path, now, now).catch(() => {});
}

/** Keeps the last used files of a kind in the folder of one that was just written. */
export async function dropOldest(writtenPath: string): Promise<void> {
  const folder = dirname(writtenPath);
  const kind = extname(writtenPath);
  const names = (await readdir(folder)).filter((name) => extname(name) === kind);
  const used = await Promise.all(
    names.map(async (name) => {
      const path = join(folder, name);
      // A file that another worker dropped meanwhile is the oldest of all.
      return { path, atMilliseconds: (await stat(path).catch(() => null))?.mtimeMs ?? 0 };
    }),
  );
  used.sort((one, other) => other.atMilliseconds - one.atMilliseconds);
  for (const { path } of used.slice(mostKept[kind])) await rm(path, { force: true });
}
