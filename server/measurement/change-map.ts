import type { ComparedSound } from './comparison.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import { bandPowers, createCrossSpectrum, crossBands } from './cross-spectrum.ts';
import { KernelMemory } from './kernel-memory.ts';
import { type Match, type MatchedOlder, matchOlder } from './matched-older.ts';

/**
 * Where in time and frequency B differs from matched A, third-octave by third-octave. Cell `i` of a band stands for
 * `i · hopSeconds` to `(i + 1) · hopSeconds` of B.
 */
export interface ChangeMap {
  hopSeconds: number;
  hopCount: number;
  /** Nominal mid-band frequency of each row, lowest first. */
  nominalHz: number[];
  /**
   * Something differs throughout (an effect that never repeats, lossy coding), so that only what moves steadily over
   * some seconds is shown, as their mean.
   */
  limited: boolean;
  /**
   * A row a band: B over matched A in quarters of a decibel, 0 where no change is measured, `undefinedCell` where neither
   * has sound or nothing can be laid side by side.
   */
  difference: Int8Array[];
  /** A row a band: the residual relative to B, in decibels; `undefinedCell` where there is none over the noise. */
  residual: Int8Array[];
}

/** Stands in a row where a cell has no value. */
export const undefinedCell = -128;
export const stepsPerDb = 4;

const shortestHopSeconds = 0.25;
/** A song of more than twenty minutes gets longer hops, so that a map never passes 280 kB. */
const mostHops = 4800;
/** Windows in the shortest hop: they overlap by about a half. */
const windowsInHop = 3;
/** Where the null is limited: hops on either side that a cell is averaged with. */
const steadyHops = 4;
/** The fewest hops whose mean has a standard error worth the name. */
const leastSteadyHops = 6;
const lossyHighestHz = 10_000;
const steadyLowestHz = 80;

/** Powers in one band, one value a hop, over both channels and all windows; relative. */
interface BandPowers {
  older: Float64Array;
  newer: Float64Array;
  rest: Float64Array;
}

/**
 * Draws the map of a change. A cell is 0 unless its residual passes what dither leaves there, and its hop as a whole
 * differs as a comparison asks of a tenth of a second.
 *
 * @param match what a comparison of the same two found.
 * @source IEC 61260-1:2014 for the bands; thresholds: `comparisonThreshold`
 */
export function mapChange(
  a: ComparedSound,
  b: ComparedSound,
  match: Match,
  onProgress: (share: number) => void = () => {},
): ChangeMap {
  const older = matchOlder(a, b, match);
  onProgress(0.3);
  const memory = new KernelMemory();
  try {
    return mapOf(older, b, Boolean(a.lossy || b.lossy), onProgress, memory);
  } finally {
    memory.free();
  }
}

function mapOf(
  older: MatchedOlder,
  b: ComparedSound,
  lossy: boolean,
  onProgress: (share: number) => void,
  memory: KernelMemory,
): ChangeMap {
  const { sampleRateHz } = b;
  const durationSeconds = b.channels[0]!.length / sampleRateHz;
  const hopSeconds = shortestHopSeconds * Math.ceil(durationSeconds / shortestHopSeconds / mostHops);
  const hopCount = Math.ceil(durationSeconds / hopSeconds);
  const windows = windowsInHop * Math.round(hopSeconds / shortestHopSeconds);
  const spectrum = createCrossSpectrum(memory, sampleRateHz);
  const { windowFrames } = spectrum;
  const bands = crossBands.map(
    (): BandPowers => ({
      older: new Float64Array(hopCount),
      newer: new Float64Array(hopCount),
      rest: new Float64Array(hopCount),
    }),
  );
  const taken = new Uint32Array(hopCount);
  for (let hop = 0; hop < hopCount; hop++) {
    for (let window = 0; window < windows; window++) {
      const centre = (hop + (window + 0.5) / windows) * hopSeconds * sampleRateHz;
      const start = windowStart(centre, windowFrames, older.stretches);
      if (start === null) continue;
      taken[hop] = taken[hop]! + 1;
      const sums = spectrum.measure(older.channels, start, b.channels, start, 1);
      for (const [band, powers] of bands.entries()) {
        const { older: powerOlder, newer: powerNewer, rest } = bandPowers(sums, band);
        powers.older[hop] = powers.older[hop]! + powerOlder;
        powers.newer[hop] = powers.newer[hop]! + powerNewer;
        powers.rest[hop] = powers.rest[hop]! + rest;
      }
    }
    if (hop % 64 === 0) onProgress(0.3 + (0.7 * hop) / hopCount);
  }
  const differing = differingHops(bands, hopCount);
  const limited = lossy || differing.limited;
  const difference: Int8Array[] = [];
  const residual: Int8Array[] = [];
  for (const [band, powers] of bands.entries()) {
    // Cross-spectra hold twice each bin's amplitude, Hann-windowed (mean square 3/8), of two channels.
    const { lowerEdgeHz, upperEdgeHz, nominalHz } = crossBands[band]!;
    const bins = Math.max(1, ((upperEdgeHz - lowerEdgeHz) * windowFrames) / sampleRateHz);
    const dither = 2 * 4 * 0.375 * windowFrames * bins * 10 ** (comparisonThreshold.ditherDbfs / 10);
    const steady = limited ? steadyDifferences(powers, taken, dither, nominalHz, lossy) : null;
    const cells = cellsOf(powers, taken, dither, differing.hops, steady);
    difference.push(cells.difference);
    residual.push(cells.residual);
  }
  onProgress(1);
  return {
    hopSeconds,
    hopCount,
    nominalHz: crossBands.map(({ nominalHz }) => nominalHz),
    limited,
    difference,
    residual,
  };
}

/** Where a window around a centre begins so that it lies within one stretch; `null` where it can't. */
function windowStart(
  centre: number,
  windowFrames: number,
  stretches: MatchedOlder['stretches'],
): number | null {
  const stretch = stretches.find(({ fromFrame, endFrame }) => centre >= fromFrame && centre < endFrame);
  if (!stretch || stretch.endFrame - stretch.fromFrame < windowFrames) return null;
  const start = Math.round(centre - windowFrames / 2);
  return Math.max(stretch.fromFrame, Math.min(stretch.endFrame - windowFrames, start));
}

/** The hops that differ as a whole, and whether even the calmest tenth of those that sound does. */
function differingHops(
  bands: readonly BandPowers[],
  hopCount: number,
): { hops: Uint8Array; limited: boolean } {
  const hops = new Uint8Array(hopCount);
  const totals = Array.from({ length: hopCount }, (_, hop) => {
    let [older, newer, rest] = [0, 0, 0];
    for (const band of bands) {
      older += band.older[hop]!;
      newer += band.newer[hop]!;
      rest += band.rest[hop]!;
    }
    return { loudest: Math.max(older, newer), newer, rest };
  });
  const mean = totals.reduce((sum, { newer }) => sum + newer, 0) / Math.max(1, hopCount);
  const levels: number[] = [];
  for (const [hop, { loudest, newer, rest }] of totals.entries()) {
    if (rest > loudest * 10 ** (comparisonThreshold.unchangedResidualDb / 10)) hops[hop] = 1;
    if (newer > mean * 1e-3) levels.push(10 * Math.log10(rest / newer + 1e-15));
  }
  levels.sort((one, other) => one - other);
  const calmest = levels[Math.floor(levels.length / 10)] ?? Number.NEGATIVE_INFINITY;
  return { hops, limited: calmest > comparisonThreshold.limitedNullDb };
}

/** How far a band went up or down; what is under the floor counts as the floor, so that no silence is divided by. */
const differenceOf = (older: number, newer: number, floor: number) =>
  10 * Math.log10(Math.max(newer, floor) / Math.max(older, floor));

/**
 * The means over some seconds of what a band moved by, 0 where they are not steady: within so many standard errors of
 * none, or too small.
 */
function steadyDifferences(
  { older, newer }: BandPowers,
  taken: Uint32Array,
  dither: number,
  nominalHz: number,
  lossy: boolean,
): Float64Array {
  const { steadyBandDb, codedBandDb, steadyStandardErrors } = comparisonThreshold;
  const hopCount = older.length;
  const steady = new Float64Array(hopCount);
  if (nominalHz < steadyLowestHz || (lossy && nominalHz > lossyHighestHz)) return steady;
  const least = lossy ? codedBandDb : steadyBandDb;
  for (let hop = 0; hop < hopCount; hop++) {
    let [count, sum, squares] = [0, 0, 0];
    const end = Math.min(hopCount, hop + steadyHops + 1);
    for (let near = Math.max(0, hop - steadyHops); near < end; near++) {
      const floor = dither * taken[near]!;
      if (Math.max(older[near]!, newer[near]!) <= floor) continue;
      const value = differenceOf(older[near]!, newer[near]!, floor);
      count++;
      sum += value;
      squares += value * value;
    }
    if (count < leastSteadyHops) continue;
    const mean = sum / count;
    const error = Math.sqrt(Math.max(0, squares / count - mean * mean) / (count - 1));
    if (Math.abs(mean) >= least && Math.abs(mean) > steadyStandardErrors * error) steady[hop] = mean;
  }
  return steady;
}

function cellsOf(
  { older, newer, rest }: BandPowers,
  taken: Uint32Array,
  dither: number,
  differing: Uint8Array,
  steady: Float64Array | null,
): { difference: Int8Array; residual: Int8Array } {
  const hopCount = older.length;
  const difference = new Int8Array(hopCount).fill(undefinedCell);
  const residual = new Int8Array(hopCount).fill(undefinedCell);
  const loudest = (hop: number) => Math.max(older[hop]!, newer[hop]!);
  let [sum, sounding] = [0, 0];
  for (let hop = 0; hop < hopCount; hop++) {
    if (taken[hop] === 0) continue;
    sum += loudest(hop) / taken[hop]!;
    sounding++;
  }
  const silence = (sum / Math.max(1, sounding)) * 10 ** (comparisonThreshold.silenceUnderSectionDb / 10);
  for (let hop = 0; hop < hopCount; hop++) {
    const floor = taken[hop]! * Math.max(dither, silence);
    if (taken[hop] === 0 || loudest(hop) <= floor) continue;
    difference[hop] = 0;
    if (!differing[hop] || rest[hop]! <= taken[hop]! * dither || (steady && steady[hop] === 0)) continue;
    const moved = steady ? steady[hop]! : differenceOf(older[hop]!, newer[hop]!, floor);
    difference[hop] = clamp(moved * stepsPerDb);
    residual[hop] = clamp(10 * Math.log10(rest[hop]! / Math.max(newer[hop]!, floor)));
  }
  return { difference, residual };
}

const clamp = (value: number) => Math.max(-127, Math.min(127, Math.round(value)));

const magic = 0x31_50_41_4d;
const headBytes = 20;

/**
 * The stored and served form, all little-endian: `MAP1`, uint32 microseconds a hop, uint32 hops, uint32 bands, uint32
 * flags (bit 0: limited); float32 nominal Hz of each band; then each band's differences in turn, int8 quarters of a
 * decibel, and each band's residuals, int8 decibels; −128 undefined. Some 230 bytes a second.
 */
export function encodeChangeMap(map: ChangeMap): Uint8Array {
  const bandCount = map.nominalHz.length;
  const bytes = new Uint8Array(headBytes + 4 * bandCount + 2 * bandCount * map.hopCount);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, magic, true);
  view.setUint32(4, Math.round(map.hopSeconds * 1e6), true);
  view.setUint32(8, map.hopCount, true);
  view.setUint32(12, bandCount, true);
  view.setUint32(16, map.limited ? 1 : 0, true);
  let at = headBytes;
  for (const hertz of map.nominalHz) {
    view.setFloat32(at, hertz, true);
    at += 4;
  }
  for (const row of [...map.difference, ...map.residual]) {
    bytes.set(new Uint8Array(row.buffer, row.byteOffset, row.length), at);
    at += row.length;
  }
  return bytes;
}

/** @throws RangeError where the bytes are no map, or are cut off */
export function decodeChangeMap(bytes: Uint8Array): ChangeMap {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < headBytes || view.getUint32(0, true) !== magic)
    throw new RangeError('This is no map of a change.');
  const hopCount = view.getUint32(8, true);
  const bandCount = view.getUint32(12, true);
  const firstRow = headBytes + 4 * bandCount;
  if (bytes.length !== firstRow + 2 * bandCount * hopCount)
    throw new RangeError('The map of the change is cut off.');
  const rows = Array.from({ length: 2 * bandCount }, (_, row) => {
    const from = firstRow + row * hopCount;
    return Int8Array.from(bytes.subarray(from, from + hopCount));
  });
  return {
    hopSeconds: view.getUint32(4, true) / 1e6,
    hopCount,
    nominalHz: Array.from({ length: bandCount }, (_, band) => view.getFloat32(headBytes + 4 * band, true)),
    limited: (view.getUint32(16, true) & 1) === 1,
    difference: rows.slice(0, bandCount),
    residual: rows.slice(bandCount),
  };
}
