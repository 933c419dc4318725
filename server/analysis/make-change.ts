import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname } from 'node:path';
import { writeWav } from '../audio/write-wav.ts';
import { encodeChangeMap, mapChange } from '../measurement/change-map.ts';
import { type ChangeFigures, renderChange } from '../measurement/change-render.ts';
import type { ComparedSound } from '../measurement/comparison.ts';
import type { Match } from '../measurement/matched-older.ts';
import { readSound } from './read-sound.ts';
import { dropOldest } from './stored-change.ts';
import { writeWhole } from './write-whole.ts';

/** A change wants both versions and what their comparison found. */
export interface ChangeFiles {
  olderPath: string;
  newerPath: string;
  match: Match;
  targetPath: string;
}

/**
 * Renders the change alone as a WAV file of 24 bits, seen whole or not at all. Both versions are held in memory.
 *
 * @throws MeasurementError, AudioFileError
 */
export async function storeChangeSound(
  files: ChangeFiles,
  onProgress: (share: number) => void,
): Promise<ChangeFigures> {
  const { older, newer } = await soundsOf(files, onProgress);
  const { channels, figures } = renderChange(older, newer, files.match, (share) =>
    onProgress(0.2 + 0.7 * share),
  );
  const { targetPath } = files;
  await mkdir(dirname(targetPath), { recursive: true });
  // One change is rendered by one worker at a time; after a crash it is rendered again, over what was left behind.
  const arriving = `${targetPath}.arriving`;
  try {
    await writeWav(arriving, channels, {
      sampleRateHz: newer.sampleRateHz,
      bitDepth: 24,
      encoding: 'integer',
    });
    const handle = await open(arriving, 'r+');
    await handle.sync();
    await handle.close();
    await rename(arriving, targetPath);
  } catch (error) {
    await rm(arriving, { force: true });
    throw error;
  }
  await dropOldest(targetPath);
  onProgress(1);
  return figures;
}

/** Draws the map of the change. @throws MeasurementError, AudioFileError */
export async function storeChangeMap(
  files: ChangeFiles,
  onProgress: (share: number) => void,
): Promise<{ hopCount: number }> {
  const { older, newer } = await soundsOf(files, onProgress);
  const map = mapChange(older, newer, files.match, (share) => onProgress(0.2 + 0.8 * share));
  await writeWhole(files.targetPath, encodeChangeMap(map));
  await dropOldest(files.targetPath);
  return { hopCount: map.hopCount };
}

async function soundsOf(
  { olderPath, newerPath }: ChangeFiles,
  onProgress: (share: number) => void,
): Promise<{ older: ComparedSound; newer: ComparedSound }> {
  const older = await readSound(olderPath);
  onProgress(0.1);
  const newer = await readSound(newerPath);
  onProgress(0.2);
  return { older, newer };
}
