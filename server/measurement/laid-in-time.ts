import { type Alignment, align, fractionalDelayFrames, searchOf } from './alignment.ts';
import type { CrossSpectrum } from './cross-spectrum.ts';
import { speedRatio } from './drift.ts';
import { resample } from './rate-conversion.ts';

/** So many parts of the song tell how the delay slides along it. */
const slidingParts = 9;

/** Less sliding than this over the whole song is none. */
const leastSlideFrames = 2;

/** A laid over B in time. */
export interface LaidInTime {
  /** A's, with the fraction of a frame taken out and brought to B's speed. */
  channels: readonly Float32Array[];
  alignment: Alignment;
  /** What A was moved by beside the alignment, in frames. */
  fraction: number;
  /** Frames of B for each frame of A. */
  ratio: number;
}

function laidAsItRuns(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  spectrum: CrossSpectrum,
  sampleRateHz: number,
  search = searchOf(a, b, sampleRateHz),
): LaidInTime {
  const alignment = align(a, b, sampleRateHz, search);
  const fraction = fractionOf(a, b, alignment, spectrum, sampleRateHz);
  const channels = fraction === 0 ? a : resample(a, 1, a[0]!.length, -fraction);
  return { channels, alignment, fraction, ratio: 1 };
}

/**
 * Lays A over B: found to the sample, moved by the fraction of a frame that is left, and brought to B's speed where the two
 * slide apart.
 *
 * @param a Stereo, at B's sample rate.
 * @throws ComparisonError `different_songs` where the two share too little.
 */
export function laidInTime(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  spectrum: CrossSpectrum,
  sampleRateHz: number,
): LaidInTime {
  const search = searchOf(a, b, sampleRateHz);
  const { lowA, lowB, factor, lags, certain } = search;
  let ratio = certain ? 1 : speedRatio(lowA, lowB, sampleRateHz / factor, lags[0] ?? 0);
  if (ratio === 1) return laidAsItRuns(a, b, spectrum, sampleRateHz, search);
  const framesA = a[0]!.length;
  let channels: readonly Float32Array[] = resample(a, ratio, Math.round(framesA * ratio));
  const alignment = align(channels, b, sampleRateHz);
  let fraction = 0;
  // Twice: the first line is drawn where parts still slide within their own windows.
  for (let round = 0; round < 2; round++) {
    const delay = slidingDelay(channels, b, alignment, spectrum, sampleRateHz);
    fraction += delay.startFrames;
    ratio /= 1 - delay.slope;
    channels = resample(a, ratio, Math.round(framesA * ratio), -fraction / ratio);
  }
  // What looked like sliding among few places may turn out to be none.
  return Math.abs(ratio - 1) * framesA < leastSlideFrames
    ? laidAsItRuns(a, b, spectrum, sampleRateHz, search)
    : { channels, alignment, fraction, ratio };
}

/**
 * The delay where it slides along the song: the line through that of each ninth of it. What `speedRatio` left of the
 * sliding is some hundredths of a frame a minute.
 *
 * @returns the delay at A's first frame, and by how much it grows with every frame
 */
function slidingDelay(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  alignment: Alignment,
  spectrum: CrossSpectrum,
  sampleRateHz: number,
): { startFrames: number; slope: number } {
  const longest = alignment.pieces.reduce((one, other) => (other.frames > one.frames ? other : one));
  const frames = Math.floor(longest.frames / slidingParts);
  const delays = Array.from({ length: slidingParts }, (_, part) => {
    const startFrameA = longest.startFrameA + part * frames;
    const piece = { ...longest, startFrameA, startFrameB: longest.startFrameB + part * frames, frames };
    const delay = fractionalDelayFrames(a, b, { ...alignment, pieces: [piece] }, spectrum, sampleRateHz);
    return { at: startFrameA + frames / 2, delay };
  });
  const meanAt = delays.reduce((sum, { at }) => sum + at, 0) / slidingParts;
  const meanDelay = delays.reduce((sum, { delay }) => sum + delay, 0) / slidingParts;
  let product = 0;
  let square = 0;
  for (const { at, delay } of delays) {
    product += (at - meanAt) * (delay - meanDelay);
    square += (at - meanAt) ** 2;
  }
  const slope = product / square;
  return { startFrames: meanDelay - slope * meanAt, slope };
}

/** Under a few thousandths of a frame the delay is none, and A's own samples are compared. */
function fractionOf(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  alignment: Alignment,
  spectrum: CrossSpectrum,
  sampleRateHz: number,
): number {
  const fraction = fractionalDelayFrames(a, b, alignment, spectrum, sampleRateHz);
  return Math.abs(fraction) < 0.004 ? 0 : fraction;
}
