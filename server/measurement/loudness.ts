import { powerDb } from './decibel.ts';

/** What is taken off so that a full-scale 997 Hz sine in one front channel reads −3.01. */
const calibrationDb = -0.691;
/** Blocks at or under it count nowhere. */
const absoluteGateLufs = -70;
/** The relative gate lies this far under the loudness of the blocks over the absolute gate. */
const relativeGateLu = -10;
/** A gating block is 400 ms, four hops of 100 ms. */
export const hopsInBlock = 4;
/** The short-term window is 3 s. */
export const hopsInShortTerm = 30;
export const hopsPerSecond = 10;

/**
 * Loudness of a mean square, K-weighted and summed over the channels by their weights.
 *
 * @returns LUFS, `null` for silence.
 * @source ITU-R BS.1770-5, Annex 1, formula (2)
 */
export function loudnessLufs(weightedMeanSquare: number): number | null {
  const level = powerDb(weightedMeanSquare);
  return level === null ? null : level + calibrationDb;
}

/** The mean square that has this loudness. */
export function meanSquareOfLoudness(lufs: number): number {
  return 10 ** ((lufs - calibrationDb) / 10);
}

/**
 * Integrated loudness from the K-weighted energy of consecutive 100 ms hops: blocks of four hops, a new one each hop;
 * an incomplete last block is left out. Energies are averaged, never decibels.
 *
 * @param hopEnergies weighted sum of squares within each hop
 * @returns LUFS, `null` where no block passes the gates
 * @source ITU-R BS.1770-5, Annex 1, formulas (3) to (7)
 */
export function integratedLoudnessLufs(hopEnergies: ArrayLike<number>, sampleRateHz: number): number | null {
  const blocks = windowMeanSquares(hopEnergies, hopsInBlock, sampleRateHz);
  const loud = blocks.filter(over(absoluteGateLufs));
  const ungated = loudnessLufs(mean(loud));
  if (ungated === null) return null;
  return loudnessLufs(mean(loud.filter(over(ungated + relativeGateLu))));
}

/** Mean square of every window of `hops` consecutive hops. */
export function windowMeanSquares(
  hopEnergies: ArrayLike<number>,
  hops: number,
  sampleRateHz: number,
): number[] {
  const frames = (hops * sampleRateHz) / hopsPerSecond;
  const windows: number[] = [];
  for (let last = hops; last <= hopEnergies.length; last++) {
    let energy = 0;
    for (let hop = last - hops; hop < last; hop++) energy += hopEnergies[hop]!;
    windows.push(energy / frames);
  }
  return windows;
}

/** Whether a mean square is louder than a gate, strictly, as the standard has it. */
function over(gateLufs: number): (meanSquare: number) => boolean {
  const gate = meanSquareOfLoudness(gateLufs);
  return (meanSquare) => meanSquare > gate;
}

function mean(values: readonly number[]): number {
  let sum = 0;
  for (const value of values) sum += value;
  return values.length === 0 ? 0 : sum / values.length;
}

/**
 * The loudest window of `steps` consecutive grid steps: the maximum of momentary (400 ms) or short-term (3 s)
 * loudness. Neither is gated.
 *
 * @param energies weighted sum of squares within each grid step; a step of 20 ms or less keeps the maximum true
 * @param windowFrames frames in the window
 * @returns LUFS, `null` for silence or where no window fits
 * @source EBU Tech 3341 v4, 2.2
 */
export function maxWindowLoudnessLufs(
  energies: ArrayLike<number>,
  firstStep: number,
  endStep: number,
  steps: number,
  windowFrames: number,
): number | null {
  let energy = 0;
  let highest = 0;
  for (let step = firstStep; step < endStep; step++) {
    energy += energies[step]!;
    if (step - firstStep >= steps) energy -= energies[step - steps]!;
    if (step - firstStep >= steps - 1 && energy > highest) highest = energy;
  }
  return loudnessLufs(highest / windowFrames);
}
