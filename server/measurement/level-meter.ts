import { kWeighting } from './k-weighting.ts';
import { type Area, type KernelMemory, kernels } from './kernel-memory.ts';

/** Places of a pair's sums in the kernel's list, each one value a lane. */
const sumPlaces = { samples: 0, squares: 2, peaks: 4, products: 6, count: 8 } as const;
/** The same of each piece's energies. */
const energyPlaces = { weighted: 0, folded: 2, count: 4 } as const;
const statesOfPair = 12;

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
  readonly #ends: Area<Int32Array>;
  readonly #energies: Area<Float64Array>;
  /** Of the pieces that were taken last: sum of squares over the channels, each by its weight. */
  readonly energies: Float64Array;
  /** The same when both speakers play (L + R) / 2; zero unless there are two channels. */
  readonly foldDownEnergies: Float64Array;

  /**
   * @param weights what each channel's power counts for in loudness
   * @param largestRangeFrames the most frames that will be taken at once, and
   * @param mostPieces the most pieces
   */
  constructor(
    memory: KernelMemory,
    sampleRateHz: number,
    weights: readonly number[],
    largestRangeFrames: number,
    mostPieces: number,
  ) {
    this.#weights = weights;
    this.samples = new Float64Array(weights.length);
    this.squares = new Float64Array(weights.length);
    this.peaks = new Float64Array(weights.length);
    this.energies = new Float64Array(mostPieces);
    this.foldDownEnergies = new Float64Array(mostPieces);
    this.#ends = memory.integers(mostPieces);
    this.#energies = memory.doubles(energyPlaces.count * mostPieces);
    this.#filter = memory.doubles(10);
    const { shelf, highPass } = kWeighting(sampleRateHz);
    this.#filter.values.set([shelf, highPass].flatMap(({ b0, b1, b2, a1, a2 }) => [b0, b1, b2, a1, a2]));
    this.#silence = memory.floats(weights.length % 2 === 1 ? largestRangeFrames : 1);
    this.#pairs = Array.from({ length: Math.ceil(weights.length / 2) }, () => ({
      state: memory.doubles(statesOfPair),
      sums: memory.doubles(sumPlaces.count),
    }));
  }

  /**
   * Takes the frames from `from` on, and tells the energies of each piece.
   *
   * @param ends where the pieces end, in order; the last is where the frames end
   */
  take(channels: readonly Area<Float32Array>[], from: number, ends: readonly number[]): void {
    const places = this.#ends.values;
    for (let piece = 0; piece < ends.length; piece++) places[piece] = ends[piece]! - from;
    this.energies.fill(0, 0, ends.length);
    for (const [pair, { state, sums }] of this.#pairs.entries()) {
      const second = channels[2 * pair + 1];
      kernels.weigh(
        channels[2 * pair]!.address + 4 * from,
        second ? second.address + 4 * from : this.#silence.address,
        this.#ends.address,
        ends.length,
        this.#filter.address,
        state.address,
        sums.address,
        this.#energies.address,
      );
      const weight = this.#weights[2 * pair]!;
      const secondWeight = second ? this.#weights[2 * pair + 1]! : 0;
      const { values } = this.#energies;
      for (let piece = 0, at = 0; piece < ends.length; piece++, at += energyPlaces.count) {
        this.energies[piece]! +=
          weight * values[at + energyPlaces.weighted]! +
          secondWeight * values[at + energyPlaces.weighted + 1]!;
        // Each of the two speakers plays half the sum: 2 · (½)² of its square.
        if (pair === 0) this.foldDownEnergies[piece] = values[at + energyPlaces.folded]! / 2;
      }
    }
    if (this.#weights.length !== 2) this.foldDownEnergies.fill(0, 0, ends.length);
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
