import { MeasurementError } from './measurement-error.ts';

/** Sums over one stretch of frames, from which every unweighted level follows. */
export interface LevelSums {
  /** Per channel. */
  sums: Float64Array;
  /** Per channel. */
  squares: Float64Array;
  /** Largest absolute sample per channel. */
  peaks: Float64Array;
  /** Sum of left times right; zero unless there are two channels. */
  products: number;
}

/** Adds frames `from` to `end` up. */
export function levelSums(channels: readonly Float32Array[], from: number, end: number): LevelSums {
  const count = channels.length;
  const level: LevelSums = {
    sums: new Float64Array(count),
    squares: new Float64Array(count),
    peaks: new Float64Array(count),
    products: 0,
  };
  for (let index = 0; index < count; index++) {
    const channel = channels[index]!;
    let sum = 0;
    let square = 0;
    let peak = 0;
    for (let frame = from; frame < end; frame++) {
      const value = channel[frame]!;
      const size = value < 0 ? -value : value;
      sum += value;
      square += value * value;
      if (size > peak) peak = size;
    }
    level.sums[index] = sum;
    level.squares[index] = square;
    level.peaks[index] = peak;
  }
  if (count === 2) {
    const [left, right] = [channels[0]!, channels[1]!];
    let products = 0;
    for (let frame = from; frame < end; frame++) products += left[frame]! * right[frame]!;
    level.products = products;
  }
  return level;
}

/**
 * Refuses what no level can be given to.
 *
 * @throws MeasurementError `nan_sample`, `infinite_sample`, each with the time of the first
 */
export function assertSound(
  level: LevelSums,
  channels: readonly Float32Array[],
  from: number,
  end: number,
  timeOf: (frame: number) => string,
): void {
  if (level.squares.every((square) => Number.isFinite(square))) return;
  for (let frame = from; frame < end; frame++) {
    for (const channel of channels) {
      const value = channel[frame]!;
      if (Number.isFinite(value)) continue;
      const [code, what] = Number.isNaN(value)
        ? ['nan_sample', 'not a number']
        : ['infinite_sample', 'infinite'];
      throw new MeasurementError(
        code!,
        `A sample at ${timeOf(frame)} is ${what}, so this file has no figures. It stays as it was posted. Render it again and post the new file.`,
      );
    }
  }
}

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
      channels: readonly Float32Array[],
      from: number,
      end: number,
      firstFrame: number,
      peaks: Float64Array,
    ): FoundRun[] {
      const runs: FoundRun[] = [];
      for (let index = 0; index < channelCount; index++) {
        if (peaks[index]! < clippedLevel && length[index] === 0) continue;
        const channel = channels[index]!;
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
