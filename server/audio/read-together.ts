import type { AudioReader } from './audio-reader.ts';

/**
 * Reads several files side by side, from the first frame of each to the last of the longest: a file that has ended
 * brings zeros. What is held is a block a file, whatever their lengths.
 *
 * @param onBlock Gets stereo a file, mono on both sides; the arrays are used again for the next block.
 * @throws AudioFileError `damaged` or `truncated`, where only decoding can tell.
 */
export async function readTogether(
  readers: readonly AudioReader[],
  onBlock: (files: readonly (readonly Float32Array[])[], frames: number) => void,
): Promise<void> {
  const feeds = readers.map(feedOf);
  const blocks = readers.map(() => [new Float32Array(blockFrames), new Float32Array(blockFrames)]);
  try {
    for (;;) {
      let frames = 0;
      for (const [index, feed] of feeds.entries()) {
        const filled = await feed.fill(blocks[index]!);
        for (const channel of blocks[index]!) channel.fill(0, filled);
        frames = Math.max(frames, filled);
      }
      if (frames === 0) return;
      onBlock(blocks, frames);
    }
  } finally {
    await Promise.all(feeds.map((feed) => feed.stop()));
  }
}

const blockFrames = 8192;

/** Turns a reader that hands over into one that is asked: it waits, block in hand, until what it read is wanted. */
function feedOf(reader: AudioReader) {
  let block: readonly Float32Array[] = [];
  let held = 0;
  let used = 0;
  let stopped = false;
  let ended = false;
  let arrived = () => {};
  let wanted = () => {};
  let reading: Promise<unknown> | null = null;
  let failure: unknown = null;

  const next = (): Promise<void> => {
    const arrival = new Promise<void>((resolve) => {
      arrived = resolve;
    });
    if (reading) wanted();
    else
      reading = reader
        .read((channels, frames) => {
          if (stopped) return false;
          block = channels;
          held = frames;
          used = 0;
          const want = new Promise<boolean>((resolve) => {
            wanted = () => resolve(!stopped);
          });
          arrived();
          return want;
        })
        .catch((error: unknown) => {
          failure = error;
        })
        .finally(() => {
          ended = true;
          held = used = 0;
          arrived();
        });
    return arrival;
  };

  return {
    /** Fills both channels as far as the file goes. @returns the frames filled; fewer than asked only at its end. */
    async fill([left, right]: readonly Float32Array[]): Promise<number> {
      let filled = 0;
      while (filled < blockFrames) {
        if (used === held) {
          if (!ended) await next();
          if (failure) throw failure;
          if (ended) break;
        }
        const count = Math.min(blockFrames - filled, held - used);
        const [from, other] = [block[0]!, block[1] ?? block[0]!];
        left!.set(from.subarray(used, used + count), filled);
        right!.set(other.subarray(used, used + count), filled);
        used += count;
        filled += count;
      }
      return filled;
    },
    async stop(): Promise<void> {
      stopped = true;
      wanted();
      await reading;
    },
  };
}
