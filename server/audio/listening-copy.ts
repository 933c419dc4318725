import { rename, rm } from 'node:fs/promises';
import type { AudioFormat } from './audio-format.ts';
import { openAudio } from './open-audio.ts';
import { createWavWriter, type WavOptions } from './write-wav.ts';

/** What a browser is given in place of a file that it can't play. */
export interface ListeningCopy {
  /** `lossless`: every sample as in the original; `declared`: rounded, and the description says how. */
  kind: 'lossless' | 'declared';
  description: string;
}

/** Integer depths that browsers play as WAV; deeper ones, 64-bit floats and AIFF they don't. */
const playableIntegerBits = 24;

/** Whether browsers can't play the original: AIFF, BW64, ALAC, 32-bit integers and 64-bit floats. */
export function listeningCopyNeeded(format: AudioFormat): boolean {
  if (format.container === 'flac' || format.container === 'mp3') return false;
  if (format.container === 'm4a') return format.encoding !== 'lossy';
  if (format.container !== 'wav' && format.container !== 'rf64') return true;
  return format.encoding === 'float' ? format.bitDepth !== 32 : (format.bitDepth ?? 0) > playableIntegerBits;
}

function copyOptions(format: AudioFormat): WavOptions {
  const { sampleRateHz } = format;
  const bits = format.bitDepth ?? 32;
  if (format.encoding !== 'integer' || bits > playableIntegerBits) {
    return { sampleRateHz, bitDepth: 32, encoding: 'float' };
  }
  return { sampleRateHz, bitDepth: bits > 16 ? 24 : 16, encoding: 'integer' };
}

/**
 * Writes the copy that browsers play: WAV of the same rate, channels and, where it fits, depth. It appears at
 * `targetPath` only when it is whole.
 *
 * @throws AudioFileError where the original doesn't read; nothing is left at `targetPath` then.
 */
export async function writeListeningCopy(sourcePath: string, targetPath: string): Promise<ListeningCopy> {
  const reader = await openAudio(sourcePath);
  const partPath = `${targetPath}.part`;
  try {
    const { format } = reader;
    const options = copyOptions(format);
    const writer = await createWavWriter(partPath, format.channelCount, options);
    try {
      await reader.read((channels, frames) => writer.write(channels, frames));
    } finally {
      await writer.close();
    }
    await rename(partPath, targetPath);
    return describeCopy(format, options);
  } catch (error) {
    await rm(partPath, { force: true });
    throw error;
  } finally {
    await reader.close();
  }
}

function describeCopy(format: AudioFormat, options: WavOptions): ListeningCopy {
  const copy = `WAV, ${options.bitDepth}-bit ${options.encoding}`;
  const original = format.bitDepth === null ? 'MP3' : `${format.bitDepth}-bit ${format.encoding}`;
  const exact =
    format.encoding === 'lossy' ||
    (format.bitDepth ?? 0) <= (format.encoding === 'float' ? 32 : playableIntegerBits);
  return exact
    ? { kind: 'lossless', description: `${copy}: sample for sample the original` }
    : {
        kind: 'declared',
        description: `${copy}: the original's ${original} samples rounded to 24 bits of precision`,
      };
}
