import { hannWindow } from './hann.ts';
import { KernelMemory } from './kernel-memory.ts';

/** Envelopes in steps of about a hundredth of a second. */
const stepSeconds = 0.0107;
/** How far one envelope is shifted against the other. */
const reachSeconds = 0.32;
/** Under its own loudest step by so much, an envelope says nothing. */
const depthDb = 40;

/**
 * When it is room that changed: what was heard before leads the residual by so much, and resembles it then; the residual
 * resembles more what came before than what comes after; and left and right have little in common. Our own choice,
 * checked against parts with and without a room.
 */
const roomLag = { leastSeconds: 0.03, mostSeconds: 0.2 };
const roomLikeness = 0.5;
const roomAsymmetry = 0.15;
const roomCorrelation = 0.6;

export interface Ringing {
  /** 0 to 1: how sure it is that the residual is what rings on after the sound. */
  confidence: number;
}

/**
 * Whether a residual is the ring of a room: it follows the old mix, late and smeared, and differs on the two sides.
 *
 * @param gain Linear and signed; brings A to B's level.
 * @param band Where the residual stands.
 * @returns `null` where it isn't, or can't be told.
 */
export function ringing(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  gain: number,
  startFrameA: number,
  startFrameB: number,
  frames: number,
  band: { lowestHz: number; highestHz: number },
  sampleRateHz: number,
): Ringing | null {
  const size = 2 ** Math.round(Math.log2(sampleRateHz * 2 * stepSeconds));
  const steps = Math.floor((frames - size) / (size / 2)) + 1;
  if (steps * stepSeconds < 2) return null;
  const memory = new KernelMemory();
  const transform = memory.transform(size);
  const input = transform.input.values;
  const spectrum = transform.output.values;
  const firstBin = Math.max(1, Math.floor((band.lowestHz * 0.89 * size) / sampleRateHz));
  const lastBin = Math.min(size / 2 - 1, Math.ceil((band.highestHz * 1.12 * size) / sampleRateHz));
  const hann = hannWindow(size);
  const old = new Float64Array(steps);
  const residual = new Float64Array(steps);
  const image = { left: 0, right: 0, product: 0 };
  const power = (
    sampleAt: (channel: 0 | 1, frame: number) => number,
    start: number,
    sides?: typeof image,
  ) => {
    for (let frame = 0; frame < size; frame++) {
      input[2 * frame] = hann[frame]! * sampleAt(0, start + frame);
      input[2 * frame + 1] = hann[frame]! * sampleAt(1, start + frame);
    }
    transform.run();
    let sum = 0;
    for (let bin = firstBin; bin <= lastBin; bin++) {
      const [up, down] = [2 * bin, 2 * (size - bin)];
      const leftReal = spectrum[up]! + spectrum[down]!;
      const leftImaginary = spectrum[up + 1]! - spectrum[down + 1]!;
      const rightReal = spectrum[up + 1]! + spectrum[down + 1]!;
      const rightImaginary = spectrum[down]! - spectrum[up]!;
      const left = leftReal ** 2 + leftImaginary ** 2;
      const right = rightReal ** 2 + rightImaginary ** 2;
      sum += left + right;
      if (!sides) continue;
      sides.left += left;
      sides.right += right;
      sides.product += leftReal * rightReal + leftImaginary * rightImaginary;
    }
    return sum;
  };
  for (let step = 0; step < steps; step++) {
    const start = (step * size) / 2;
    old[step] = power((channel, frame) => gain * a[channel]![startFrameA + frame]!, start);
    residual[step] = power(
      (channel, frame) => b[channel]![startFrameB + frame]! - gain * a[channel]![startFrameA + frame]!,
      start,
      image,
    );
  }
  memory.free();
  const correlation = image.product / Math.sqrt(image.left * image.right + 1e-30);
  const oldLevels = centredLevels(old);
  const residualLevels = centredLevels(residual);
  const reach = Math.round(reachSeconds / stepSeconds);
  let best = { lag: 0, likeness: -1 };
  let asymmetry = 0;
  for (let lag = -reach; lag <= reach; lag++) {
    const likeness = likenessAt(oldLevels, residualLevels, lag);
    if (likeness > best.likeness) best = { lag, likeness };
    asymmetry += (Math.sign(lag) * likeness) / reach;
  }
  const lagSeconds = best.lag * stepSeconds;
  const rings =
    lagSeconds >= roomLag.leastSeconds &&
    lagSeconds <= roomLag.mostSeconds &&
    best.likeness > roomLikeness &&
    asymmetry > roomAsymmetry &&
    correlation < roomCorrelation;
  return rings ? { confidence: Math.min(0.9, best.likeness) } : null;
}

/** Levels in dB about their mean, cut off at `depthDb` under the loudest. */
function centredLevels(powers: Float64Array): Float64Array {
  const loudest = powers.reduce((most, power) => Math.max(most, power), 1e-30);
  const levels = powers.map((power) => Math.max(-depthDb, 10 * Math.log10(power / loudest + 1e-12)));
  const mean = levels.reduce((sum, level) => sum + level, 0) / levels.length;
  return levels.map((level) => level - mean);
}

/** Correlation of two envelopes, the second `lag` steps later. */
function likenessAt(one: Float64Array, other: Float64Array, lag: number): number {
  let product = 0;
  let squaresOne = 1e-12;
  let squaresOther = 1e-12;
  for (let step = Math.max(0, -lag); step < Math.min(one.length, one.length - lag); step++) {
    const [first, second] = [one[step]!, other[step + lag]!];
    product += first * second;
    squaresOne += first * first;
    squaresOther += second * second;
  }
  return product / Math.sqrt(squaresOne * squaresOther);
}
