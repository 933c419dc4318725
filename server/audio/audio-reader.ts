import type { FileHandle } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import type { AudioFormat } from './audio-format.ts';
import type { PcmDecoder } from './pcm.ts';

/**
 * Takes one block: one array a channel, of which the first `frames` values count. Returning `false` stops the reading;
 * a promise is waited for before the block's arrays are used again.
 */
export type OnBlock = (channels: Float32Array[], frames: number) => unknown;

/** One open audio file. Memory is bounded by the block, whatever the file's length. */
export interface AudioReader {
  readonly format: AudioFormat;
  /**
   * Reads from the first frame to the last. The arrays handed to `onBlock` are used again for the next block: copy
   * what must last. May be called again; each call starts at the beginning.
   *
   * @returns the number of frames handed over.
   * @throws AudioFileError `damaged` or `truncated`, where only decoding can tell.
   */
  read(onBlock: OnBlock): Promise<{ frameCount: number }>;
  close(): Promise<void>;
}

/** Frames in one block: a few hundred kilobytes of audio, so that a block stays in the processor's cache. */
export const blockFrames = 8192;

/** Blocks that are fetched from the file at once: under a megabyte of stereo. */
const blocksInFetch = 16;

export function allocateBlock(channelCount: number): Float32Array[] {
  return Array.from({ length: channelCount }, () => new Float32Array(blockFrames));
}

/** Reads exactly `length` bytes at `position` into the start of `target`; fewer only at the end of the file. */
export async function readFully(
  handle: FileHandle,
  target: Uint8Array,
  length: number,
  position: number,
): Promise<number> {
  let filled = 0;
  while (filled < length) {
    const { bytesRead } = await handle.read(target, filled, length - filled, position + filled);
    if (bytesRead === 0) break;
    filled += bytesRead;
  }
  return filled;
}

/** The `length` bytes at `position`, or as many as the file still holds. */
export async function bytesAt(handle: FileHandle, position: number, length: number): Promise<Buffer> {
  const target = Buffer.alloc(length);
  return target.subarray(0, await readFully(handle, target, length, position));
}

/** Where the samples of a PCM file lie. */
export interface PcmData {
  decode: PcmDecoder;
  position: number;
  bytesPerFrame: number;
  frameCount: number;
}

/** A reader over interleaved PCM; while one fetch is handed over block by block, the next is already under way. */
export function pcmReader(handle: FileHandle, format: AudioFormat, data: PcmData): AudioReader {
  const framesInFetch = blockFrames * blocksInFetch;
  const fetch = (target: Uint8Array, firstFrame: number) => {
    const frames = Math.min(framesInFetch, data.frameCount - firstFrame);
    const position = data.position + firstFrame * data.bytesPerFrame;
    return readFully(handle, target, frames * data.bytesPerFrame, position);
  };
  return {
    format,
    async read(onBlock) {
      const channels = allocateBlock(format.channelCount);
      let current = new Uint8Array(framesInFetch * data.bytesPerFrame);
      let spare = new Uint8Array(framesInFetch * data.bytesPerFrame);
      let frameCount = 0;
      let pending = fetch(current, 0);
      try {
        for (let first = 0; first < data.frameCount; first += framesInFetch) {
          const frames = Math.min(framesInFetch, data.frameCount - first);
          if ((await pending) < frames * data.bytesPerFrame) {
            throw new AudioFileError('truncated', 'The file became shorter while it was being read.');
          }
          if (first + frames < data.frameCount) pending = fetch(spare, first + frames);
          for (let from = 0; from < frames; from += blockFrames) {
            const count = Math.min(blockFrames, frames - from);
            data.decode(current.subarray(from * data.bytesPerFrame), count, channels);
            frameCount += count;
            const going = onBlock(channels, count);
            if ((going instanceof Promise ? await going : going) === false) return { frameCount };
          }
          [current, spare] = [spare, current];
        }
      } finally {
        await pending;
      }
      return { frameCount };
    },
    close: () => handle.close(),
  };
}
