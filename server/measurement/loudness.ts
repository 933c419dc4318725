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
  const absoluteGate = meanSquareOfLoudness(absoluteGateLufs);
  const ungated = loudnessLufs(meanOver(blocks, absoluteGate));
  if (ungated === null) return null;
  const relativeGate = meanSquareOfLoudness(ungated + relativeGateLu);
  return loudnessLufs(meanOver(blocks, Math.max(absoluteGate, relativeGate)));
}

/** Mean square of every window of `hops` consecutive hops. */
export function windowMeanSquares(
  hopEnergies: ArrayLike<number>,
  hops: number,
  sampleRateHz: number,
): Float64Array {
  const frames = (hops * sampleRateHz) / hopsPerSecond;
  const windows = new Float64Array(Math.max(0, hopEnergies.length - hops + 1));
  for (let window = 0; window < windows.length; window++) {
    let energy = 0;
    for (let hop = window; hop < window + hops; hop++) energy += hopEnergies[hop]!;
    windows[window] = energy / frames;
  }
  return windows;
}

/** Mean of what is over a gate, strictly, as the standard has it; 0 where nothing is. */
function meanOver(meanSquares: Float64Array, gate: number): number {
  let sum = 0;
  let count = 0;
  for (const meanSquare of meanSquares) {
    if (meanSquare <= gate) continue;
    sum += meanSquare;
    count++;
  }
  return count === 0 ? 0 : sum / count;
}
