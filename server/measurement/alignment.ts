import { ComparisonError } from './comparison-error.ts';
import { type CrossSpectrum, crossBands } from './cross-spectrum.ts';
import { densestValue } from './densest-value.ts';
import { hannWindow } from './hann.ts';
import { KernelMemory, kernels } from './kernel-memory.ts';

/** A stretch that both versions share, in whole frames of one sample rate. */
export interface AlignedPiece {
  startFrameA: number;
  startFrameB: number;
  frames: number;
  /** 0 to 1: the mean correlation of the two over the piece. */
  confidence: number;
}

export interface Alignment {
  /** −1 where B is A turned upside down. */
  polarity: 1 | -1;
  /** In time order, apart, and in order in both versions. */
  pieces: AlignedPiece[];
}

/** The low-rate copy that the search runs on: about 8 kHz. */
const searchRateHz = 8000;
/** Low-rate values in one value of the envelope: about a millisecond. */
const envelopeHop = 8;
/** How many places the envelopes' correlation may propose. */
const mostCandidates = 16;
/** How many of them are then followed at the full rate. */
const mostFollowed = 6;
/** The step in which the path through the candidates is decided. */
const blockSeconds = 0.25;
/** A piece under this is no piece of a song's form. */
const shortestPieceSeconds = 1;
/** Costs of the path, on the scale where a block without any likeness costs 1. */
const costOfNothing = 0.9;
const costOfJump = 1.5;
/** Mean correlation under which two files aren't the same song: unrelated music stays under 0.05. */
const leastLikeness = 0.15;
/**
 * Correlation of the search copies that needs no rival, and rules drift out: half a value of sliding would leave less.
 */
const certainLikeness = 0.97;
/** A place that resembles B as well as the best one, but for so much, in every block, is the only one that is followed. */
const unrivalledBy = 0.02;

/** Low-rate copies of two signals, and where the one may lie in the other. */
export interface Search {
  lowA: Float32Array;
  lowB: Float32Array;
  /** Frames of the full rate in one value of the copies. */
  factor: number;
  /** How much later B may be, in values of the copies, likeliest first. */
  lags: number[];
  /** The likeliest place, where B resembles A so closely there from beginning to end that no other is asked for. */
  certain: Track | null;
}

/**
 * Makes the copies that the search for an alignment runs on, and proposes places from their envelopes.
 *
 * @param a Stereo, at B's sample rate.
 * @param b Stereo.
 */
export function searchOf(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  sampleRateHz: number,
): Search {
  const factor = Math.max(1, Math.round(sampleRateHz / searchRateHz));
  const lowA = searchCopy(a, factor);
  const lowB = searchCopy(b, factor);
  const lags = proposeLags(envelope(lowA), envelope(lowB)).map((lag) => lag * envelopeHop);
  const likeliest =
    lags[0] === undefined ? null : trackAt(lowA, lowB, lags[0], lowBlockAt(sampleRateHz, factor));
  const certain = likeliest && resemblesThroughout(likeliest, lowB, lowBlockAt(sampleRateHz, factor));
  return { lowA, lowB, factor, lags, certain: certain ? likeliest : null };
}

/** Values of the search copy in a block. */
const lowBlockAt = (sampleRateHz: number, factor: number) =>
  Math.round((blockSeconds * sampleRateHz) / factor);

function resemblesThroughout({ likeness }: Track, lowB: Float32Array, lowBlock: number): boolean {
  const weights = blockWeights(lowB, lowBlock);
  return likeness.every((value, block) => weights[block] === 0 || value > certainLikeness);
}

function trackAt(lowA: Float32Array, lowB: Float32Array, near: number, lowBlock: number): Track {
  const { lag, polarity } = settleLag(lowA, lowB, near);
  return { lag, polarity, likeness: likenessTrack([lowA], [lowB], lag, polarity, lowBlock) };
}

/**
 * Lays B over A: where A starts in B, upside down or not, and where whole stretches were cut or inserted. Envelopes
 * propose places, the waveforms decide between them; a song's repeats are told apart by what doesn't repeat exactly.
 *
 * @param a Stereo, at B's sample rate.
 * @param b Stereo.
 * @param search Of the same two, where it has been made already.
 * @throws ComparisonError `different_songs` where the two share too little.
 */
export function align(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  sampleRateHz: number,
  { lowA, lowB, factor, lags, certain }: Search = searchOf(a, b, sampleRateHz),
): Alignment {
  const lowBlock = lowBlockAt(sampleRateHz, factor);
  const blockFrames = lowBlock * factor;

  let tracks = certain ? [certain] : lags.map((lag) => trackAt(lowA, lowB, lag, lowBlock));
  for (const run of strangeRuns(tracks, lowB, lowBlock)) {
    const part = lowB.subarray(run.start, run.end);
    for (const lag of proposeLags(envelope(lowA), envelope(part)).slice(0, 4)) {
      const settled = settleLag(lowA, part, lag * envelopeHop);
      const shifted = settled.lag + run.start;
      tracks.push({
        lag: shifted,
        polarity: settled.polarity,
        likeness: likenessTrack([lowA], [lowB], shifted, settled.polarity, lowBlock),
      });
    }
  }
  tracks = worthFollowing(tracks);
  if (tracks.length === 0) throw differentSongs();

  const followed: Track[] = [];
  for (const track of tracks) {
    const refined = refineLag(a, b, track, factor, sampleRateHz, lowBlock);
    if (!followed.some(({ lag }) => lag === refined.lag)) {
      const likeness = likenessTrack(a, b, refined.lag, refined.polarity, blockFrames);
      followed.push({ ...refined, likeness });
    }
  }
  const weights = blockWeights(lowB, lowBlock).subarray(0, followed[0]!.likeness.length);
  const path = cheapestPath(followed, weights);
  const main = mostUsed(path, followed, weights);
  if (!main || main.meanLikeness < leastLikeness) throw differentSongs();
  const polarity = main.track.polarity;
  const pieces = piecesOfPath(path, followed, a, b, polarity, blockFrames, sampleRateHz);
  return { polarity, pieces };
}

function differentSongs(): ComparisonError {
  return new ComparisonError(
    'different_songs',
    'The two files share too little sound to be laid over each other: they are different songs or different recordings. Nothing was compared.',
  );
}

/**
 * How much later B is than its piece says, in fractions of a frame: what most of the places and bands where the two
 * sound alike agree on. A part with a changed tone turns the phase where it sounds, and is outvoted.
 *
 * @returns a value between −1 and 1; 0 where nothing can be told.
 */
export function fractionalDelayFrames(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  { polarity, pieces }: Alignment,
  spectrum: CrossSpectrum,
  sampleRateHz: number,
): number {
  const delays: number[] = [];
  for (const { startA, startB } of spreadWindows(pieces, spectrum.windowFrames, 120)) {
    const sums = spectrum.measure(a, startA, b, startB);
    for (let band = 0; band < crossBands.length; band++) {
      const centreHz = sums.centreHz[band]!;
      if (centreHz < 500) continue;
      for (const [real, imaginary, powerA, powerB] of [
        [sums.realLeft, sums.imaginaryLeft, sums.powerLeftA, sums.powerLeftB],
        [sums.realRight, sums.imaginaryRight, sums.powerRightA, sums.powerRightB],
      ] as const) {
        const crossPower = real[band]! * real[band]! + imaginary[band]! * imaginary[band]!;
        const powers = powerA[band]! * powerB[band]!;
        if (powers > 1e-12 && crossPower > 0.9 * powers) {
          const phase = Math.atan2(polarity * imaginary[band]!, polarity * real[band]!);
          delays.push((-phase * sampleRateHz) / (2 * Math.PI * centreHz));
        }
      }
    }
  }
  const densest = densestValue(Float64Array.from(delays), [0.002, 0.01, 0.03, 0.1, 0.3], 0.15);
  return densest ? densest.value : 0;
}

/** Windows spread evenly over the pieces. */
export function spreadWindows(
  pieces: readonly AlignedPiece[],
  windowFrames: number,
  count: number,
): { startA: number; startB: number }[] {
  const total = pieces.reduce((sum, { frames }) => sum + frames, 0);
  const hop = Math.max(windowFrames / 2, total / count);
  const windows: { startA: number; startB: number }[] = [];
  for (const { startFrameA, startFrameB, frames } of pieces) {
    for (let at = 0; at + windowFrames <= frames; at += hop) {
      const start = Math.floor(at);
      windows.push({ startA: startFrameA + start, startB: startFrameB + start });
    }
  }
  return windows;
}

/** One place that A may have in B: `lag` frames later. */
interface Track {
  lag: number;
  polarity: 1 | -1;
  /** One correlation a block of B. */
  likeness: Float32Array;
}

/**
 * A mono copy at the search rate, its highs lifted by 6 dB an octave so that a bass line doesn't decide alone. The
 * right channel counts a little less, so that a side-only signal doesn't vanish.
 */
function searchCopy(channels: readonly Float32Array[], factor: number): Float32Array {
  const left = channels[0]!;
  const right = channels[1] ?? left;
  const reach = 2 * factor;
  const memory = new KernelMemory();
  const { taps, sixteens } = memory.taps(
    Array.from({ length: 2 * reach + 1 }, (_, tap) => {
      const x = (tap - reach) / factor;
      const window = 0.5 + 0.5 * Math.cos((Math.PI * (tap - reach)) / (reach + 1));
      return (window * (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x))) / factor;
    }),
  );
  const copy = new Float32Array(Math.floor(left.length / factor));
  const piece = 4096;
  const source = memory.floats((piece - 1) * factor + 16 * sixteens);
  const [reducedLeft, reducedRight] = [memory.floats(piece), memory.floats(piece)];
  let previous = 0;
  for (let start = 0; start < copy.length; start += piece) {
    const first = start * factor - reach;
    const from = Math.max(0, -first);
    const to = Math.min(source.length, left.length - first);
    const count = Math.min(piece, copy.length - start);
    for (const [channel, reduced] of [
      [left, reducedLeft],
      [right, reducedRight],
    ] as const) {
      const { values } = source;
      if (from > 0 || to < values.length) values.fill(0);
      values.set(channel.subarray(first + from, first + to), from);
      kernels.reduce(source.address, factor, taps.address, sixteens, reduced.address, count);
    }
    const [lowLeft, lowRight] = [reducedLeft.values, reducedRight.values];
    for (let index = 0; index < count; index++) {
      const here = lowLeft[index]! + 0.8 * lowRight[index]!;
      copy[start + index] = here - previous;
      previous = here;
    }
  }
  memory.free();
  return copy;
}

/** How the loudness of the copy rises and falls: the difference of the logarithm of the power, value by value. */
function envelope(copy: Float32Array): Float64Array {
  const rises = new Float64Array(Math.floor(copy.length / envelopeHop));
  let previous = 0;
  for (let index = 0; index < rises.length; index++) {
    let power = 0;
    for (let at = index * envelopeHop; at < (index + 1) * envelopeHop; at++) power += copy[at]! * copy[at]!;
    const level = Math.log(power + 1e-7);
    rises[index] = index === 0 ? 0 : level - previous;
    previous = level;
  }
  return rises;
}

/** Lags of B against A, in envelope values, at the highest peaks of the whitened cross-correlation, best first. */
function proposeLags(envelopeA: Float64Array, envelopeB: Float64Array): number[] {
  const size = 2 ** Math.ceil(Math.log2(Math.max(16, envelopeA.length + envelopeB.length)));
  const memory = new KernelMemory();
  const transform = memory.transform(size);
  const packed = transform.input.values;
  for (let index = 0; index < envelopeA.length; index++) packed[2 * index] = envelopeA[index]!;
  for (let index = 0; index < envelopeB.length; index++) packed[2 * index + 1] = envelopeB[index]!;
  transform.run();
  packed.fill(0);
  for (let bin = 1; bin < size / 2; bin++) whitenedCross(transform.output.values, packed, bin, size);
  transform.runBack();
  const correlations = transform.output.values;
  const atLag = (lag: number) => correlations[2 * (lag < 0 ? lag + size : lag)]!;

  const apart = 20;
  const peaks: { lag: number; height: number }[] = [];
  for (let lag = -envelopeA.length + 1; lag < envelopeB.length; lag++) {
    const height = atLag(lag);
    if (peaks.length === mostCandidates && height <= peaks.at(-1)!.height) continue;
    const near = peaks.findIndex((peak) => Math.abs(peak.lag - lag) < apart);
    if (near >= 0) {
      if (peaks[near]!.height >= height) continue;
      peaks.splice(near, 1);
    }
    peaks.push({ lag, height });
    peaks.sort((one, other) => other.height - one.height);
    peaks.length = Math.min(peaks.length, mostCandidates);
  }
  memory.free();
  return peaks.map(({ lag }) => lag);
}

/**
 * B times the conjugate of A at one bin of a transform that holds A as its real and B as its imaginary input, at
 * unit magnitude, written to `target` with its mirror.
 */
export function whitenedCross(spectrum: Float32Array, target: Float32Array, bin: number, size: number): void {
  const up = 2 * bin;
  const down = 2 * (size - bin);
  const aReal = spectrum[up]! + spectrum[down]!;
  const aImaginary = spectrum[up + 1]! - spectrum[down + 1]!;
  const bReal = spectrum[up + 1]! + spectrum[down + 1]!;
  const bImaginary = spectrum[down]! - spectrum[up]!;
  const real = bReal * aReal + bImaginary * aImaginary;
  const imaginary = bImaginary * aReal - bReal * aImaginary;
  // Not Math.hypot: it allocates.
  const magnitude = Math.sqrt(real * real + imaginary * imaginary);
  if (magnitude === 0) return;
  target[up] = target[up]! + real / magnitude;
  target[up + 1] = target[up + 1]! + imaginary / magnitude;
  target[down] = target[up]!;
  target[down + 1] = -target[up + 1]!;
}

/** The best lag within two envelope values of a proposed one, in values of the search copy, and its polarity. */
function settleLag(lowA: Float32Array, lowB: Float32Array, near: number): { lag: number; polarity: 1 | -1 } {
  const block = 2000;
  const first = Math.max(0, near);
  const last = Math.min(lowB.length, lowA.length + near);
  const hop = Math.max(block, (last - first) / 32);
  let best = { lag: near, sum: 0 };
  for (let lag = near - 2 * envelopeHop; lag <= near + 2 * envelopeHop; lag++) {
    let sum = 0;
    for (let at = first; at + block <= last; at += hop)
      sum += correlation(lowA, lowB, lag, Math.floor(at), block);
    if (Math.abs(sum) > Math.abs(best.sum)) best = { lag, sum };
  }
  return { lag: best.lag, polarity: best.sum < 0 ? -1 : 1 };
}

/** Normalised correlation of B's stretch with A's, `lag` earlier; 0 where either is silent or outside. */
function correlation(a: Float32Array, b: Float32Array, lag: number, start: number, length: number): number {
  const from = Math.max(start, lag, 0);
  const to = Math.min(start + length, b.length, a.length + lag);
  let product = 0;
  let powerA = 0;
  let powerB = 0;
  for (let at = from; at < to; at++) {
    const valueA = a[at - lag]!;
    const valueB = b[at]!;
    product += valueA * valueB;
    powerA += valueA * valueA;
    powerB += valueB * valueB;
  }
  const powers = powerA * powerB;
  return powers > 1e-20 && to - from > length / 2 ? product / Math.sqrt(powers) : 0;
}

/**
 * The correlation of each block of B with A at a lag. At the full rate, channels are lifted by 6 dB an octave on the
 * way; the search copy (one channel) already is.
 */
function likenessTrack(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  lag: number,
  polarity: 1 | -1,
  blockFrames: number,
): Float32Array {
  const track = new Float32Array(Math.ceil(b[0]!.length / blockFrames));
  const lifted = a.length > 1;
  for (let block = 0; block < track.length; block++) {
    const start = block * blockFrames;
    const from = Math.max(start, lag + 1, 1);
    const to = Math.min(start + blockFrames, b[0]!.length, a[0]!.length + lag);
    if (to - from < blockFrames / 2) continue;
    let product = 0;
    let powerA = 0;
    let powerB = 0;
    for (let channel = 0; channel < a.length; channel++) {
      const channelA = a[channel]!;
      const channelB = b[channel]!;
      let beforeA = lifted ? channelA[from - lag - 1]! : 0;
      let beforeB = lifted ? channelB[from - 1]! : 0;
      for (let at = from; at < to; at++) {
        const hereA = channelA[at - lag]!;
        const hereB = channelB[at]!;
        const valueA = hereA - beforeA;
        const valueB = hereB - beforeB;
        product += valueA * valueB;
        powerA += valueA * valueA;
        powerB += valueB * valueB;
        if (!lifted) continue;
        beforeA = hereA;
        beforeB = hereB;
      }
    }
    const powers = powerA * powerB;
    track[block] = powers > 1e-20 ? (polarity * product) / Math.sqrt(powers) : 0;
  }
  return track;
}

/** Runs of B, at least a second long and at most 30 s, that no track resembles; in values of the search copy. */
function strangeRuns(
  tracks: readonly Track[],
  lowB: Float32Array,
  lowBlock: number,
): { start: number; end: number }[] {
  const blocks = Math.ceil(lowB.length / lowBlock);
  const weights = blockWeights(lowB, lowBlock);
  const runs: { start: number; end: number }[] = [];
  let first = -1;
  for (let block = 0; block <= blocks; block++) {
    const known =
      block === blocks || weights[block] === 0 || tracks.some(({ likeness }) => likeness[block]! > 0.4);
    if (!known && first < 0) first = block;
    if (known && first >= 0) {
      if ((block - first) * blockSeconds >= shortestPieceSeconds) {
        const longest = Math.round(30 / blockSeconds);
        runs.push({ start: first * lowBlock, end: Math.min(block, first + longest) * lowBlock });
      }
      first = -1;
    }
  }
  return runs.sort((one, other) => other.end - other.start - (one.end - one.start)).slice(0, 4);
}

/** Tracks that are the best one, or nearly, over a second or more; the ones that explain most come first. */
function worthFollowing(tracks: readonly Track[]): Track[] {
  const blocks = tracks[0]?.likeness.length ?? 0;
  const best = new Float32Array(blocks);
  for (const { likeness } of tracks)
    for (let block = 0; block < blocks; block++) best[block] = Math.max(best[block]!, likeness[block]!);
  const score = (track: Track) => {
    let run = 0;
    let longestRun = 0;
    let wins = 0;
    for (let block = 0; block < blocks; block++) {
      const near = best[block]! > 0.1 && track.likeness[block]! > best[block]! - 0.15;
      run = near ? run + 1 : 0;
      longestRun = Math.max(longestRun, run);
      if (near) wins += track.likeness[block]!;
    }
    return longestRun * blockSeconds >= shortestPieceSeconds ? wins : 0;
  };
  const followed = tracks
    .map((track) => ({ track, wins: score(track) }))
    .filter(({ wins }) => wins > 0)
    .sort((one, other) => other.wins - one.wins)
    .slice(0, mostFollowed)
    .map(({ track }) => track);
  const first = followed[0];
  const unrivalled = first?.likeness.every((value, block) => value > best[block]! - unrivalledBy);
  return unrivalled ? followed.slice(0, 1) : followed;
}

/** The lag in whole frames of the full rate, from whitened cross-spectra of the blocks that resemble each other most. */
function refineLag(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  track: Track,
  factor: number,
  sampleRateHz: number,
  lowBlock: number,
): { lag: number; polarity: 1 | -1 } {
  const size = 8192;
  const near = track.lag * factor;
  const blocks = [...track.likeness.keys()]
    .sort((one, other) => track.likeness[other]! - track.likeness[one]!)
    .slice(0, 16);
  const memory = new KernelMemory();
  const transform = memory.transform(size);
  const input = transform.input.values;
  const spectrum = transform.output.values;
  const cross = new Float32Array(2 * size);
  const hann = hannWindow(size);
  const topBin = Math.floor((Math.min(12_000, 0.45 * sampleRateHz) * size) / sampleRateHz);
  const bottomBin = Math.ceil((100 * size) / sampleRateHz);
  for (const block of blocks) {
    const startB = block * lowBlock * factor;
    const startA = startB - near;
    for (let channel = 0; channel < a.length; channel++) {
      const [channelA, channelB] = [a[channel]!, b[channel]!];
      for (let frame = 0; frame < size; frame++) {
        input[2 * frame] = (channelA[startA + frame] ?? 0) * hann[frame]!;
        input[2 * frame + 1] = (channelB[startB + frame] ?? 0) * hann[frame]!;
      }
      transform.run();
      for (let bin = bottomBin; bin < topBin; bin++) whitenedCross(spectrum, cross, bin, size);
    }
  }
  input.set(cross);
  transform.runBack();
  let best = { lag: 0, height: 0 };
  for (let lag = -2 * factor; lag <= 2 * factor; lag++) {
    const height = spectrum[2 * (lag < 0 ? lag + size : lag)]!;
    if (Math.abs(height) > Math.abs(best.height)) best = { lag, height };
  }
  memory.free();
  return { lag: near + best.lag, polarity: best.height < 0 ? -1 : 1 };
}

/** 0 for a block that is silent beside the rest, else 1. */
function blockWeights(copy: Float32Array, blockFrames: number): Float32Array {
  const powers = new Float64Array(Math.ceil(copy.length / blockFrames));
  let total = 0;
  for (let block = 0; block < powers.length; block++) {
    const end = Math.min(copy.length, (block + 1) * blockFrames);
    let power = 0;
    for (let at = block * blockFrames; at < end; at++) power += copy[at]! * copy[at]!;
    powers[block] = power;
    total += power;
  }
  const silence = (total / powers.length) * 1e-6;
  return Float32Array.from(powers, (power) => (power > silence ? 1 : 0));
}

/**
 * For each block of B the track that A follows there, or −1 for none: the cheapest path, where a jump has its price
 * (Viterbi's algorithm). Likeness costs by the logarithm of what is left of it, so that an exact match beats a repeat.
 */
function cheapestPath(tracks: readonly Track[], weights: Float32Array): Int32Array {
  const blocks = weights.length;
  const states = tracks.length + 1;
  const nothing = tracks.length;
  let costs = new Float64Array(states);
  const cameFrom = Array.from({ length: blocks }, () => new Int32Array(states));
  for (let block = 0; block < blocks; block++) {
    const next = new Float64Array(states);
    let cheapest = 0;
    for (let state = 1; state < states; state++) if (costs[state]! < costs[cheapest]!) cheapest = state;
    for (let state = 0; state < states; state++) {
      const jump = state === nothing || cheapest === nothing ? costOfJump / 2 : costOfJump;
      const stays = costs[state]! <= costs[cheapest]! + jump;
      cameFrom[block]![state] = stays ? state : cheapest;
      const cost =
        state === nothing
          ? costOfNothing
          : Math.min(1, Math.max(0, 1 + Math.log10(1 - tracks[state]!.likeness[block]! + 1e-3) / 3));
      next[state] = (stays ? costs[state]! : costs[cheapest]! + jump) + cost * weights[block]!;
    }
    costs = next;
  }
  const path = new Int32Array(blocks);
  let state = costs.indexOf(Math.min(...costs));
  for (let block = blocks - 1; block >= 0; block--) {
    path[block] = state === nothing ? -1 : state;
    state = cameFrom[block]![state]!;
  }
  return path;
}

/** The track that the path follows longest, and how like the two are over all of it. */
function mostUsed(
  path: Int32Array,
  tracks: readonly Track[],
  weights: Float32Array,
): { track: Track; meanLikeness: number } | null {
  const uses = tracks.map(() => 0);
  let likeness = 0;
  let active = 0;
  for (const [block, state] of path.entries()) {
    active += weights[block]!;
    if (state < 0) continue;
    uses[state]!++;
    likeness += Math.max(0, tracks[state]!.likeness[block]!) * weights[block]!;
  }
  const most = uses.indexOf(Math.max(...uses));
  const used = path.reduce((sum, state, block) => sum + (state >= 0 ? weights[block]! : 0), 0);
  const track = tracks[most];
  return track && uses[most]! > 0 && active > 0
    ? { track, meanLikeness: used > 0.05 * active ? likeness / used : 0 }
    : null;
}

/** Turns the path into pieces with sharp edges. */
function piecesOfPath(
  path: Int32Array,
  tracks: readonly Track[],
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  polarity: 1 | -1,
  blockFrames: number,
  sampleRateHz: number,
): AlignedPiece[] {
  const framesA = a[0]!.length;
  const framesB = b[0]!.length;
  const runs: { lag: number; start: number; end: number; likeness: number; blocks: number }[] = [];
  for (const [block, state] of path.entries()) {
    if (state < 0) continue;
    const { lag, likeness } = tracks[state]!;
    const end = Math.min(framesB, (block + 1) * blockFrames);
    const last = runs.at(-1);
    if (last && last.lag === lag) {
      last.end = end;
      last.likeness += likeness[block]!;
      last.blocks++;
    } else {
      runs.push({ lag, start: block * blockFrames, end, likeness: likeness[block]!, blocks: 1 });
    }
  }
  const lasting = runs.filter(({ start, end }) => end - start >= shortestPieceSeconds * sampleRateHz);
  const kept = (lasting.length > 0 ? lasting : runs).reduce<typeof runs>((joined, run) => {
    const last = joined.at(-1);
    if (last && last.lag === run.lag) {
      last.end = run.end;
      last.likeness += run.likeness;
      last.blocks += run.blocks;
    } else joined.push({ ...run });
    return joined;
  }, []);
  if (kept.length === 0) return [];
  // What stands before the first and after the last piece belongs to them as far as both files reach.
  kept[0]!.start = Math.max(0, kept[0]!.lag);
  kept.at(-1)!.end = Math.min(framesB, framesA + kept.at(-1)!.lag);
  for (let index = 1; index < kept.length; index++) {
    sharpenEdge(kept[index - 1]!, kept[index]!, a, b, polarity, sampleRateHz);
  }
  return kept
    .filter(({ start, end }) => end > start)
    .map(({ lag, start, end, likeness, blocks }) => ({
      startFrameA: start - lag,
      startFrameB: start,
      frames: end - start,
      confidence: Math.round(1000 * Math.max(0, Math.min(1, likeness / blocks))) / 1000,
    }));
}

/** Bars that are inserted repeat others: where both edges of the repeat fit as well, dither makes the balance wander so far. */
const wanderings = 6;

/**
 * Moves the edge between two neighbours to where the squared difference is least. After a cut the question is asked
 * in B's time, after an insertion in A's, where what came between takes no room.
 */
function sharpenEdge(
  before: { lag: number; start: number; end: number },
  after: { lag: number; start: number; end: number },
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  polarity: 1 | -1,
  sampleRateHz: number,
): void {
  const inserted = after.lag > before.lag;
  // A repeat may be told from its original only where one of them ends.
  const margin =
    Math.round(1.5 * sampleRateHz) + Math.min(Math.abs(after.lag - before.lag), 20 * sampleRateHz);
  const fromB = Math.max(before.start, before.end - margin);
  const toB = Math.min(after.end, after.start + margin);
  const from = inserted ? fromB - before.lag : fromB;
  const to = inserted ? Math.max(toB - after.lag, from) : toB;
  let least = 0;
  let balance = 0;
  let edge = from;
  // What the two leave where they match, and how far that makes the balance wander.
  let matched = 0;
  let atLeast = from;
  for (let at = from; at < to; at++) {
    for (let channel = 0; channel < a.length; channel++) {
      const valueB = b[channel]!;
      const valueA = a[channel]!;
      const first = inserted
        ? polarity * (valueA[at] ?? 0) - (valueB[at + before.lag] ?? 0)
        : (valueB[at] ?? 0) - polarity * (valueA[at - before.lag] ?? 0);
      const second = inserted
        ? polarity * (valueA[at] ?? 0) - (valueB[at + after.lag] ?? 0)
        : (valueB[at] ?? 0) - polarity * (valueA[at - after.lag] ?? 0);
      balance += first * first - second * second;
      matched += Math.min(first * first, second * second);
    }
    if (balance < least) {
      least = balance;
      edge = at + 1;
      atLeast = at;
    } else if (inserted) {
      const noise = matched / (at + 1 - from);
      if (balance <= least + wanderings * noise * Math.sqrt(at - atLeast)) edge = at + 1;
    }
  }
  before.end = inserted ? edge + before.lag : edge;
  after.start = inserted ? edge + after.lag : edge;
}
