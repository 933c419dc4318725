import type { Area } from './kernel-memory.ts';

/** A sample this close to full scale may be clipped: −0.1 dBFS (*common practice*). */
const clippedLevel = 10 ** (-0.1 / 20);
/** So many equal samples in a row at that level count as clipped (*common practice*). */
const framesInClippedRun = 3;

export interface FoundRun {
  /** Absolute frame of the first clipped sample. */
  frame: number;
  frames: number;
  channel: number;
}

/**
 * Finds runs of clipped samples across consecutive stretches. A run is reported once it has ended; `finish` reports one
 * that lasts to the end of the file.
 */
export function createClippingFinder(channelCount: number) {
  const value = new Float64Array(channelCount);
  const start = new Float64Array(channelCount);
  const length = new Float64Array(channelCount);

  const endRun = (channel: number): FoundRun | null => {
    const frames = length[channel]!;
    length[channel] = 0;
    return frames >= framesInClippedRun ? { frame: start[channel]!, frames, channel } : null;
  };

  return {
    /** @param firstFrame absolute frame of the sample at `from` */
    push(
      channels: readonly Area<Float32Array>[],
      from: number,
      end: number,
      firstFrame: number,
      peaks: Float64Array,
    ): FoundRun[] {
      const runs: FoundRun[] = [];
      for (let index = 0; index < channelCount; index++) {
        if (peaks[index]! < clippedLevel && length[index] === 0) continue;
        const channel = channels[index]!.values;
        for (let frame = from; frame < end; frame++) {
          const sample = channel[frame]!;
          if (length[index]! > 0 && sample === value[index]) {
            length[index]!++;
            continue;
          }
          const run = endRun(index);
          if (run) runs.push(run);
          if (Math.abs(sample) >= clippedLevel) {
            value[index] = sample;
            start[index] = firstFrame + frame - from;
            length[index] = 1;
          }
        }
      }
      return runs;
    },
    finish(): FoundRun[] {
      return Array.from({ length: channelCount }, (_, channel) => endRun(channel)).filter(
        (run) => run !== null,
      );
    },
  };
}
