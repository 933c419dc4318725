import {
  bandCount,
  instantsPerSecond,
  meanRow,
  pitchClassCount,
  type SoundFeatures,
  unitVector,
} from './sound-features.ts';

/** A steady tempo, as a song to a click has it. */
export interface Tempo {
  /** Beats a minute. Which of two tempos, one twice the other, is counted is a matter of feel. */
  tempoBpm: number;
  /** 0 to 1: how much of the song's growth falls on these beats, all the way through. */
  confidence: number;
  firstBeatSeconds: number;
  /** `null` where no metre stands out. */
  beatsPerBar: number | null;
  /** The bar that the sound begins in or with; `null` without a metre. */
  firstBarSeconds: number | null;
}

/** Tempos that are looked for (*common practice*), and the one that is likeliest when nothing else speaks. */
const tempoRange = { slowestBpm: 40, fastestBpm: 220, likeliestBpm: 120, widthOctaves: 1 } as const;
/** Steps between tempos that are tried, as a share of the tempo. */
const tempoStep = 0.005;
/** Shorter music has too few beats to tell a steady tempo from chance. */
const shortestSeconds = 8;
/** Fewer accents make no beat. */
const leastStrokes = 6;
/** Growth under this share of what grows is rounding. */
const leastGrowth = 0.02;
const minuteSeconds = 60;
/** A beat that falls so little before the file falls on its start. */
const atStartSeconds = 0.03;
const metres = [3, 4] as const;

const gaussian = (distance: number) => Math.exp(-0.5 * distance ** 2);

function smooth(values: Float64Array, deviation: number): Float64Array {
  const reach = Math.ceil(3 * deviation);
  const weights = Array.from({ length: 2 * reach + 1 }, (_, place) => gaussian((place - reach) / deviation));
  const sum = weights.reduce((total, weight) => total + weight, 0);
  return values.map((_, at) => {
    let total = 0;
    for (let place = -reach; place <= reach; place++)
      total += weights[place + reach]! * (values[at + place] ?? 0);
    return total / sum;
  });
}

/** Means over a window around each place, as far as it lies within. */
function movingMean(values: Float64Array, reach: number): Float64Array {
  const sums = new Float64Array(values.length + 1);
  for (let at = 0; at < values.length; at++) sums[at + 1] = sums[at]! + values[at]!;
  return values.map((_, at) => {
    const from = Math.max(0, at - reach);
    const end = Math.min(values.length, at + reach + 1);
    return (sums[end]! - sums[from]!) / (end - from);
  });
}

/** What stands out of the growth around it, soft and loud parts of a song at the same height; all zeros without any. */
function accents(growth: Float32Array, meanRoot: number): Float64Array {
  const least = leastGrowth * meanRoot;
  const smoothed = smooth(
    Float64Array.from(growth, (value) => Math.max(0, value - least)),
    1.5,
  );
  const around = movingMean(smoothed, instantsPerSecond / 2);
  const above = smoothed.map((value, at) => Math.max(0, value - around[at]!));
  const squares = above.map((value) => value ** 2);
  const level = Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / Math.max(1, squares.length));
  if (level === 0) return above;
  const local = movingMean(squares, 4 * instantsPerSecond);
  return above.map((value, at) => value / Math.sqrt(local[at]! + (0.2 * level) ** 2));
}

/** The share that the signal has in common with itself later, for each lag up to the longest. */
function autocorrelation(values: Float64Array, longestLag: number): Float64Array {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const centred = values.map((value) => value - mean);
  const products = new Float64Array(longestLag + 1);
  for (let lag = 0; lag <= longestLag; lag++) {
    let sum = 0;
    for (let at = lag; at < centred.length; at++) sum += centred[at]! * centred[at - lag]!;
    products[lag] = sum / (centred.length - lag);
  }
  return products.map((product) => product / (products[0] || 1));
}

function between(values: Float64Array, place: number): number {
  const below = Math.floor(place);
  const share = place - below;
  return (1 - share) * (values[below] ?? 0) + share * (values[below + 1] ?? 0);
}

/** How well beats of this tempo explain the accents: what repeats after whole beats, less what does after halves. */
function pulse(correlation: Float64Array, tempoBpm: number): number {
  const period = (minuteSeconds / tempoBpm) * instantsPerSecond;
  let whole = 0;
  let half = 0;
  for (let beats = 1; beats <= 4; beats++) {
    whole += between(correlation, beats * period) / 4;
    half += Math.max(0, between(correlation, (beats - 0.5) * period)) / 4;
  }
  return whole - 0.3 * half;
}

function likelihood(tempoBpm: number): number {
  return gaussian(Math.log2(tempoBpm / tempoRange.likeliestBpm) / tempoRange.widthOctaves);
}

function roughTempo(correlation: Float64Array): number {
  let best = { tempoBpm: 0, score: -Infinity };
  const { slowestBpm, fastestBpm } = tempoRange;
  for (let tempoBpm: number = slowestBpm; tempoBpm <= fastestBpm; tempoBpm *= 1 + tempoStep) {
    const score = pulse(correlation, tempoBpm) * likelihood(tempoBpm);
    if (score > best.score) best = { tempoBpm, score };
  }
  return best.tempoBpm;
}

/** The sum of the accents turned by the phase of a frequency, over a stretch: how strong it is in them, and where. */
function turned(
  values: Float64Array,
  cyclesInInstant: number,
  from = 0,
  end = values.length,
): [number, number] {
  const step = 2 * Math.PI * cyclesInInstant;
  let [real, imaginary] = [0, 0];
  let [cosine, sine] = [Math.cos(step * from), Math.sin(step * from)];
  const [turnReal, turnImaginary] = [Math.cos(step), Math.sin(step)];
  for (let at = from; at < end; at++) {
    real += values[at]! * cosine;
    imaginary -= values[at]! * sine;
    [cosine, sine] = [cosine * turnReal - sine * turnImaginary, cosine * turnImaginary + sine * turnReal];
  }
  return [real, imaginary];
}

/** The tempo near the rough one whose beats, counted through the whole song, meet the most accents. */
function exactTempo(values: Float64Array, roughBpm: number): number {
  const strengthAt = (tempoBpm: number) => {
    const cycles = tempoBpm / minuteSeconds / instantsPerSecond;
    let strength = 0;
    for (const harmonic of [1, 2, 4]) strength += Math.hypot(...turned(values, harmonic * cycles));
    return strength;
  };
  let centre = roughBpm;
  // A quarter of the change that puts the fourth harmonic one cycle off by the end of the song; then between.
  const songBeats = (values.length / instantsPerSecond) * (roughBpm / minuteSeconds);
  let step = 1 / (16 * songBeats);
  for (let reach = Math.ceil(0.015 / step); step > 1e-6; reach = 2, step /= 4) {
    let best = { tempoBpm: centre, strength: -Infinity };
    for (let place = -reach; place <= reach; place++) {
      const tempoBpm = centre * (1 + place * step);
      const strength = strengthAt(tempoBpm);
      if (strength > best.strength) best = { tempoBpm, strength };
    }
    centre = best.tempoBpm;
  }
  const whole = Math.round(centre);
  return Math.abs(whole / centre - 1) * songBeats < wholeTempoBeats ? whole : centre;
}
/** A whole number of beats a minute (*common practice* of songs to a click) that differs by less at the song's end. */
const wholeTempoBeats = 0.1;

/** Where in the beat the accents lie: their mean in each of so many parts of a beat, over a stretch. */
const partsOfBeat = 48;
function beatProfile(values: Float64Array, period: number, from = 0, end = values.length): Float64Array {
  const sums = new Float64Array(partsOfBeat);
  const counts = new Float64Array(partsOfBeat);
  for (let at = from; at < end; at++) {
    const place = Math.floor(((at / period) % 1) * partsOfBeat);
    sums[place]! += values[at]!;
    counts[place]!++;
  }
  const means = sums.map((sum, place) => (counts[place]! > 0 ? sum / counts[place]! : 0));
  // Wrapped around, smoothed by a little, since strokes of people spread.
  const wrapped = smooth(Float64Array.of(...means.slice(-6), ...means, ...means.slice(0, 6)), 1.2);
  return wrapped.slice(6, 6 + partsOfBeat);
}

function topOf(profile: Float64Array): number {
  let top = 0;
  for (let place = 1; place < profile.length; place++) if (profile[place]! > profile[top]!) top = place;
  const [before, at, after] = [profile.at(top - 1)!, profile[top]!, profile[(top + 1) % profile.length]!];
  const bend = before - 2 * at + after;
  return (top + 0.5 + (bend < 0 ? (0.5 * (before - after)) / bend : 0)) / partsOfBeat;
}

/**
 * Where in the beat the beat itself stands: at the most accents, unless those are the second of two swung eighths, which
 * people play long and short (*common practice*): the beat is then what follows after the short one.
 */
function beatPhase(profile: Float64Array): number {
  const top = topOf(profile);
  const later = (share: number) => profile[Math.floor((top + share) * partsOfBeat) % partsOfBeat]!;
  let swung = { share: 0, height: swing.leastHeight * Math.max(...profile) };
  for (let share: number = swing.shortest; share <= swing.longest; share += 1 / partsOfBeat) {
    const height = later(share);
    const isPeak = height >= later(share - 1 / partsOfBeat) && height >= later(share + 1 / partsOfBeat);
    if (isPeak && height > swung.height) swung = { share, height };
  }
  if (swung.share === 0) return top;
  const around = Float64Array.from(profile, (value, place) => {
    const away = Math.abs((((place + 0.5) / partsOfBeat - top - swung.share + 2.5) % 1) - 0.5);
    return away < 2.5 / partsOfBeat ? value : 0;
  });
  return topOf(around);
}
/** Shares of a beat that the second of two swung eighths takes, and how much accent the beat has beside it at least. */
const swing = { shortest: 0.28, longest: 0.45, leastHeight: 0.5 } as const;

/**
 * How sure the beats are. Within the beat the accents' top must pass their mean, 1 by chance; the top of the whole song
 * must keep most of the tops that its pieces have, which lie side by side only where the tempo is steady; and most pieces
 * must have accents at all.
 */
function steadiness(values: Float64Array, period: number, profile: Float64Array): number {
  const all = prominence(profile);
  const pieces = Math.max(leastPieces, Math.round(values.length / (pieceSeconds * instantsPerSecond)));
  let [sum, sounding] = [0, 0];
  for (let piece = 0; piece < pieces; piece++) {
    const from = Math.floor((piece * values.length) / pieces);
    const end = Math.floor(((piece + 1) * values.length) / pieces);
    const own = prominence(beatProfile(values, period, from, end));
    if (own === 0) continue;
    sum += own;
    sounding++;
  }
  if (sounding === 0) return 0;
  const kept = all / (sum / sounding);
  return share(all, prominences) * share(kept, keptTops) * (sounding / pieces);
}
const pieceSeconds = 8;
const leastPieces = 3;
/** Where chance ends and certainty begins: of the top over the mean, and of what the whole song keeps of it. */
const prominences = { chance: 1.6, sure: 3.5 } as const;
const keptTops = { chance: 0.6, sure: 0.95 } as const;
const share = (value: number, { chance, sure }: { chance: number; sure: number }) =>
  Math.min(1, Math.max(0, (value - chance) / (sure - chance)));

/** The top of a profile over its mean; 0 without any accents. */
function prominence(profile: Float64Array): number {
  const sum = profile.reduce((total, value) => total + value, 0);
  return sum > 0 ? (Math.max(...profile) * profile.length) / sum : 0;
}

/** One value a beat for each thing that tends to happen where a bar begins. */
function barAccents(
  features: SoundFeatures,
  low: Float64Array,
  firstBeat: number,
  beatSeconds: number,
): Float64Array {
  const beats = Math.max(0, Math.floor((features.durationSeconds - firstBeat) / beatSeconds));
  const lows = new Float64Array(beats);
  const harmonies = new Float64Array(beats);
  const colours = new Float64Array(beats);
  for (let beat = 0; beat < beats; beat++) {
    const at = firstBeat + beat * beatSeconds;
    const instant = Math.round(at * instantsPerSecond);
    for (let near = -4; near <= 4; near++) lows[beat] = Math.max(lows[beat]!, low[instant + near] ?? 0);
    const chord = (from: number) =>
      unitVector(meanRow(features.chroma, pitchClassCount, from, from + 2 * beatSeconds));
    const [chordBefore, chordAfter] = [chord(at - 2 * beatSeconds), chord(at)];
    harmonies[beat] = 1 - chordBefore.reduce((sum, value, place) => sum + value * chordAfter[place]!, 0);
    const colour = (from: number) =>
      meanRow(features.bandSquares, bandCount, from, from + 4 * beatSeconds).map((square) => square ** 0.25);
    const [before, after] = [colour(at - 4 * beatSeconds), colour(at)];
    let change = 0;
    for (let band = 0; band < bandCount; band++)
      change += Math.abs(after[band]! - before[band]!) / (after[band]! + before[band]! + 1e-9);
    colours[beat] = change / bandCount;
  }
  const sum = new Float64Array(beats);
  for (const [weight, values] of [
    [0.7, lows],
    [1, harmonies],
    [0.7, colours],
  ] as const) {
    const mean = values.reduce((total, value) => total + value, 0) / Math.max(1, beats);
    const deviation = Math.sqrt(
      values.reduce((total, value) => total + (value - mean) ** 2, 0) / Math.max(1, beats),
    );
    if (deviation > leastDeviation * Math.max(1, mean))
      for (let beat = 0; beat < beats; beat++) sum[beat]! += (weight * (values[beat]! - mean)) / deviation;
  }
  return sum;
}

/** Beats that differ by less are alike. */
const leastDeviation = 0.05;

/**
 * The metre whose bar line explains most of what differs from beat to beat, and which beat it falls on; `null` where it
 * explains no more than chance would.
 */
function metreOf(accentOfBeat: Float64Array): { beatsPerBar: number; firstBar: number } | null {
  const beats = accentOfBeat.length;
  const total = accentOfBeat.reduce((sum, value) => sum + value ** 2, 0);
  if (total === 0) return null;
  let best: { beatsPerBar: number; firstBar: number; ratio: number } | null = null;
  for (const beatsPerBar of metres) {
    const means = Array.from({ length: beatsPerBar }, (_, place) => {
      let [sum, count] = [0, 0];
      for (let beat = place; beat < beats; beat += beatsPerBar, count++) sum += accentOfBeat[beat]!;
      return count > 0 ? sum / count : 0;
    });
    const explained = means.reduce((sum, mean) => sum + (mean ** 2 * beats) / beatsPerBar, 0);
    // The variance ratio of an analysis of variance: about 1 where the beats of a bar don't differ.
    const ratio = explained / (beatsPerBar - 1) / ((total - explained) / Math.max(1, beats - beatsPerBar));
    const firstBar = means.indexOf(Math.max(...means));
    if (!best || ratio > best.ratio) best = { beatsPerBar, firstBar, ratio };
  }
  return best && best.ratio > leastVarianceRatio ? best : null;
}
/** F for three and some hundred degrees of freedom passes it by chance once in a thousand times. */
const leastVarianceRatio = 6;

/** The bar that the sound begins in or with, so that silence before it is no bar; the first one that lies in the file. */
function barAtSound(firstBarSeconds: number, barSeconds: number, firstSound: number): number {
  const bars = Math.floor((firstSound + withBarSeconds - firstBarSeconds) / barSeconds);
  return firstBarSeconds + Math.max(0, bars) * barSeconds;
}
/** Sound that begins so little before a bar begins with it. */
const withBarSeconds = 0.1;

/** Less sure tempos are none. */
const leastConfidence = 0.35;

/**
 * The tempo of a piece of music that keeps it, with its beats and, where a metre stands out, its bars.
 *
 * Accents are correlated with themselves: of the tempos after whose beats they recur, the one that stands nearest to the
 * middle of the range wins, since recurrence alone can't tell a tempo from its half or its double. The tempo is then
 * turned finely until its beats meet the accents through the whole song; a tempo that drifts by more than a beat has none
 * that does, and gives `null`, as do noise, single tones, silence and anything shorter than eight seconds.
 *
 * @param givenBpm the tempo, where somebody knows it; then only its beats are looked for
 * @source autocorrelation of onset strength with a tempo preference: D. P. W. Ellis, Beat Tracking by Dynamic
 *   Programming, Journal of New Music Research 36 (2007)
 */
export function tempoOf(features: SoundFeatures, givenBpm: number | null = null): Tempo | null {
  const { durationSeconds, onsets, lowOnsets, meanRoot } = features;
  if (durationSeconds < shortestSeconds) return null;
  const values = accents(onsets, meanRoot);
  const strokes = values.reduce(
    (count, value, at) => (value >= 1 && (values[at - 1] ?? 0) < 1 ? count + 1 : count),
    0,
  );
  if (strokes < leastStrokes) return null;
  const longestLag = Math.min(
    values.length - 1,
    Math.ceil(4 * (minuteSeconds / tempoRange.slowestBpm) * instantsPerSecond) + 1,
  );
  const tempoBpm = givenBpm ?? exactTempo(values, roughTempo(autocorrelation(values, longestLag)));
  const period = (minuteSeconds / tempoBpm) * instantsPerSecond;
  const profile = beatProfile(values, period);
  const confidence = steadiness(values, period, profile);
  if (givenBpm === null && confidence < leastConfidence) return null;
  const beatSeconds = minuteSeconds / tempoBpm;
  // A window's middle comes a hundredth of a second after it first meets a stroke; a beat just before the file is its first.
  const onBeat = ((beatPhase(profile) * period + 1.5) / instantsPerSecond) % beatSeconds;
  const firstBeatSeconds = onBeat > beatSeconds - atStartSeconds ? 0 : onBeat;
  const firstSound = values.findIndex((value) => value > 0) / instantsPerSecond;
  const metre = metreOf(barAccents(features, accents(lowOnsets, meanRoot), firstBeatSeconds, beatSeconds));
  return {
    tempoBpm,
    confidence,
    firstBeatSeconds,
    beatsPerBar: metre?.beatsPerBar ?? null,
    firstBarSeconds: metre
      ? barAtSound(
          firstBeatSeconds + metre.firstBar * beatSeconds,
          metre.beatsPerBar * beatSeconds,
          firstSound,
        )
      : null,
  };
}
