import { hopsInShortTerm, loudnessLufs, meanSquareOfLoudness, windowMeanSquares } from './loudness.ts';

const absoluteGateLufs = -70;
const relativeGateLu = -20;
const lowPercentile = 10;
const highPercentile = 95;
/** Shorter programmes have too few short-term values for their spread to mean much. @source EBU R 128 s1 */
export const shortestReliableSeconds = 60;

/**
 * Loudness range: the spread of short-term loudness, taken ten times a second, between the 10th and the 95th percentile
 * of what lies within 20 LU of its mean.
 *
 * @param hopEnergies weighted sum of squares within each hop of 100 ms
 * @returns LU, `null` under 3 s and for silence
 * @source EBU Tech 3342 v4
 */
export function loudnessRangeLu(hopEnergies: ArrayLike<number>, sampleRateHz: number): number | null {
  const absoluteGate = meanSquareOfLoudness(absoluteGateLufs);
  const loud = windowMeanSquares(hopEnergies, hopsInShortTerm, sampleRateHz).filter(
    (value) => value >= absoluteGate,
  );
  if (loud.length === 0) return null;
  let sum = 0;
  for (const value of loud) sum += value;
  const relativeGate = (sum / loud.length) * 10 ** (relativeGateLu / 10);
  const sorted = loud.filter((value) => value >= relativeGate).sort();
  const nearestRank = (percentile: number) =>
    loudnessLufs(sorted[Math.floor(((sorted.length - 1) * percentile) / 100 + 0.5)]!)!;
  return nearestRank(highPercentile) - nearestRank(lowPercentile);
}
