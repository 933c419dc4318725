import { kaiserWindow } from './kaiser.ts';
import { Area, type KernelMemory, kernels } from './kernel-memory.ts';

/**
 * Points between two frames. Sixteen hold the worst under-reading of a sine at 0.45 of the sample rate to 0.04 dB
 * (four would allow 0.55), at every rate that is taken.
 *
 * @source ITU-R BS.1770-5, Annex 2, Attachment 1: 20·log10(cos(π·f/n))
 */
export const interpolationFactor = 16;
/** Frames that one interpolated value is made of; half of them lie on either side. */
export const interpolationTaps = 32;
const halfTaps = interpolationTaps / 2;
/** Kaiser shape that keeps the pass band within 0.03 dB to 0.45 of the sample rate with these taps. */
const kaiserShape = 7;
/** Frames whose bounds are kept together. */
const stretchFrames = 32;

/**
 * The interpolator's phases 1 to 15: `phases[p][k]` weighs frame `n − 15 + k` in the value at `n + (p + 1) / 16`. Each is
 * a windowed sinc, corrected so that a constant and a straight line pass through unchanged; the pruning rests on that.
 */
export function interpolationPhases(): Float64Array[] {
  return Array.from({ length: interpolationFactor - 1 }, (_, index) => {
    const fraction = (index + 1) / interpolationFactor;
    const places = Array.from({ length: interpolationTaps }, (_, tap) => tap - halfTaps + 1 - fraction);
    const window = places.map((place) => kaiserWindow(place / halfTaps, kaiserShape));
    const weights = places.map(
      (place, tap) => (Math.sin(Math.PI * place) / (Math.PI * place)) * window[tap]!,
    );
    const sum = (terms: number[]) => terms.reduce((total, term) => total + term, 0);
    const gain = sum(weights);
    const level = weights.map((weight) => weight / gain);
    const centre = sum(window.map((weight, tap) => weight * places[tap]!)) / sum(window);
    const slope = sum(level.map((weight, tap) => weight * places[tap]!));
    const spread = sum(window.map((weight, tap) => weight * (places[tap]! - centre) * places[tap]!));
    return Float64Array.from(
      level,
      (weight, tap) => weight - (slope / spread) * window[tap]! * (places[tap]! - centre),
    );
  });
}

/**
 * How much each second difference around a frame can move the values between it and the next one. A filter that passes
 * constants and straight lines, less the straight line itself, is a filter on second differences; for each of its places
 * the largest weight of any phase is taken, so that |value| ≤ the larger of the two frames beside it plus the sum of
 * these weights times the second differences' sizes, whatever the phase.
 */
function curvatureWeights(phases: readonly Float64Array[]): Float64Array {
  const largest = new Float64Array(interpolationTaps);
  phases.forEach((phase, index) => {
    const fraction = (index + 1) / interpolationFactor;
    let first = 0;
    let second = 0;
    for (let tap = 0; tap < interpolationTaps; tap++) {
      const line = tap === halfTaps - 1 ? 1 - fraction : tap === halfTaps ? fraction : 0;
      first += phase[tap]! - line;
      second += first;
      // The second difference that this sum belongs to has its middle one frame on.
      if (tap + 1 < interpolationTaps) largest[tap + 1] = Math.max(largest[tap + 1]!, Math.abs(second));
    }
  });
  return largest;
}

const phases = interpolationPhases();
/** The phases, then the curvature weights, as the kernel reads them. */
const tables = [...phases, curvatureWeights(phases)];
const totalCurvature = tables.at(-1)!.reduce((total, weight) => total + weight, 0);
export interface PeakSpot {
  /** Absolute value, 1 at full scale. */
  peak: number;
  /** The frame at or after which it lies. */
  frame: number;
}

/**
 * True peak, stretch by stretch. Frames that can't beat what was found already are never interpolated; the result is
 * that of interpolating them all, since the bound is exact: first for a stretch by its largest frame and second
 * difference, then frame by frame. For music the bound lies little over the samples.
 *
 * @source ITU-R BS.1770-5, Annex 2
 */
export function createTruePeakFinder(memory: KernelMemory, largestRangeFrames: number) {
  const scratch = memory.floats(2 * (Math.ceil(largestRangeFrames / stretchFrames) + 2));
  const table = memory.floats(tables.length * interpolationTaps);
  for (const [index, weights] of tables.entries()) table.values.set(weights, index * interpolationTaps);
  const foundPeak = memory.floats(2);
  const foundFrame = new Area(foundPeak.address, 2, Int32Array);

  /**
   * The largest absolute value of any channel in frames `from` to `end` and between them and their next frames, never
   * under the sample peak. Each channel must hold sixteen frames before `from` and after `end`, and one stretch more.
   *
   * @param firstKnown the first frame of the file, and
   * @param endKnown the one after its last: between frames whose neighbours aren't all known nothing is interpolated,
   *   since silence around the file would be heard as a step
   */
  return (
    channels: readonly Area<Float32Array>[],
    from: number,
    end: number,
    firstKnown: number,
    endKnown: number,
  ): PeakSpot => {
    foundPeak.values[0] = 0;
    foundFrame.values[1] = from;
    const firstWhole = Math.max(from, firstKnown + halfTaps - 1);
    const endWhole = Math.min(end, endKnown - halfTaps);
    for (const channel of channels)
      kernels.findPeak(
        channel.address,
        from,
        end,
        firstWhole,
        endWhole,
        totalCurvature,
        table.address,
        scratch.address,
        foundPeak.address,
      );
    return { peak: foundPeak.values[0]!, frame: foundFrame.values[1]! };
  };
}
