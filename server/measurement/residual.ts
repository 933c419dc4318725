import type { AlignedPiece } from './alignment.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import { densestValue } from './densest-value.ts';

/** The step in which a residual is told over time. */
export const residualHopSeconds = 0.1;
/** Parts of a hop that are asked for a gain of their own, 20 ms each: about what a limiter holds. */
const partsInHop = 5;

/** Tenths of a second of what both versions share, in order of time: powers are sums of squares over both channels. */
export interface ResidualTrack {
  hopFrames: number;
  /** First frame in A and in B of each hop. */
  startFrameA: Int32Array;
  startFrameB: Int32Array;
  powerA: Float64Array;
  powerB: Float64Array;
  /** Power of B − gain · A. */
  power: Float64Array;
  /** Product of B with gain · A. */
  product: Float64Array;
  /** Power of what no gain explains, were each fiftieth of a second free to have its own. */
  unexplained: Float64Array;
  /** Whether every frame of what they share is the same number in both. */
  identical: boolean;
}

/**
 * What is left when A, aligned and at B's gain, is taken from B.
 *
 * @param gain Linear, negative where B is upside down.
 * @source null test, *common practice*
 */
export function measureResidual(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  pieces: readonly AlignedPiece[],
  gain: number,
  sampleRateHz: number,
): ResidualTrack {
  const hopFrames = Math.round(residualHopSeconds * sampleRateHz);
  const hops = pieces.reduce((sum, { frames }) => sum + Math.floor(frames / hopFrames), 0);
  const track: ResidualTrack = {
    hopFrames,
    startFrameA: new Int32Array(hops),
    startFrameB: new Int32Array(hops),
    powerA: new Float64Array(hops),
    powerB: new Float64Array(hops),
    power: new Float64Array(hops),
    product: new Float64Array(hops),
    unexplained: new Float64Array(hops),
    identical: true,
  };
  let hop = 0;
  for (const { startFrameA, startFrameB, frames } of pieces) {
    for (let at = 0; at + hopFrames <= frames; at += hopFrames, hop++) {
      track.startFrameA[hop] = startFrameA + at;
      track.startFrameB[hop] = startFrameB + at;
      for (let part = 0; part < partsInHop; part++) addPart(track, hop, part, a, b, gain);
    }
  }
  return track;
}

function addPart(
  track: ResidualTrack,
  hop: number,
  part: number,
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  gain: number,
): void {
  const shift = track.startFrameA[hop]! - track.startFrameB[hop]!;
  const start = track.startFrameB[hop]! + Math.floor((part * track.hopFrames) / partsInHop);
  const end = track.startFrameB[hop]! + Math.floor(((part + 1) * track.hopFrames) / partsInHop);
  let powerA = 0;
  let powerB = 0;
  let power = 0;
  let product = 0;
  for (let channel = 0; channel < b.length; channel++) {
    const channelA = a[channel]!;
    const channelB = b[channel]!;
    for (let at = start; at < end; at++) {
      const valueA = gain * channelA[at + shift]!;
      const valueB = channelB[at]!;
      const rest = valueB - valueA;
      powerA += valueA * valueA;
      powerB += valueB * valueB;
      power += rest * rest;
      product += valueA * valueB;
    }
  }
  track.powerA[hop] = track.powerA[hop]! + powerA;
  track.powerB[hop] = track.powerB[hop]! + powerB;
  track.power[hop] = track.power[hop]! + power;
  track.product[hop] = track.product[hop]! + product;
  if (powerA > 0)
    track.unexplained[hop] = track.unexplained[hop]! + Math.max(0, powerB - (product * product) / powerA);
  if (power > 0) track.identical = false;
}

/** A hop this much under B, once it may have a gain of its own, is a copy of A: its gain tells A's to a hair. */
const copyShare = 1e-6;
/** The least number of such hops that are listened to, and how far from the matched gain they may stand. */
const leastCopies = 10;
const mostMissingDb = 0.02;

/**
 * What the matched gain lacks, by the hops that are copies but for their level: a vote among bands finds it to some
 * thousandths of a dB, and one of them leaves −78 dB of the whole mix.
 *
 * @returns 0 where nothing can be told.
 */
export function missingGainDb(track: ResidualTrack): number {
  const mean = track.powerB.reduce((sum, power) => sum + power, 0) / Math.max(1, track.powerB.length);
  const gainsDb: number[] = [];
  for (let hop = 0; hop < track.power.length; hop++) {
    const [powerA, powerB, product] = [track.powerA[hop]!, track.powerB[hop]!, track.product[hop]!];
    if (powerB < mean * 1e-3 || product <= 0 || track.unexplained[hop]! > copyShare * powerB) continue;
    const gainDb = 20 * Math.log10(product / powerA);
    if (Math.abs(gainDb) < mostMissingDb) gainsDb.push(gainDb);
  }
  if (gainsDb.length < leastCopies) return 0;
  return densestValue(Float64Array.from(gainsDb), [0.0005, 0.002, 0.01], 0.25)!.value;
}

/** Brings a track to what it would be, were A louder by so much. */
export function regain(track: ResidualTrack, gainDb: number): void {
  if (gainDb === 0) return;
  const gain = 10 ** (gainDb / 20);
  for (let hop = 0; hop < track.power.length; hop++) {
    const [powerA, product] = [track.powerA[hop]!, track.product[hop]!];
    const rest = track.power[hop]! + 2 * (1 - gain) * (product - powerA) + (1 - gain) ** 2 * powerA;
    track.power[hop] = Math.max(0, rest);
    track.powerA[hop] = gain * gain * powerA;
    track.product[hop] = gain * product;
  }
}

/** A residual's level relative to a signal's; never under the lowest that is told, and `null` beside silence. */
export function relativeDb(power: number, reference: number): number | null {
  if (reference <= 0) return null;
  return Math.max(comparisonThreshold.lowestResidualDb, 10 * Math.log10(power / reference));
}

/**
 * The best null reached: the least residual, relative to B, over any 3 s that hold sound.
 *
 * @returns the level, and the residual's own level in dBFS there; `null` where no 3 s hold sound.
 */
export function bestNull(track: ResidualTrack): { nullDepthDb: number; residualDbfs: number } | null {
  const hops = track.power.length;
  const span = Math.min(hops, Math.round(3 / residualHopSeconds));
  if (span === 0) return null;
  const total = track.powerB.reduce((sum, power) => sum + power, 0);
  const least = (total / hops) * span * 1e-4;
  let powerB = 0;
  let power = 0;
  let best: { nullDepthDb: number; residualDbfs: number } | null = null;
  for (let hop = 0; hop < hops; hop++) {
    powerB += track.powerB[hop]!;
    power += track.power[hop]!;
    if (hop >= span) {
      powerB -= track.powerB[hop - span]!;
      power -= track.power[hop - span]!;
    }
    if (hop < span - 1 || powerB <= least) continue;
    const rest = Math.max(0, power);
    const depth = relativeDb(rest, powerB)!;
    if (!best || depth < best.nullDepthDb) {
      const meanSquare = rest / (2 * span * track.hopFrames);
      const residualDbfs = Math.max(comparisonThreshold.lowestResidualDb, 10 * Math.log10(meanSquare));
      best = { nullDepthDb: depth, residualDbfs };
    }
  }
  return best;
}

/** What keeps the best stretch from cancelling further. *Common practice*; only exact zero proves identity. */
export type NullLimit =
  | 'identical'
  | 'rounding'
  | 'dither or word length'
  | 'sample-rate conversion'
  | 'lossy encoding'
  | 'a change throughout, or an effect that never repeats';

/** Reads the best null. */
export function nullLimit(
  best: { nullDepthDb: number; residualDbfs: number },
  facts: { identical: boolean; converted: boolean; lossy: boolean },
): NullLimit {
  if (facts.identical) return 'identical';
  if (best.residualDbfs < comparisonThreshold.roundingDbfs) return 'rounding';
  if (facts.lossy) return 'lossy encoding';
  if (facts.converted && best.nullDepthDb < -40) return 'sample-rate conversion';
  if (best.residualDbfs < comparisonThreshold.ditherDbfs) return 'dither or word length';
  return 'a change throughout, or an effect that never repeats';
}
