import { type FileHandle, open } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import type { AudioFormat } from './audio-format.ts';
import { type AudioReader, bytesAt } from './audio-reader.ts';
import { isWav, openWav } from './wav.ts';

export { AudioFileError, type AudioFileErrorCode } from './audio-file-error.ts';
export type { AudioReader, OnBlock } from './audio-reader.ts';

/**
 * Opens an audio file by what its bytes say, never by its name. The header is read and held against the file's
 * length; no sound is read yet.
 *
 * @throws AudioFileError for everything that isn't sound audio of a kind that is taken
 */
export async function openAudio(path: string): Promise<AudioReader> {
  const handle = await open(path, 'r');
  try {
    return await openByContent(handle, path);
  } catch (error) {
    await handle.close();
    throw error;
  }
}

/** The kinds are loaded in turn, so that the usual WAV waits for no other kind's decoder. */
async function openByContent(handle: FileHandle, path: string): Promise<AudioReader> {
  const fileBytes = (await handle.stat()).size;
  const head = await bytesAt(handle, 0, 12);
  if (isWav(head)) return openWav(handle, fileBytes);
  const { isAiff, openAiff } = await import('./aiff.ts');
  if (isAiff(head)) return openAiff(handle, fileBytes);
  const { isMp4 } = await import('./mp4-boxes.ts');
  if (isMp4(head)) return (await import('./m4a.ts')).openM4a(handle, fileBytes, path);
  const { id3Bytes, openMp3 } = await import('./mp3.ts');
  const start = await id3Bytes(handle, 0);
  if (start > 0 && start >= fileBytes)
    throw new AudioFileError('truncated', 'The file ends inside its tags.');
  const { isFlac, openFlac } = await import('./flac.ts');
  if (isFlac(await bytesAt(handle, start, 4))) return openFlac(handle, fileBytes, start);
  const mp3 = await openMp3(handle, fileBytes, start);
  if (mp3) return mp3;
  throw new AudioFileError(
    'not_audio',
    fileBytes === 0 ? 'The file is empty.' : 'The file is no audio that is known here.',
  );
}

/**
 * A whole file in memory, one array a channel, which threads may share: a song takes a hundred megabytes.
 *
 * @throws AudioFileError
 */
export async function readWhole(path: string): Promise<{ format: AudioFormat; channels: Float32Array[] }> {
  const reader = await openAudio(path);
  try {
    const { format } = reader;
    let channels = Array.from({ length: format.channelCount }, () => sharedFloats(format.frameCount ?? 0));
    let filled = 0;
    await reader.read((block, frames) => {
      if (filled + frames > channels[0]!.length) {
        channels = channels.map((channel) => {
          const longer = sharedFloats(Math.max(filled + frames, channel.length * 2));
          longer.set(channel.subarray(0, filled));
          return longer;
        });
      }
      for (const [index, channel] of channels.entries())
        channel.set(block[index]!.subarray(0, frames), filled);
      filled += frames;
    });
    return { format, channels: channels.map((channel) => channel.subarray(0, filled)) };
  } finally {
    await reader.close();
  }
}

const sharedFloats = (length: number) => new Float32Array(new SharedArrayBuffer(4 * length));
