import { comparisonThreshold } from './comparison-threshold.ts';
import {
  addCrossSums,
  bandPowers,
  type CrossSpectrum,
  type CrossSums,
  createCrossSums,
  crossBands,
} from './cross-spectrum.ts';
import { densestValue } from './densest-value.ts';
import { type ResidualTrack, relativeDb, residualHopSeconds } from './residual.ts';
import { thirdOctaveBands } from './third-octave.ts';

/**
 * What can be told of a change from two mixes alone.
 * - `up`, `down`: more or less of what was there already.
 * - `added`, `removed`: something that was not there before, or that is gone.
 * - `replaced`: as much as before, but not the same: another take or sound, or an effect that never repeats.
 * - `moved in the image`: left against right, or middle against sides.
 * - `wetter`, `drier`: more or less of what rings on after the sound.
 * - `dynamics`: the whole mix held down or let go, moment by moment.
 * - `cut`, `inserted`: the form changed inside the section.
 */
export type ChangeKind =
  | 'up'
  | 'down'
  | 'added'
  | 'removed'
  | 'replaced'
  | 'moved in the image'
  | 'wetter'
  | 'drier'
  | 'dynamics'
  | 'cut'
  | 'inserted';

export type ImageMove = 'left' | 'right' | 'wider' | 'narrower';

export interface Change {
  kind: ChangeKind;
  /** Nominal frequencies of the lowest and highest third-octave that it shows in; `null` where it isn't a matter of frequency. */
  band: { lowestHz: number; highestHz: number } | null;
  /** 0 to 1: how sure the kind is, not how large the change. */
  confidence: number;
  /**
   * What the part itself must have moved by, if one part moved and the rest stood still; `null` where that can't be
   * told. Never the change of the whole mix.
   */
  partGainDb: number | null;
  /** For what moved in the image, else `null`. */
  towards: ImageMove | null;
}

/** A section's place among the tenths of a second of the residual. */
export interface SectionHops {
  /** Hops wholly inside the section. */
  hops: number[];
  /** Those that hold sound. */
  active: number[];
  /** Those that differ, but for what rings in from a neighbour. */
  changed: number[];
}

/** Which tenths of a second of a stretch of B hold sound, and which differ. */
export function sectionHops(track: ResidualTrack, startFrameB: number, endFrameB: number): SectionHops {
  const hops: number[] = [];
  for (let hop = 0; hop < track.power.length; hop++) {
    const start = track.startFrameB[hop]!;
    if (start >= startFrameB && start + track.hopFrames <= endFrameB) hops.push(hop);
  }
  const loudest = (hop: number) => Math.max(track.powerA[hop]!, track.powerB[hop]!);
  const mean = hops.reduce((sum, hop) => sum + loudest(hop), 0) / Math.max(1, hops.length);
  const silence = mean * 10 ** (comparisonThreshold.silenceUnderSectionDb / 10);
  const active = hops.filter((hop) => loudest(hop) > Math.max(silence, 2 * track.hopFrames * 1e-9));
  const changed = active.filter((hop) => differs(track, hop));
  return { hops, active, changed: withoutSpill(track, hops, changed) };
}

/** Whether a tenth of a second leaves more than what rounding, dither and a hair of gain leave. */
function differs(track: ResidualTrack, hop: number): boolean {
  const power = track.power[hop] ?? 0;
  const reference = Math.max(track.powerA[hop] ?? 0, track.powerB[hop] ?? 0);
  const dither = 2 * track.hopFrames * 10 ** (comparisonThreshold.ditherDbfs / 10);
  return power > dither && power > reference * 10 ** (comparisonThreshold.unchangedResidualDb / 10);
}

/** Leaves out the tail that rings in from a changed section before, and the pickup of a changed one after. */
function withoutSpill(track: ResidualTrack, hops: readonly number[], changed: number[]): number[] {
  const first = hops[0];
  const last = hops.at(-1);
  if (first === undefined || last === undefined) return changed;
  const differing = new Set(changed);
  let kept = changed;
  if (differs(track, first - 1) || differs(track, first - 2)) {
    let end = first;
    while (differing.has(end) || differing.has(end + 1)) end++;
    const tail = end - first;
    const fades =
      tail < 4 ||
      meanPower(track, first + Math.floor(tail / 2), end) <
        0.5 * meanPower(track, first, first + Math.floor(tail / 2));
    if (tail * residualHopSeconds <= comparisonThreshold.tailSeconds && fades)
      kept = kept.filter((hop) => hop >= end);
  }
  if (differs(track, last + 1) || differs(track, last + 2)) {
    let start = last;
    while (differing.has(start) || differing.has(start - 1)) start--;
    if ((last - start) * residualHopSeconds <= comparisonThreshold.pickupSeconds + 1e-9)
      kept = kept.filter((hop) => hop <= start);
  }
  return kept;
}

function meanPower(track: ResidualTrack, from: number, to: number): number {
  let sum = 0;
  for (let hop = from; hop < to; hop++) sum += track.power[hop]!;
  return sum / Math.max(1, to - from);
}

/** What two mixes hold of one stretch, band by band, with the old mix already at the new one's gain. */
export interface StretchSpectrum {
  windows: number;
  sums: CrossSums;
  /** The same with the old mix brought to what the rest was held down to, and let up to, window by window. */
  heldDown: CrossSums;
  letUp: CrossSums;
  /** By band: how uncertain the residual's product with the old mix is, as its windows disagree. */
  productErrors: Float64Array;
  /** By band, left then right: how steadily the power moves, in standard errors. */
  steadiness: { left: Float64Array; right: Float64Array };
}

/**
 * Adds up the cross-spectra of the windows that overlap the given hops.
 *
 * @param hops In order.
 * @param gain Linear and signed; brings A to B's level.
 * @param startFrameB Windows stay between it and `endFrameB`.
 */
export function stretchSpectrum(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  track: ResidualTrack,
  hops: readonly number[],
  gain: number,
  spectrum: CrossSpectrum,
  startFrameB: number,
  endFrameB: number,
): StretchSpectrum {
  const [sums, heldDown, letUp, unheld] = Array.from({ length: 4 }, createCrossSums) as [
    CrossSums,
    CrossSums,
    CrossSums,
    CrossSums,
  ];
  // Bands under about −90 dBFS are dither or nothing.
  const floor = spectrum.windowFrames ** 2 * 1e-10;
  const bands = crossBands.length;
  const moments = Array.from({ length: 4 }, () => new Float64Array(bands));
  const [sumLeft, sumRight, squareLeft, squareRight] = moments as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const half = spectrum.windowFrames / 2;
  const productSquares = new Float64Array(bands);
  let windows = 0;
  let nextStart = Number.NEGATIVE_INFINITY;
  for (const hop of hops) {
    const hopStart = track.startFrameB[hop]!;
    const shift = track.startFrameA[hop]! - hopStart;
    let start = Math.max(nextStart, hopStart - half / 2, startFrameB);
    while (start < hopStart + track.hopFrames && start + spectrum.windowFrames <= endFrameB) {
      const here = spectrum.measure(a, Math.floor(start) + shift, b, Math.floor(start), gain);
      addCrossSums(sums, here);
      const held = heldGain(here, floor, alikeShare);
      if (held === null) addCrossSums(unheld, here);
      else {
        addCrossSums(heldDown, here, Math.min(1, held));
        addCrossSums(letUp, here, Math.max(1, held));
      }
      for (let band = 0; band < bands; band++) {
        const left = relativeDifference(here.powerLeftA[band]!, here.powerLeftB[band]!);
        const right = relativeDifference(here.powerRightA[band]!, here.powerRightB[band]!);
        sumLeft[band] = sumLeft[band]! + left;
        sumRight[band] = sumRight[band]! + right;
        squareLeft[band] = squareLeft[band]! + left * left;
        squareRight[band] = squareRight[band]! + right * right;
        const { older, product } = bandPowers(here, band);
        productSquares[band] = productSquares[band]! + (product - older) ** 2;
      }
      windows++;
      start += half;
      nextStart = start;
    }
  }
  // Where no window's bands agree, since the bus moves within the window, those of all such windows together may.
  const throughout = (ofOld: boolean) => heldGain(unheld, floor, alikeThroughoutShare, ofOld) ?? 1;
  addCrossSums(heldDown, unheld, Math.min(1, throughout(true)));
  addCrossSums(letUp, unheld, Math.max(1, throughout(false)));
  // Neighbouring windows of music resemble each other: four of them count as one observation.
  const observations = Math.max(1, windows / 4);
  const steady = (sum: Float64Array, square: Float64Array) =>
    sum.map((total, band) => {
      const mean = total / Math.max(1, windows);
      const variance = Math.max(0, square[band]! / Math.max(1, windows) - mean * mean);
      return mean / Math.sqrt(variance / observations + 1e-12);
    });
  return {
    windows,
    sums,
    heldDown,
    letUp,
    productErrors: productSquares.map((square, band) => {
      const { older, product } = bandPowers(sums, band);
      const mean = (product - older) / Math.max(1, windows);
      return windows * Math.sqrt(Math.max(0, square / Math.max(1, windows) - mean * mean) / observations);
    }),
    steadiness: { left: steady(sumLeft, squareLeft), right: steady(sumRight, squareRight) },
  };
}

/** Bands so much alike, in one window and over all of them, are one another at a gain. */
const alikeShare = 0.99;
const alikeThroughoutShare = 0.4;
/** So many bands of a window that agree within so much tell the gain of what did not change in it. */
const heldShare = 0.25;
const heldWithinDb = [0.02, 0.05, 0.1, 0.2, 0.3] as const;
const leastHeldBands = 6;
/** A bus that holds the rest down by more than this is a change by itself. */
const mostHeldDb = 3;
/** Where some of its bands stand within this of where they stood, no bus moved the rest. */
const untouchedDb = 0.01;
const leastUntouchedBands = 2;

/**
 * The gain that a window's unchanged bands agree on: a limiter on the bus answers a part that goes up by holding down all
 * the rest, a little, and one that goes down by letting it up.
 *
 * @param ofOld Whether what is in both is held against the old mix, which a part that came in leaves true, or against the
 * new one, which a part that went leaves true.
 * @returns linear; `null` where they agree on none.
 */
function heldGain(sums: CrossSums, floor: number, alike: number, ofOld = true): number | null {
  const votes: number[] = [];
  let sounding = 0;
  const vote = (real: number, powerA: number, powerB: number) => {
    if (powerA < floor && powerB < floor) return;
    sounding++;
    if (real > 0 && real * real >= alike * powerA * powerB)
      votes.push(20 * Math.log10(ofOld ? real / powerA : powerB / real));
  };
  for (let band = 0; band < crossBands.length; band++) {
    if (crossBands[band]!.nominalHz < 80) continue;
    vote(sums.realLeft[band]!, sums.powerLeftA[band]!, sums.powerLeftB[band]!);
    vote(sums.realRight[band]!, sums.powerRightA[band]!, sums.powerRightB[band]!);
  }
  if (votes.filter((db) => Math.abs(db) < untouchedDb).length >= leastUntouchedBands) return 1;
  if (votes.length < leastHeldBands) return null;
  const densest = densestValue(Float64Array.from(votes), heldWithinDb, heldShare)!;
  const agree = densest.share * votes.length >= Math.max(leastHeldBands, heldShare * sounding);
  return agree && Math.abs(densest.value) < mostHeldDb ? 10 ** (densest.value / 20) : null;
}

/**
 * The power of the difference in each third-octave, relative to the new mix's there.
 *
 * @returns by index of `thirdOctaveBands`; `null` where the new mix has nothing, and in the bands that are left out
 */
export function bandResidualsDb({ sums, windows }: StretchSpectrum): (number | null)[] {
  return thirdOctaveBands.map((third) => {
    const band = crossBands.indexOf(third);
    if (band < 0 || windows === 0) return null;
    const { newer, rest } = bandPowers(sums, band);
    return relativeDb(rest, newer);
  });
}

/** The power of the difference over all bands, relative to the new mix's over the same. */
export function bandedResidualDb({ sums }: StretchSpectrum): number {
  let residual = 0;
  let now = 0;
  for (let band = 0; band < crossBands.length; band++) {
    const { newer, rest } = bandPowers(sums, band);
    residual += rest;
    now += newer;
  }
  return relativeDb(residual, now) ?? comparisonThreshold.lowestResidualDb;
}

function relativeDifference(powerA: number, powerB: number): number {
  const both = powerA + powerB;
  return both > 0 ? (powerB - powerA) / both : 0;
}

/** Powers of one band or of several: the old mix, the new one, the residual, and residual times old mix. */
interface Balance {
  old: number;
  now: number;
  residual: number;
  product: number;
  /** Independent values behind the sums. */
  observations: number;
  /** Standard error of `product`, as the windows disagree; 0 where they weren't asked. */
  seenError: number;
}

function balanceOf(old: number, now: number, cross: number, observations: number): Balance {
  return {
    seenError: 0,
    old,
    now,
    residual: Math.max(0, now + old - 2 * cross),
    product: cross - old,
    observations,
  };
}

function joined(balances: readonly Balance[]): Balance {
  const total: Balance = { old: 0, now: 0, residual: 0, product: 0, observations: 0, seenError: 0 };
  for (const balance of balances) {
    total.old += balance.old;
    total.now += balance.now;
    total.residual += balance.residual;
    total.product += balance.product;
    total.observations += balance.observations;
    total.seenError = Math.sqrt(total.seenError ** 2 + balance.seenError ** 2);
  }
  return total;
}

/**
 * Standard error of `product`: at least that of a residual which has nothing to do with the old mix. Sustained tones and
 * rooms hold far fewer independent values than time and bandwidth allow; there, the windows disagree by more.
 */
function productError({ old, residual, observations, seenError }: Balance): number {
  return Math.max(seenError, Math.sqrt((old * residual) / Math.max(1, 2 * observations)));
}

/**
 * Says what changed in a stretch, from its spectrum.
 *
 * The residual of a part S whose gain went from 1 to 1 + d is d·S. With the rest of the mix it has nothing in common,
 * so its product with the old mix is d·|S|², and the residual's power over that product is d itself: up where it is
 * positive, down where it is negative, gone at −1. A new part has no product with the old mix at all.
 *
 * @param sampleRateHz With the window, tells how many independent values a band has.
 * @param among Places in `crossBands`; all of them where it is left out.
 */
export function changesOfStretch(
  stretch: StretchSpectrum,
  spectrum: CrossSpectrum,
  sampleRateHz: number,
  among: readonly number[] = [...crossBands.keys()],
): Change[] {
  const seconds = (stretch.windows * spectrum.windowFrames) / 2 / sampleRateHz;
  const asTheyAre = within(
    comparisonThreshold.bandTakesPartDb,
    bandsOf(stretch, stretch.sums, seconds, among),
  );
  if (asTheyAre.length === 0) return [];
  const sums = withoutBus(stretch);
  const bands = bandsOf(stretch, sums, seconds, among);
  const taking = within(comparisonThreshold.bandTakesPartDb, bands);
  const move = imageMove(asTheyAre, stretch.sums) ?? imageMove(taking, sums);
  if (move) return [{ ...move, band: bandRange(taking) }];

  const towards = (sign: 1 | -1) => taking.filter(({ both }) => sign * both.product > 3 * productError(both));
  const rising = towards(1);
  const falling = towards(-1);
  const residualOf = (some: typeof taking) => joined(some.map(({ both }) => both)).residual;
  const total = residualOf(taking);
  const share = (some: typeof taking) => residualOf(some) / total;
  if (share(rising) > 0.15 && share(falling) > 0.15) {
    return [rising, falling]
      .sort((one, other) => share(other) - share(one))
      .map((some) => changeOf(some, some));
  }
  return [changeOf(taking, within(comparisonThreshold.bandTellsDb, bands))];
}

/** The bands whose residual is no farther under the strongest one's; none where nothing is left. */
function within(underStrongestDb: number, bands: readonly BandBalance[]): BandBalance[] {
  const strongest = Math.max(...bands.map(({ both }) => both.residual));
  const least = strongest * 10 ** (underStrongestDb / 10);
  return strongest > 0 ? bands.filter(({ both }) => both.residual >= least) : [];
}

function oldPower(sums: CrossSums): number {
  return crossBands.reduce((power, _, band) => power + bandPowers(sums, band).older, 0);
}

function bandsOf(
  { productErrors, sums: asTheyAre }: StretchSpectrum,
  sums: CrossSums,
  seconds: number,
  among: readonly number[],
): BandBalance[] {
  // What the bus did is known about as well as it is large.
  const busError = Math.abs(Math.sqrt(oldPower(sums) / (oldPower(asTheyAre) + 1e-30)) - 1);
  return among.map((band) => {
    const { lowerEdgeHz, upperEdgeHz } = crossBands[band]!;
    const observations = seconds * (upperEdgeHz - lowerEdgeHz);
    const left = balanceOf(
      sums.powerLeftA[band]!,
      sums.powerLeftB[band]!,
      sums.realLeft[band]!,
      observations,
    );
    const right = balanceOf(
      sums.powerRightA[band]!,
      sums.powerRightB[band]!,
      sums.realRight[band]!,
      observations,
    );
    const both = joined([left, right]);
    const seenError = Math.max(productErrors[band]!, busError * both.old);
    return { band, left, right, both: { ...both, seenError } };
  });
}

/** What the bus did to the rest, taken out: it answers the part, so it goes the other way, and less far. */
function withoutBus({ sums, heldDown, letUp }: StretchSpectrum): CrossSums {
  let up = 0;
  for (let band = 0; band < crossBands.length; band++) {
    for (const { old, now, residual } of [
      balanceOf(sums.powerLeftA[band]!, sums.powerLeftB[band]!, sums.realLeft[band]!, 1),
      balanceOf(sums.powerRightA[band]!, sums.powerRightB[band]!, sums.realRight[band]!, 1),
    ])
      up += Math.sign(now - old) * residual;
  }
  return up > 0 ? heldDown : letUp;
}

type BandBalance = { band: number; left: Balance; right: Balance; both: Balance };

/**
 * How the residual stands to the old mix, 1/d: the mean of what the bands say by themselves. A room is akin to the sound
 * that it belongs to, now with it and now against it; where bands disagree by more than their errors allow, none of them
 * counts for much more than the others.
 *
 * @source R. DerSimonian, N. Laird, Meta-analysis in clinical trials, 1986 (random effects)
 */
function relationOf(bands: readonly BandBalance[]): { relation: number; error: number } {
  const told = bands.map(({ both }) => ({
    value: both.product / both.residual,
    variance: (productError(both) / both.residual) ** 2 + 1e-12,
  }));
  const mean = (between: number) => {
    let sum = 0;
    let weights = 0;
    for (const { value, variance } of told) {
      sum += value / (variance + between);
      weights += 1 / (variance + between);
    }
    return { value: sum / weights, weights };
  };
  const fixed = mean(0);
  let scatter = 0;
  let squares = 0;
  for (const { value, variance } of told) {
    scatter += (value - fixed.value) ** 2 / variance;
    squares += 1 / variance ** 2;
  }
  const freedom = fixed.weights - squares / fixed.weights;
  const { value, weights } = mean(freedom > 0 ? Math.max(0, (scatter - (told.length - 1)) / freedom) : 0);
  return { relation: value, error: 1 / Math.sqrt(weights) };
}

/** @param telling Bands that say which kind it is; `bands` are those that it shows in. */
function changeOf(bands: readonly BandBalance[], telling: readonly BandBalance[]): Change {
  const { relation, error } = relationOf(telling);
  const newPart = 1 / (10 ** (comparisonThreshold.newPartDb / 20) - 1);
  const gonePart = 1 / (1 - 10 ** (-comparisonThreshold.newPartDb / 20));
  const steps: [number, ChangeKind][] = [
    [-gonePart, 'down'],
    [-0.75, 'removed'],
    [-0.25, 'replaced'],
    [newPart, 'added'],
    [Number.POSITIVE_INFINITY, 'up'],
  ];
  const index = steps.findIndex(([upper]) => relation <= upper);
  const lower = index === 0 ? Number.NEGATIVE_INFINITY : steps[index - 1]![0];
  const margin = Math.min(steps[index]![0] - relation, relation - lower);
  const kind = steps[index]![1];
  const change = 1 / relation;
  const confidence = certainty(margin / Math.max(error, 1e-9));
  const gainKnown = (kind === 'up' || kind === 'down') && 1 + change > 0 && confidence > 0.95;
  return {
    kind,
    band: bandRange(bands),
    confidence,
    partGainDb: gainKnown ? 20 * Math.log10(1 + change) : null,
    towards: null,
  };
}

/** Two-sided certainty of a distance in standard errors: 1 gives 0.68, 2 gives 0.95. */
function certainty(standardErrors: number): number {
  const x = standardErrors / Math.SQRT2;
  // Abramowitz and Stegun 7.1.25.
  const t = 1 / (1 + 0.47047 * x);
  return Math.max(0, 1 - (0.3480242 * t - 0.0958798 * t * t + 0.7478556 * t ** 3) * Math.exp(-x * x));
}

/**
 * What moves in the image goes up on one side as it goes down on the other, the very same sound: what differs on the left
 * is, upside down, what differs on the right, or nearly all bands go the same way, as a wide part does. A reverb's sides do
 * neither.
 */
const mirroredLikeness = -0.4;
const oneWayShare = 0.9;
const mostApart = 2;
/** What differs is the sides alone, or it moved between middle and sides: then the two sides' differences are akin. */
const sidesAloneLikeness = -0.9;
const widthLikeness = 0.4;

/** Left against right, or middle against sides: in most of the bands one goes up as the other goes down. */
function imageMove(taking: readonly BandBalance[], sums: CrossSums): Omit<Change, 'band'> | null {
  const likeness = sidesLikeness(taking, sums);
  const panned =
    likeness < mirroredLikeness || goOneWay(taking)
      ? opposedIn(taking.map(({ left, right }) => [left, right]))
      : null;
  if (panned) {
    const towards = panned.second > 0 ? 'right' : 'left';
    return { kind: 'moved in the image', confidence: panned.confidence, partGainDb: null, towards };
  }
  const middleAndSides = taking.map(({ band, both }): [Balance, Balance] => {
    const old = sums.powerLeftA[band]! + sums.powerRightA[band]!;
    const now = sums.powerLeftB[band]! + sums.powerRightB[band]!;
    const cross = sums.realLeft[band]! + sums.realRight[band]!;
    const [imageA, imageB, across] = [sums.imageA[band]!, sums.imageB[band]!, sums.imageAcross[band]!];
    const observations = both.observations / 2;
    return [
      balanceOf(old / 2 + imageA, now / 2 + imageB, (cross + across) / 2, observations),
      balanceOf(old / 2 - imageA, now / 2 - imageB, (cross - across) / 2, observations),
    ];
  });
  const width =
    likeness < sidesAloneLikeness
      ? sidesAlone(middleAndSides)
      : Math.abs(likeness) > widthLikeness
        ? opposedIn(middleAndSides)
        : null;
  if (!width) return null;
  const towards = width.second > 0 ? 'wider' : 'narrower';
  return { kind: 'moved in the image', confidence: width.confidence, partGainDb: null, towards };
}

/** How alike the differences on both sides are, −1 to 1. */
function sidesLikeness(taking: readonly BandBalance[], sums: CrossSums): number {
  let product = 0;
  for (const { band } of taking) product += sums.imageA[band]! + sums.imageB[band]! - sums.imageAcross[band]!;
  const left = joined(taking.map((each) => each.left)).residual;
  const right = joined(taking.map((each) => each.right)).residual;
  return product / Math.sqrt(left * right + 1e-30);
}

/**
 * Whether the sides go against each other, about as far and the same way in nearly all of several bands: what a bus holds
 * down on one side goes less far than what went up on the other.
 */
function goOneWay(taking: readonly BandBalance[]): boolean {
  const sides = [taking.map(({ left }) => left), taking.map(({ right }) => right)].map(joined);
  const ways = sides.map(({ product, residual }) => Math.abs(product) / (residual + 1e-30));
  if (mostApart * Math.min(...ways) < Math.max(...ways)) return false;
  let rightwards = 0;
  let all = 0;
  for (const { left, right } of taking) {
    const residual = left.residual + right.residual;
    all += residual;
    if (left.product < 0 && right.product > 0) rightwards += residual;
    if (left.product > 0 && right.product < 0) rightwards -= residual;
  }
  return taking.length > 3 && Math.abs(rightwards) > oneWayShare * all;
}

function sidesAlone(
  middleAndSides: readonly [Balance, Balance][],
): { confidence: number; second: number } | null {
  const sides = joined(middleAndSides.map(([, other]) => other));
  const errors = Math.abs(sides.product) / (productError(sides) + 1e-30);
  return errors > 3 ? { confidence: certainty(errors), second: sides.now - sides.old } : null;
}

/** Whether most of the residual stands in bands where one of the two goes up and the other down; which way the second. */
function opposedIn(pairs: readonly [Balance, Balance][]): { confidence: number; second: number } | null {
  let all = 0;
  let opposing = 0;
  let second = 0;
  for (const [one, other] of pairs) {
    const residual = one.residual + other.residual;
    all += residual;
    if (opposed(one, other) === null) continue;
    opposing += residual;
    second += other.now - other.old;
  }
  if (opposing < comparisonThreshold.opposingShare * all) return null;
  const confidence = opposed(joined(pairs.map(([one]) => one)), joined(pairs.map(([, other]) => other)));
  return confidence === null ? null : { confidence, second };
}

/** How sure it is that one of two powers went up and the other down; `null` where they didn't, or hardly. */
function opposed(one: Balance, other: Balance): number | null {
  const moveOne = one.now - one.old;
  const moveOther = other.now - other.old;
  if (moveOne * moveOther >= 0) return null;
  if (
    Math.min(Math.abs(moveOne), Math.abs(moveOther)) <
    0.15 * Math.max(Math.abs(moveOne), Math.abs(moveOther))
  )
    return null;
  const errors = Math.min(
    Math.abs(moveOne) / (2 * productError(one) + 1e-30),
    Math.abs(moveOther) / (2 * productError(other) + 1e-30),
  );
  return errors > 3 ? certainty(errors) : null;
}

/** The run of neighbouring bands around the strongest one, one weak band between allowed. */
function bandRange(bands: readonly BandBalance[]): { lowestHz: number; highestHz: number } {
  const strongest = bands.reduce((best, one) => (one.both.residual > best.both.residual ? one : best));
  const least = strongest.both.residual * 10 ** (comparisonThreshold.bandIsNamedDb / 10);
  const held = new Set(bands.filter(({ both }) => both.residual >= least).map(({ band }) => band));
  let lowest = strongest.band;
  let highest = strongest.band;
  while (held.has(lowest - 1) || held.has(lowest - 2)) lowest--;
  while (held.has(highest + 1) || held.has(highest + 2)) highest++;
  while (!held.has(lowest)) lowest++;
  while (!held.has(highest)) highest--;
  return { lowestHz: crossBands[lowest]!.nominalHz, highestHz: crossBands[highest]!.nominalHz };
}

/**
 * Where the null is limited everywhere, a change counts only where a band moves steadily: always the same way.
 *
 * @param lossy Coding noise moves bands steadily too: it adds to them what has nothing in common with the old mix, so
 * that more is asked where the two are less alike, and nothing is asked over 10 kHz.
 * @returns places in `crossBands`.
 */
export function steadyBands(stretch: StretchSpectrum, lossy: boolean): number[] {
  const { sums, steadiness } = stretch;
  const { noticedBandDb, steadyBandDb, steadyStandardErrors, codedBandDb } = comparisonThreshold;
  const strongest = Math.max(...sums.powerLeftB, ...sums.powerRightB);
  const moves = (old: number, now: number, cross: number, steady: number) => {
    if (Math.max(old, now) < strongest * 1e-4 || Math.abs(steady) <= steadyStandardErrors) return false;
    const alike = cross > 0 && cross * cross > 0.9 * old * now;
    const least = lossy ? (alike ? noticedBandDb : codedBandDb) : steadyBandDb;
    return Math.abs(10 * Math.log10((now + 1e-30) / (old + 1e-30))) > least;
  };
  return [...crossBands.keys()].filter((band) => {
    const { nominalHz } = crossBands[band]!;
    if (nominalHz < 80 || nominalHz > (lossy ? 10_000 : 16_000)) return false;
    return (
      moves(sums.powerLeftA[band]!, sums.powerLeftB[band]!, sums.realLeft[band]!, steadiness.left[band]!) ||
      moves(sums.powerRightA[band]!, sums.powerRightB[band]!, sums.realRight[band]!, steadiness.right[band]!)
    );
  });
}

/**
 * Whether the mix as a whole was held down or let go: each tenth of a second is the old one at another gain, and the
 * gain differs from one to the next.
 */
export function dynamicsChange(track: ResidualTrack, hops: readonly number[]): Change | null {
  let residual = 0;
  let unexplained = 0;
  const gains: number[] = [];
  for (const hop of hops) {
    const [old, product] = [track.powerA[hop]!, track.product[hop]!];
    if (old <= 0 || product <= 0) return null;
    residual += track.power[hop]!;
    unexplained += track.unexplained[hop]!;
    gains.push(20 * Math.log10(product / old));
  }
  if (gains.length < 5 || unexplained > comparisonThreshold.unexplainedShare * residual) return null;
  const mean = gains.reduce((sum, gain) => sum + gain, 0) / gains.length;
  const spread = Math.sqrt(gains.reduce((sum, gain) => sum + (gain - mean) ** 2, 0) / gains.length);
  if (spread < Math.max(0.05, 0.15 * Math.abs(mean))) return null;
  return {
    kind: 'dynamics',
    band: null,
    confidence: 1 - unexplained / residual,
    partGainDb: null,
    towards: null,
  };
}
