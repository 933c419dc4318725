import type { AlignedPiece } from './alignment.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import { KernelMemory } from './kernel-memory.ts';
import type { LaidOver } from './lay-over.ts';
import type { SectionSpan, TradeBandName } from './measurement.ts';
import { relativeDb } from './residual.ts';
import { type BusGram, fitBus } from './stem-bus.ts';
import {
  createStemGram,
  partOf,
  type StemGram,
  type StemStream,
  type StemWindow,
  stemWindowFramesAt,
} from './stem-gram.ts';
import { allParts, regressOnStems, type StemFit } from './stem-regression.ts';
import { stemSectionSentence } from './stem-sentence.ts';
import { tradeBands } from './third-octave.ts';

/**
 * What became of a stem in a section.
 * - `tone changed`, `replaced`: no one gain holds, and none is given.
 * - `silent`: it does not sound there, or is in neither print.
 * - `not told apart`: other stems sum to it, such as the same stem twice.
 * - `too uncertain`: the error is larger than a decibel, the section holds too little, or so much is left unexplained that
 *   a small move may come from that.
 */
export type StemReading =
  | 'no change measured'
  | 'up'
  | 'down'
  | 'added'
  | 'removed'
  | 'moved in the image'
  | 'tone changed'
  | 'replaced'
  | 'polarity turned over'
  | 'silent'
  | 'not told apart'
  | 'too uncertain';

/** All differences are B less A; `null` where undefined or where nothing can be told. */
export interface StemChange {
  stem: string;
  reading: StemReading;
  /** What the stem's gain changed by from print to print. */
  gainDifferenceDb: number | null;
  /** The same less the gain of the whole mix: what its fader moved by beside the others. */
  matchedGainDifferenceDb: number | null;
  /** One standard error of it, from how much the places of the section disagree. */
  standardErrorDb: number | null;
  /** On each side by itself, where the stem sounds there. */
  leftGainDifferenceDb: number | null;
  rightGainDifferenceDb: number | null;
  /** In each trade band by itself, where the stem sounds and the error is small. */
  bands: { name: TradeBandName; gainDifferenceDb: number | null }[];
  /** The stem's gain in each print, 0 where stems sum to it; `null` where the print's stems are not at hand. */
  gainInPrintDb: { a: number | null; b: number | null };
  /** Where both versions have the stem: what of B's no gain of A's explains, relative to B's. */
  residualDb: number | null;
}

export interface StemSection {
  name: string;
  /** Seconds of B. */
  start: number;
  end: number;
  doubt: 'outside_file' | 'too_short' | 'bus dynamics' | 'unexplained' | null;
  /** What the stems leave of each print, even at a gain of their own on each side or in each band; `unexplained` over −40 dB. */
  unexplainedDb: { a: number | null; b: number | null };
  /**
   * Where one gain that moves from moment to moment explains what the stems leave, as a limiter or compressor on the bus
   * does: how far it holds each print down in the mean, beside its freest moments. The stems' gains are those under it.
   */
  busGainDb: { a: number; b: number } | null;
  stems: StemChange[];
  /** In figures, for engineers. */
  sentence: string;
}

/** Kept away from both ends of a section, where faders move, and tails and pickups of the neighbours sound. */
const edgeSeconds = 0.3;
/** A stem so far under the print, in the mean of all bands, is silent. */
const silentShare = 1e-6;
/** Inflation past which others sum to a stem: its own share is 50 dB under it. */
const mostInflation = 1e5;
/** A gain is told down to this error, one band's or side's down to the second. */
const largestErrorDb = 1;
const largestPartErrorDb = 0.3;
/** A stem that went down by more is gone: 40 dB. */
const goneRatio = 0.01;
/** Standard errors that a difference must pass. */
const certainErrors = 3;
/** What stems may leave unexplained before their gains are doubtful, and one stem of its namesake before it is another. */
const doubtfulDb = -40;
const replacedDb = -30;
/** With more unexplained than this, what is left moves along with the stems, and errors from their disagreement fall short. */
const coarseDb = -20;
/** What a moving bus gain must explain more before it is believed. */
const busExplainsDb = 6;
/** What it may leave where it leaves clearly less of the other print: a stem that moved in the image leaves more. */
const busLeavesDb = -20;
/** Cells a section is split into, from whose disagreement errors are told. */
const fewestCells = 32;
const mostCells = 96;

/** The windows of a section as places in the list of cells. */
interface SectionCells {
  span: SectionSpan;
  cells: number[];
  doubt: 'outside_file' | 'too_short' | null;
}

/** Which windows of the stems are asked, and which section each belongs to. */
export interface StemPlan {
  sampleRateHz: number;
  windows: StemWindow[];
  cellCount: number;
  sections: SectionCells[];
}

/**
 * Lays windows over each section, its edges left out, wherever the stems and all prints run together.
 *
 * @param prints Laid over the stems. The sections are in seconds of the one at `timed`.
 * @param timed Place in `prints`; −1 where sections are in seconds of the stems themselves.
 * @param sections Without any, the whole is one.
 */
export function planStemWindows(
  stemCount: number,
  stemFrames: number,
  sampleRateHz: number,
  prints: readonly LaidOver[],
  timed: number,
  sections: readonly SectionSpan[],
): StemPlan {
  const size = stemWindowFramesAt(sampleRateHz);
  const frames = timed < 0 ? stemFrames : prints[timed]!.channels[0]!.length;
  const spans =
    sections.length > 0 ? sections : [{ name: 'Whole song', start: 0, end: frames / sampleRateHz }];
  const windows: StemWindow[] = [];
  let cellCount = 0;
  const own: AlignedPiece[] = [{ startFrameA: 0, startFrameB: 0, frames: stemFrames, confidence: 1 }];
  const timeline = timed < 0 ? own : prints[timed]!.pieces;
  const planned = spans.map((span): SectionCells => {
    const edge = Math.min(edgeSeconds, (span.end - span.start) / 10);
    const from = Math.round((span.start + edge) * sampleRateHz);
    const to = Math.min(frames, Math.round((span.end - edge) * sampleRateHz));
    const places: Omit<StemWindow, 'cell'>[] = [];
    for (const { startFrameA, startFrameB, frames: length } of timeline) {
      const end = Math.min(to, startFrameB + length);
      for (let at = Math.max(from, startFrameB); at + size <= end; at += size / 2) {
        const start = at - startFrameB + startFrameA;
        const starts = prints.map(({ pieces }) => placeIn(pieces, start, size));
        if (starts.every((place) => place !== null)) places.push({ start, prints: starts as number[] });
      }
    }
    const cells = Math.min(places.length, mostCells, Math.max(fewestCells, 3 * stemCount));
    for (const [index, place] of places.entries())
      windows.push({ ...place, cell: cellCount + Math.floor((index * cells) / places.length) });
    const doubt =
      span.start >= frames / sampleRateHz || span.end <= span.start
        ? 'outside_file'
        : places.length < 4
          ? 'too_short'
          : null;
    const section = { span, cells: Array.from({ length: cells }, (_, cell) => cellCount + cell), doubt };
    cellCount += cells;
    return section as SectionCells;
  });
  windows.sort((one, other) => one.start - other.start);
  return { sampleRateHz, windows, cellCount, sections: planned };
}

/** Where a window that starts at a frame of the stems starts in a print; `null` where no piece holds all of it. */
function placeIn(pieces: readonly AlignedPiece[], start: number, size: number): number | null {
  const piece = pieces.find(
    ({ startFrameA, frames }) => start >= startFrameA && start + size <= startFrameA + frames,
  );
  return piece ? start - piece.startFrameA + piece.startFrameB : null;
}

/**
 * Gives the products that a plan asks for, of stems that stream by.
 *
 * @param stream Hands over all stems together, each stereo, from their first frame to the last.
 */
export async function gramOfStems(
  plan: StemPlan,
  stemCount: number,
  prints: readonly LaidOver[],
  stream: StemStream,
): Promise<StemGram> {
  const memory = new KernelMemory();
  try {
    const meter = createStemGram(memory, {
      sampleRateHz: plan.sampleRateHz,
      stemCount,
      prints: prints.map(({ channels }) => channels),
      windows: plan.windows,
      cells: plan.cellCount,
    });
    await stream(meter.push);
    return meter.finish();
  } finally {
    memory.free();
  }
}

/**
 * What each stem's gain changed by from print A to print B, section by section, from one version's stems: both prints
 * are regressed on them, and the gains of the one held against the other's. So a limiter that both share, and a stem
 * exported at another level, weigh the same on both.
 *
 * @param gram Columns: the stems, print A, print B.
 * @param overallGainDb What the whole of B is louder by, taken off for `matchedGainDifferenceDb`.
 * @source linear regression of a mix on its stems, *common practice*
 */
export function stemSections(
  gram: StemGram,
  plan: StemPlan,
  names: readonly string[],
  overallGainDb: number,
): StemSection[] {
  const printA = names.length;
  const printB = names.length + 1;
  return plan.sections.map(({ span, cells, doubt }) => {
    if (doubt) return sectionOf(span, doubt, { a: null, b: null }, names.map(untold('too uncertain')));
    const sounding = soundingStems(gram, cells, names.length, [printA, printB]);
    const fits = partSets.map((parts) => {
      const columns = sounding.filter((stem) => powerIn(gram, cells, parts, stem) > 0);
      return {
        columns,
        a: regressOnStems(gram, cells, parts, columns, printA),
        b: regressOnStems(gram, cells, parts, columns, printB),
      };
    });
    const unexplainedDb = {
      a: leastUnexplainedDb(fits.map(({ a }) => a)),
      b: leastUnexplainedDb(fits.map(({ b }) => b)),
    };
    const left = Math.max(unexplainedDb.a ?? -150, unexplainedDb.b ?? -150);
    const stems = names.map((stem, index): StemChange => {
      const moves = fits.map(({ columns, a, b }) => moveOf(a, b, columns.indexOf(index)));
      const powers = partSets.map((parts) => powerIn(gram, cells, parts, index));
      return changeOf(stem, moves, powers, overallGainDb, left > coarseDb);
    });
    return sectionOf(span, left > doubtfulDb ? 'unexplained' : null, unexplainedDb, stems);
  });
}

/** Each stem's gain in the print that stands behind the stems, over some cells; `null` where it can't be told. */
export function stemGainsInPrint(
  gram: StemGram,
  cells: readonly number[],
  names: readonly string[],
): { gains: ({ gainDb: number; standardErrorDb: number } | null)[]; unexplainedDb: number | null } {
  const columns = soundingStems(gram, cells, names.length, [names.length]);
  const fit = regressOnStems(gram, cells, allParts, columns, names.length);
  const gains = names.map((_, stem) => {
    const move = moveOf(null, fit, columns.indexOf(stem), { a: 0, b: 0 });
    if (!move || move.inflated || move.gone || move.differenceDb === null || move.errorDb > largestErrorDb)
      return null;
    return { gainDb: move.differenceDb, standardErrorDb: move.errorDb };
  });
  return { gains, unexplainedDb: fit && relativeDb(fit.unexplained, fit.target) };
}

/**
 * What one stem's gain changed by, section by section, where both versions have it.
 *
 * @param gram Columns: A's stem, B's stem laid over it.
 * @param inPrintDb The gain that each version's stems need to sum to their print.
 */
export function namesakeChanges(
  gram: StemGram,
  plan: StemPlan,
  stem: string,
  inPrintDb: { a: number; b: number },
  overallGainDb: number,
): StemChange[] {
  return plan.sections.map(({ cells, doubt }) => {
    if (doubt) return untold('too uncertain')(stem);
    const [oldPower, newPower] = [0, 1].map((column) => powerIn(gram, cells, allParts, column));
    if (oldPower === 0 && newPower === 0) return untold('silent')(stem);
    if (newPower! <= oldPower! * goneRatio ** 2) return untold('removed')(stem);
    if (oldPower! <= newPower! * goneRatio ** 2) return untold('added')(stem);
    const fits = partSets.map((parts) => regressOnStems(gram, cells, parts, [0], 1));
    const moves = fits.map((fit) => moveOf(null, fit, 0, inPrintDb));
    const powers = partSets.map((parts) => powerIn(gram, cells, parts, 0));
    const residualDb = fits[0] ? relativeDb(fits[0].unexplained, fits[0].target) : null;
    const change = changeOf(stem, moves, powers, overallGainDb);
    const another = residualDb !== null && residualDb > replacedDb;
    if (another && change.reading !== 'tone changed' && change.reading !== 'moved in the image')
      return { ...change, ...noGain, reading: 'replaced', residualDb };
    return { ...change, residualDb };
  });
}

/** One section of what `namesakeChanges` found, stem after stem. */
export function namesakeSections(plan: StemPlan, changes: readonly StemChange[][]): StemSection[] {
  return plan.sections.map(({ span, doubt }, index) =>
    sectionOf(
      span,
      doubt,
      { a: null, b: null },
      changes.map((stem) => stem[index]!),
    ),
  );
}

/**
 * A section whose stems leave much unexplained, told once more under a moving bus gain. It stays as it is where no such
 * gain explains clearly more. Under one, gains alone are told: neither sides nor bands.
 */
export function sectionUnderBus(
  section: StemSection,
  cells: readonly number[],
  gram: StemGram,
  bus: BusGram,
  overallGainDb: number,
): StemSection {
  const names = section.stems.map(({ stem }) => stem);
  const prints = [names.length, names.length + 1];
  const columns = soundingStems(gram, cells, names.length, prints);
  const [a, b] = prints.map((print) => fitBus(bus, cells, columns, print));
  if (!a || !b) return section;
  const explains = [a, b].some(
    ({ unexplainedDb, unexplainedWithoutDb }) => unexplainedDb < unexplainedWithoutDb - busExplainsDb,
  );
  const left = [a.unexplainedDb, b.unexplainedDb];
  const alike = Math.abs(left[0]! - left[1]!) < busExplainsDb;
  if (!explains || (!alike && Math.max(...left) > busLeavesDb)) return section;
  const stems = names.map((stem, index) =>
    changeOf(stem, [moveOf(a, b, columns.indexOf(index))], [], overallGainDb),
  );
  const span = { name: section.name, start: section.start, end: section.end };
  const unexplainedDb = { a: a.unexplainedDb, b: b.unexplainedDb };
  return sectionOf(span, 'bus dynamics', unexplainedDb, stems, { a: a.busGainDb, b: b.busGainDb });
}

function sectionOf(
  span: SectionSpan,
  doubt: StemSection['doubt'],
  unexplainedDb: StemSection['unexplainedDb'],
  stems: StemChange[],
  busGainDb: StemSection['busGainDb'] = null,
): StemSection {
  const section = {
    name: span.name,
    start: span.start,
    end: span.end,
    doubt,
    unexplainedDb,
    busGainDb,
    stems,
  };
  return { ...section, sentence: stemSectionSentence(section) };
}

/** All parts; then left, right; then each trade band on both sides. */
const partSets: readonly (readonly number[])[] = [
  allParts,
  ...([0, 1] as const).map((side) => tradeBands.map((_, band) => partOf(side, band))),
  ...tradeBands.map((_, band) => [partOf(0, band), partOf(1, band)]),
];

/** What is left of a print at one gain a stem, at one on each side, or at one in each band: the least of the three. */
function leastUnexplainedDb(fits: readonly (StemFit | null)[]): number | null {
  const whole = fits[0];
  if (!whole) return null;
  const together = (some: readonly (StemFit | null)[]) =>
    some.reduce((sum, fit) => sum + (fit?.unexplained ?? 0), 0);
  const sides = together(fits.slice(1, 3));
  const bands = together(fits.slice(3));
  return relativeDb(Math.min(whole.unexplained, sides, bands), whole.target);
}

function powerIn(gram: StemGram, cells: readonly number[], parts: readonly number[], column: number): number {
  let power = 0;
  for (const cell of cells) for (const part of parts) power += gram.product(cell, part, column, column);
  return power;
}

/** Stems that reach the prints' level somewhere, each part of the spectrum counting the same. */
function soundingStems(gram: StemGram, cells: readonly number[], stems: number, prints: number[]): number[] {
  const levels = allParts.map((part) =>
    prints.reduce((most, print) => Math.max(most, powerIn(gram, cells, [part], print)), 0),
  );
  const floor = Math.max(...levels) * 1e-9;
  return Array.from({ length: stems }, (_, stem) => stem).filter((stem) => {
    const shares = allParts.map((part) =>
      levels[part]! > floor ? powerIn(gram, cells, [part], stem) / levels[part]! : 0,
    );
    return shares.reduce((sum, share) => sum + share, 0) / allParts.length > silentShare;
  });
}

/** A stem's gains in the two prints over some parts. */
interface Move {
  old: number;
  now: number;
  inflated: boolean;
  /** `null` for a gain of zero. */
  differenceDb: number | null;
  errorDb: number;
  gone: boolean;
  come: boolean;
}

/** @param fitA `null` where the old gain is 1 by definition; `inPrintDb` then says what each print does to it. */
function moveOf(
  fitA: StemFit | null,
  fitB: StemFit | null,
  index: number,
  inPrintDb?: { a: number; b: number },
): Move | null {
  if (index < 0 || !fitB || !(fitA || inPrintDb)) return null;
  const old = fitA ? fitA.gains[index]! : 1;
  const now = fitB.gains[index]!;
  const errors = (fit: StemFit | null) =>
    fit ? spread(fit.influences.map((influence) => influence[index]!)) : 0;
  const [errorOld, errorNow] = [errors(fitA), errors(fitB)];
  const gone = Math.abs(now) < Math.max(goneRatio * Math.abs(old), 2 * errorNow);
  const come = Math.abs(old) < Math.max(goneRatio * Math.abs(now), 2 * errorOld);
  const decibels = 20 / Math.LN10;
  const together = fitB.influences.map(
    (influence, cell) => influence[index]! / now - (fitA ? fitA.influences[cell]![index]! / old : 0),
  );
  const beside = inPrintDb ? inPrintDb.b - inPrintDb.a : 0;
  return {
    old,
    now,
    inflated: fitB.inflation[index]! > mostInflation,
    differenceDb: now === 0 || old === 0 ? null : 20 * Math.log10(Math.abs(now / old)) + beside,
    errorDb: decibels * spread(together),
    gone,
    come,
  };
}

/** The standard error of a sum of influences; without end for fewer than three. */
function spread(influences: readonly number[]): number {
  const count = influences.length;
  if (count < 3) return Number.POSITIVE_INFINITY;
  const squares = influences.reduce((sum, value) => sum + value * value, 0);
  return Math.sqrt((count / (count - 1)) * squares);
}

const noGain = {
  gainDifferenceDb: null,
  matchedGainDifferenceDb: null,
  standardErrorDb: null,
} as const;

const untold =
  (reading: StemReading) =>
  (stem: string): StemChange => ({
    stem,
    reading,
    ...noGain,
    leftGainDifferenceDb: null,
    rightGainDifferenceDb: null,
    bands: tradeBands.map(({ name }) => ({ name, gainDifferenceDb: null })),
    gainInPrintDb: { a: null, b: null },
    residualDb: null,
  });

/**
 * @param moves Over `partSets`.
 * @param powers The stem's own, over `partSets`.
 * @param coarse Whether only what an ear would notice can be told.
 */
function changeOf(
  stem: string,
  moves: readonly (Move | null)[],
  powers: readonly number[],
  overallGainDb: number,
  coarse = false,
): StemChange {
  const [whole, left, right, ...bands] = moves;
  if (!whole) return untold('silent')(stem);
  if (whole.inflated) return untold('not told apart')(stem);
  const inPrint = (gain: number) => (gain === 0 ? null : 20 * Math.log10(Math.abs(gain)));
  const told: StemChange = {
    ...untold('no change measured')(stem),
    gainInPrintDb: { a: inPrint(whole.old), b: inPrint(whole.now) },
  };
  if (whole.gone && whole.come) return { ...told, reading: 'silent', gainInPrintDb: { a: null, b: null } };
  if (whole.gone || whole.come) {
    const clear = whole.gone ? whole.old : whole.now;
    // A stem that is hardly told in either print neither went nor came.
    if (whole.errorDb === Number.POSITIVE_INFINITY || Math.abs(clear) < goneRatio)
      return { ...told, reading: 'too uncertain' };
    return { ...told, reading: whole.gone ? 'removed' : 'added' };
  }
  if (whole.differenceDb === null || whole.errorDb > largestErrorDb)
    return { ...told, reading: 'too uncertain', standardErrorDb: finite(whole.errorDb) };

  const sides = [left, right].map((move, side) => partMove(move, powers[1 + side]!, powers[0]!));
  const bandMoves = tradeBands.map((_, band) =>
    partMove(bands[band], powers[3 + band]!, Math.max(...powers.slice(3))),
  );
  const bandFigures = bandMoves.map((move, band) => ({
    name: tradeBands[band]!.name,
    gainDifferenceDb: move ? move.differenceDb : null,
  }));
  const figures: StemChange = {
    ...told,
    gainDifferenceDb: whole.differenceDb,
    matchedGainDifferenceDb: whole.differenceDb - overallGainDb,
    standardErrorDb: whole.errorDb,
    leftGainDifferenceDb: sides[0]?.differenceDb ?? null,
    rightGainDifferenceDb: sides[1]?.differenceDb ?? null,
    bands: bandFigures,
  };
  const [onLeft, onRight] = sides;
  if (onLeft && onRight && apart(onLeft, onRight)) {
    const power = (side: number) => powers[1 + side]! * 10 ** (sides[side]!.differenceDb / 10);
    const gainDb = 10 * Math.log10((power(0) + power(1)) / (powers[1]! + powers[2]!));
    return {
      ...figures,
      reading: 'moved in the image',
      gainDifferenceDb: gainDb,
      matchedGainDifferenceDb: gainDb - overallGainDb,
    };
  }
  const heard = bandMoves.filter((move) => move !== null);
  if (heard.length > 1) {
    const low = heard.reduce((one, other) => (other.differenceDb < one.differenceDb ? other : one));
    const high = heard.reduce((one, other) => (other.differenceDb > one.differenceDb ? other : one));
    if (apart(low, high, coarse ? 2 : 1)) return { ...figures, ...noGain, reading: 'tone changed' };
  }
  if (whole.old * whole.now < 0) return { ...figures, reading: 'polarity turned over' };
  const moved = whole.differenceDb - overallGainDb;
  const least = Math.max(comparisonThreshold.meterToleranceLu, certainErrors * whole.errorDb);
  if (Math.abs(moved) < least) return { ...figures, reading: 'no change measured' };
  if (coarse && Math.abs(moved) < comparisonThreshold.noticedLu)
    return { ...figures, reading: 'too uncertain' };
  return { ...figures, reading: moved > 0 ? 'up' : 'down' };
}

const finite = (value: number) => (Number.isFinite(value) ? value : null);

/** A side's or a band's move, where the stem sounds there and the error is small. */
function partMove(move: Move | null | undefined, power: number, most: number) {
  if (!move || move.inflated || move.come || !(power > most * 1e-4)) return null;
  const sure = move.errorDb <= largestPartErrorDb;
  // A stem that left one side altogether stands 40 dB down there.
  if (move.gone) return { differenceDb: 20 * Math.log10(goneRatio), errorDb: 0 };
  return sure && move.differenceDb !== null
    ? { differenceDb: move.differenceDb, errorDb: move.errorDb }
    : null;
}

/** Whether two parts of a stem moved by different amounts, by more than an ear forgives and the errors allow. */
function apart(
  one: { differenceDb: number; errorDb: number },
  other: { differenceDb: number; errorDb: number },
  times = 1,
): boolean {
  const least = Math.max(
    times * comparisonThreshold.noticedBandDb,
    2 * certainErrors * Math.hypot(one.errorDb, other.errorDb),
  );
  return Math.abs(one.differenceDb - other.differenceDb) > least;
}
