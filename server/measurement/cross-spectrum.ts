import { hannWindow } from './hann.ts';
import type { KernelMemory } from './kernel-memory.ts';
import { thirdOctaveBands } from './third-octave.ts';

/** The bands that a window of about a sixth of a second can tell apart: the lowest and the highest are left out. */
export const crossBands = thirdOctaveBands.slice(1, -1);

/** What one window's cross-spectrum holds, band by band, by index of `crossBands`; powers are relative, not calibrated. */
export interface CrossSums {
  powerLeftA: Float64Array;
  powerRightA: Float64Array;
  powerLeftB: Float64Array;
  powerRightB: Float64Array;
  /** Real and imaginary part of B times the conjugate of A, left and right. */
  realLeft: Float64Array;
  imaginaryLeft: Float64Array;
  realRight: Float64Array;
  imaginaryRight: Float64Array;
  /** Real part of left times the conjugate of right. */
  imageA: Float64Array;
  imageB: Float64Array;
  /** Real part of B left · A right* + A left · B right*. */
  imageAcross: Float64Array;
  /** The frequency that stands for the band's cross power, left and right together. */
  centreHz: Float64Array;
}

export function createCrossSums(): CrossSums {
  const bands = () => new Float64Array(crossBands.length);
  return {
    powerLeftA: bands(),
    powerRightA: bands(),
    powerLeftB: bands(),
    powerRightB: bands(),
    realLeft: bands(),
    imaginaryLeft: bands(),
    realRight: bands(),
    imaginaryRight: bands(),
    imageA: bands(),
    imageB: bands(),
    imageAcross: bands(),
    centreHz: bands(),
  };
}

/** How often A stands in a sum: it grows by that power of A's gain. */
const timesOfA: Readonly<Record<keyof CrossSums, 0 | 1 | 2>> = {
  powerLeftA: 2,
  powerRightA: 2,
  powerLeftB: 0,
  powerRightB: 0,
  realLeft: 1,
  imaginaryLeft: 1,
  realRight: 1,
  imaginaryRight: 1,
  imageA: 2,
  imageB: 0,
  imageAcross: 1,
  centreHz: 0,
};
const sumNames = Object.keys(timesOfA) as (keyof CrossSums)[];

/** Adds one window's sums to running sums. @param gainA linear, of A */
export function addCrossSums(into: CrossSums, sums: CrossSums, gainA = 1): void {
  for (const name of sumNames) {
    const target = into[name];
    const source = sums[name];
    const factor = gainA ** timesOfA[name];
    for (let band = 0; band < target.length; band++) target[band] = target[band]! + factor * source[band]!;
  }
}

/** Powers of one band over both channels: A's, B's, their product's, and that of B less A. */
export function bandPowers(
  { powerLeftA, powerRightA, powerLeftB, powerRightB, realLeft, realRight }: CrossSums,
  band: number,
): { older: number; newer: number; product: number; rest: number } {
  const older = powerLeftA[band]! + powerRightA[band]!;
  const newer = powerLeftB[band]! + powerRightB[band]!;
  const product = realLeft[band]! + realRight[band]!;
  return { older, newer, product, rest: Math.max(0, older + newer - 2 * product) };
}

export interface CrossSpectrum {
  windowFrames: number;
  /**
   * Measures one Hann window of two stereo signals, A from `startA`, B from `startB`; beyond their ends is silence.
   *
   * @param gain Linear and signed, where A is to be brought to B's level first. What little B and A then differ by is
   *   transformed in place of B, so that it isn't lost in the rounding of single precision.
   * @returns sums that are overwritten by the next call.
   */
  measure(
    a: readonly Float32Array[],
    startA: number,
    b: readonly Float32Array[],
    startB: number,
    gain?: number,
  ): CrossSums;
}

/** Window of about a sixth of a second: short enough for a bar's quarter, long enough for a third-octave at 50 Hz. */
function windowFramesAt(sampleRateHz: number): number {
  return 2 ** Math.round(Math.log2(sampleRateHz * 0.17));
}

/** Prepares the tables for one sample rate; the rest allocates nothing. */
export function createCrossSpectrum(memory: KernelMemory, sampleRateHz: number): CrossSpectrum {
  const size = windowFramesAt(sampleRateHz);
  const transformA = memory.transform(size);
  const transformB = memory.transform(size);
  const hann = hannWindow(size);
  const silence = new Float32Array(size);
  const sums = createCrossSums();
  const binHz = sampleRateHz / size;
  const firstBin = crossBands.map(({ lowerEdgeHz }) => Math.ceil(lowerEdgeHz / binHz));
  const endBin = crossBands.map(({ upperEdgeHz }) => Math.min(size / 2, Math.ceil(upperEdgeHz / binHz)));

  const windowOf = (channel: Float32Array, start: number): Float32Array => {
    if (start >= 0 && start + size <= channel.length) return channel.subarray(start, start + size);
    const padded = silence.slice();
    const from = Math.max(0, -start);
    if (start < channel.length && from < size)
      padded.set(channel.subarray(start + from, Math.min(channel.length, start + size)), from);
    return padded;
  };

  /** Left as the real part, right as the imaginary one: one transform for both. */
  const load = (
    a: readonly Float32Array[],
    startA: number,
    b: readonly Float32Array[],
    startB: number,
    gainA: number,
    takenFromB: number,
  ) => {
    const leftA = windowOf(a[0]!, startA);
    const rightA = windowOf(a[1] ?? a[0]!, startA);
    const leftB = windowOf(b[0]!, startB);
    const rightB = windowOf(b[1] ?? b[0]!, startB);
    const intoA = transformA.input.values;
    const intoB = transformB.input.values;
    for (let frame = 0; frame < size; frame++) {
      const weight = hann[frame]!;
      intoA[2 * frame] = leftA[frame]! * gainA * weight;
      intoA[2 * frame + 1] = rightA[frame]! * gainA * weight;
      intoB[2 * frame] = (leftB[frame]! - takenFromB * leftA[frame]!) * weight;
      intoB[2 * frame + 1] = (rightB[frame]! - takenFromB * rightA[frame]!) * weight;
    }
    transformA.run();
    transformB.run();
  };

  return {
    windowFrames: size,
    measure(a, startA, b, startB, gain) {
      load(a, startA, b, startB, gain ?? 1, gain ?? 0);
      const spectrumA = transformA.output.values;
      const rest = transformB.output.values;
      // What was taken from B is given back to its spectrum, in double precision.
      const back = gain === undefined ? 0 : 1;
      for (let band = 0; band < crossBands.length; band++) {
        let powerLeftA = 0;
        let powerRightA = 0;
        let powerLeftB = 0;
        let powerRightB = 0;
        let realLeft = 0;
        let imaginaryLeft = 0;
        let realRight = 0;
        let imaginaryRight = 0;
        let imageA = 0;
        let imageB = 0;
        let imageAcross = 0;
        let weighted = 0;
        let weight = 0;
        for (let bin = firstBin[band]!; bin < endBin[band]!; bin++) {
          const up = 2 * bin;
          const down = 2 * (size - bin);
          const leftAReal = spectrumA[up]! + spectrumA[down]!;
          const leftAImaginary = spectrumA[up + 1]! - spectrumA[down + 1]!;
          const rightAReal = spectrumA[up + 1]! + spectrumA[down + 1]!;
          const rightAImaginary = spectrumA[down]! - spectrumA[up]!;
          const leftBReal = rest[up]! + rest[down]! + back * leftAReal;
          const leftBImaginary = rest[up + 1]! - rest[down + 1]! + back * leftAImaginary;
          const rightBReal = rest[up + 1]! + rest[down + 1]! + back * rightAReal;
          const rightBImaginary = rest[down]! - rest[up]! + back * rightAImaginary;
          powerLeftA += leftAReal * leftAReal + leftAImaginary * leftAImaginary;
          powerRightA += rightAReal * rightAReal + rightAImaginary * rightAImaginary;
          powerLeftB += leftBReal * leftBReal + leftBImaginary * leftBImaginary;
          powerRightB += rightBReal * rightBReal + rightBImaginary * rightBImaginary;
          const crossLeft = leftBReal * leftAReal + leftBImaginary * leftAImaginary;
          const crossRight = rightBReal * rightAReal + rightBImaginary * rightAImaginary;
          realLeft += crossLeft;
          imaginaryLeft += leftBImaginary * leftAReal - leftBReal * leftAImaginary;
          realRight += crossRight;
          imaginaryRight += rightBImaginary * rightAReal - rightBReal * rightAImaginary;
          imageA += leftAReal * rightAReal + leftAImaginary * rightAImaginary;
          imageB += leftBReal * rightBReal + leftBImaginary * rightBImaginary;
          imageAcross +=
            leftBReal * rightAReal +
            leftBImaginary * rightAImaginary +
            leftAReal * rightBReal +
            leftAImaginary * rightBImaginary;
          const size2 = Math.abs(crossLeft) + Math.abs(crossRight);
          weighted += size2 * bin;
          weight += size2;
        }
        sums.powerLeftA[band] = powerLeftA;
        sums.powerRightA[band] = powerRightA;
        sums.powerLeftB[band] = powerLeftB;
        sums.powerRightB[band] = powerRightB;
        sums.realLeft[band] = realLeft;
        sums.imaginaryLeft[band] = imaginaryLeft;
        sums.realRight[band] = realRight;
        sums.imaginaryRight[band] = imaginaryRight;
        sums.imageA[band] = imageA;
        sums.imageB[band] = imageB;
        sums.imageAcross[band] = imageAcross;
        sums.centreHz[band] = weight > 0 ? (weighted / weight) * binHz : 0;
      }
      return sums;
    },
  };
}
