import { kWeighting } from './k-weighting.ts';
import { type Area, type KernelMemory, kernels } from './kernel-memory.ts';

/** Places of a pair's sums in the kernel's list, each one value a lane. */
const sumPlaces = {
  weighted: 0,
  folded: 2,
  samples: 4,
  squares: 6,
  peaks: 8,
  products: 10,
  count: 12,
} as const;
const statesOfPair = 12;

/** K-weighted energies of one stretch of frames. */
export interface WeightedEnergy {
  /** Sum of squares over the channels, each by its weight. */
  energy: number;
  /** The same when both speakers play (L + R) / 2; zero unless there are two channels. */
  foldDownEnergy: number;
}

/**
 * Level and K-weighted energy of a signal that comes stretch by stretch, in one pass. The filters keep their state from
 * one stretch to the next, so that the energies of consecutive stretches add up to that of the whole.
 */
export class LevelMeter {
  /** Since the last `clear`, per channel: sum of samples, sum of squares, largest absolute sample. */
  readonly samples: Float64Array;
  readonly squares: Float64Array;
  readonly peaks: Float64Array;
  /** Sum of left times right; zero unless there are two channels. */
  products = 0;
  readonly #weights: readonly number[];
  readonly #filter: Area<Float64Array>;
  readonly #silence: Area<Float32Array>;
  readonly #pairs: { state: Area<Float64Array>; sums: Area<Float64Array> }[];

  /**
   * @param weights what each channel's power counts for in loudness
   * @param largestRangeFrames the longest stretch that will be taken
   */
  constructor(
    memory: KernelMemory,
    sampleRateHz: number,
    weights: readonly number[],
    largestRangeFrames: number,
  ) {
    this.#weights = weights;
    this.samples = new Float64Array(weights.length);
    this.squares = new Float64Array(weights.length);
    this.peaks = new Float64Array(weights.length);
    this.#filter = memory.doubles(10);
    const { shelf, highPass } = kWeighting(sampleRateHz);
    this.#filter.values.set([shelf, highPass].flatMap(({ b0, b1, b2, a1, a2 }) => [b0, b1, b2, a1, a2]));
    this.#silence = memory.floats(weights.length % 2 === 1 ? largestRangeFrames : 1);
    this.#pairs = Array.from({ length: Math.ceil(weights.length / 2) }, () => ({
      state: memory.doubles(statesOfPair),
      sums: memory.doubles(sumPlaces.count),
    }));
  }

  /** Takes frames `from` to `end`, and gives their energies alone. */
  take(channels: readonly Area<Float32Array>[], from: number, end: number): WeightedEnergy {
    let energy = 0;
    for (const [pair, { state, sums }] of this.#pairs.entries()) {
      const second = channels[2 * pair + 1];
      kernels.weigh(
        channels[2 * pair]!.address + 4 * from,
        second ? second.address + 4 * from : this.#silence.address,
        end - from,
        this.#filter.address,
        state.address,
        sums.address,
      );
      const { values } = sums;
      energy += this.#weights[2 * pair]! * values[sumPlaces.weighted]!;
      if (second) energy += this.#weights[2 * pair + 1]! * values[sumPlaces.weighted + 1]!;
    }
    const first = this.#pairs[0]!.sums.values;
    // Each of the two speakers plays half the sum: 2 · (½)² of its square.
    const foldDownEnergy = this.#weights.length === 2 ? first[sumPlaces.folded]! / 2 : 0;
    for (const { sums } of this.#pairs) sums.values.fill(0, 0, sumPlaces.samples);
    return { energy, foldDownEnergy };
  }

  /** Brings the sums since the last `clear` up to date. */
  read(): void {
    for (const [pair, { sums }] of this.#pairs.entries()) {
      const { values } = sums;
      for (let lane = 0; lane < 2 && 2 * pair + lane < this.#weights.length; lane++) {
        this.samples[2 * pair + lane] = values[sumPlaces.samples + lane]!;
        this.squares[2 * pair + lane] = values[sumPlaces.squares + lane]!;
        this.peaks[2 * pair + lane] = values[sumPlaces.peaks + lane]!;
      }
    }
    this.products = this.#weights.length === 2 ? this.#pairs[0]!.sums.values[sumPlaces.products]! : 0;
  }

  clear(): void {
    for (const { sums } of this.#pairs) sums.values.fill(0);
  }
}
