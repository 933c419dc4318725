import FFT from 'fft.js';
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

/** Adds one window's sums to running sums. */
export function addCrossSums(into: CrossSums, sums: CrossSums): void {
  for (const key of Object.keys(into) as (keyof CrossSums)[]) {
    const target = into[key];
    const source = sums[key];
    for (let band = 0; band < target.length; band++) target[band] = target[band]! + source[band]!;
  }
}

export interface CrossSpectrum {
  windowFrames: number;
  /**
   * Measures one Hann window of two stereo signals, A from `startA`, B from `startB`; beyond their ends is silence.
   *
   * @returns sums that are overwritten by the next call.
   */
  measure(a: readonly Float32Array[], startA: number, b: readonly Float32Array[], startB: number): CrossSums;
}

/** Window of about a sixth of a second: short enough for a bar's quarter, long enough for a third-octave at 50 Hz. */
function windowFramesAt(sampleRateHz: number): number {
  return 2 ** Math.round(Math.log2(sampleRateHz * 0.17));
}

/** Prepares the tables for one sample rate; the rest allocates nothing. */
export function createCrossSpectrum(sampleRateHz: number): CrossSpectrum {
  const size = windowFramesAt(sampleRateHz);
  const fft = new FFT(size);
  const hann = new Float64Array(size).map((_, frame) => 0.5 - 0.5 * Math.cos((2 * Math.PI * frame) / size));
  const input = new Float64Array(2 * size);
  const spectrumA = new Float64Array(2 * size);
  const spectrumB = new Float64Array(2 * size);
  const sums = createCrossSums();
  const binHz = sampleRateHz / size;
  const firstBin = crossBands.map(({ lowerEdgeHz }) => Math.ceil(lowerEdgeHz / binHz));
  const endBin = crossBands.map(({ upperEdgeHz }) => Math.min(size / 2, Math.ceil(upperEdgeHz / binHz)));

  /** Left as the real part, right as the imaginary one: one transform for both. */
  const transform = (into: Float64Array, channels: readonly Float32Array[], start: number) => {
    const left = channels[0]!;
    const right = channels[1] ?? left;
    const from = Math.max(0, -start);
    const to = Math.min(size, left.length - start);
    if (from > 0 || to < size) input.fill(0);
    for (let frame = from; frame < to; frame++) {
      const weight = hann[frame]!;
      input[2 * frame] = left[start + frame]! * weight;
      input[2 * frame + 1] = right[start + frame]! * weight;
    }
    fft.transform(into, input);
  };

  return {
    windowFrames: size,
    measure(a, startA, b, startB) {
      transform(spectrumA, a, startA);
      transform(spectrumB, b, startB);
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
          const leftBReal = spectrumB[up]! + spectrumB[down]!;
          const leftBImaginary = spectrumB[up + 1]! - spectrumB[down + 1]!;
          const rightBReal = spectrumB[up + 1]! + spectrumB[down + 1]!;
          const rightBImaginary = spectrumB[down]! - spectrumB[up]!;
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
