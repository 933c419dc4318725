import {
  bandCount,
  createFeatureTracker,
  type FeatureOptions,
  meanRow,
  pitchClassCount,
  type SoundFeatures,
  stepsPerSecond,
  unitVector,
} from './sound-features.ts';
import { type Tempo, tempoOf } from './tempo.ts';

export interface ProposedBoundary {
  seconds: number;
  /** 0 to 1: how different the sound is on its two sides, beside how much it varies within them. */
  confidence: number;
}

export interface ProposedSection {
  /** `Part A 1`: parts of one letter resemble each other. What a part is in the song, only people can say. */
  name: string;
  start: number;
  end: number;
}

export interface SectionProposal {
  durationSeconds: number;
  tempo: Tempo | null;
  /** Where one section ends and the next begins; none where nothing stands out. */
  boundaries: ProposedBoundary[];
  /** What lies between them, from the start of the file to its end; none without boundaries. */
  sections: ProposedSection[];
}

export interface SectionFinderOptions extends FeatureOptions {
  /** Beats a minute, where somebody knows them. */
  tempoBpm?: number | null;
}

export interface SectionFinder {
  /** @throws MeasurementError `unmeasurable_sample` */
  push(channels: readonly Float32Array[], frames: number): void;
  /** @throws MeasurementError `no_frames` */
  finish(): SectionProposal;
  close(): void;
}

/**
 * Proposes where a song's sections begin and end, from its audio alone: a start for people to correct.
 *
 * The song is divided so that the bars inside each section are as alike as they can be, in their bands' levels and, over
 * four bars, in their pitch classes; a boundary must gain something, and lengths that songs rarely have cost something.
 * Without bars, as in music that isn't played to a click, the search goes by seconds and no length is preferred. Boundaries
 * across which the sound hardly differs are dropped, so that noise, a single tone, silence and anything shorter than 20 s
 * have none. Sections that resemble each other from their starts share a letter.
 *
 * @source similarity of a song with itself: J. Foote, Automatic Audio Segmentation Using a Measure of Audio Novelty, IEEE
 *   ICME 2000; its best division into blocks of bars: A. Marmoret, J. Cohen, F. Bimbot, Barwise Music Structure Analysis
 *   with the Correlation Block-Matching Segmentation Algorithm, TISMIR 6 (2023)
 */
export function createSectionFinder({ tempoBpm = null, ...options }: SectionFinderOptions): SectionFinder {
  const tracker = createFeatureTracker(options);
  return {
    push: (channels, frames) => tracker.push(channels, frames),
    finish() {
      const features = tracker.finish();
      return sectionsOf(features, tempoOf(features, tempoBpm));
    },
    close: () => tracker.close(),
  };
}

/** Stretches of equal length that the search moves in one piece: bars, or about a second where they aren't known. */
interface Units {
  /** Where each begins, and the end of the last, in seconds. */
  edges: number[];
  areBars: boolean;
}

/** What the search goes by in bars, and what in seconds. */
interface Search {
  shortestUnits: number;
  /** Units further apart don't speak for or against one section: a song may build up slowly. */
  reachUnits: number;
  /** Pitch classes are taken over so many units, so that the chords of a progression don't part a section. */
  progressionUnits: number;
  /** What one more boundary must gain in likeness, summed over the units. */
  boundaryCost: number;
  /** The cost of a length that sections rarely have. */
  lengthCost: number;
}

/** About so long is a unit where bars aren't known; it then ends on a beat where those are. */
const unitSeconds = 1;
/** No section is shorter (*common practice*: a turnaround has two bars). */
const shortestSection = { seconds: 4, bars: 2 } as const;
const longestSectionUnits = 64;
/** Shorter music has no sections to tell apart. */
const shortestMusicSeconds = 20;
/** Levels so far under the loudest band count as silence. */
const floorDb = -60;

function unitsOf({ durationSeconds }: SoundFeatures, tempo: Tempo | null): Units {
  const grid = (first: number, step: number) => {
    const count = Math.max(0, Math.floor((durationSeconds - first) / step + 1e-9));
    return Array.from({ length: count + 1 }, (_, index) => first + index * step);
  };
  if (tempo === null) return { edges: grid(0, unitSeconds), areBars: false };
  const beatSeconds = minuteSeconds / tempo.tempoBpm;
  if (tempo.beatsPerBar !== null)
    return { edges: grid(tempo.firstBarSeconds ?? 0, beatSeconds * tempo.beatsPerBar), areBars: true };
  const beats = Math.max(1, Math.round(unitSeconds / beatSeconds));
  return { edges: grid(tempo.firstBeatSeconds, beats * beatSeconds), areBars: false };
}
const minuteSeconds = 60;

function searchOf({ edges, areBars }: Units): Search {
  const shortest = Math.ceil(shortestSection.seconds / (edges[1]! - edges[0]!));
  return areBars
    ? {
        shortestUnits: Math.max(shortestSection.bars, shortest),
        reachUnits: 10,
        progressionUnits: 4,
        boundaryCost: 0.15,
        lengthCost: 0.7,
      }
    : { shortestUnits: shortest, reachUnits: 24, progressionUnits: 8, boundaryCost: 1, lengthCost: 0 };
}

/** The sound of each unit: the level of each band, and the pitch classes around it as a vector of length one. */
interface UnitSounds {
  levels: Float64Array[];
  harmonies: Float64Array[];
}

function soundsOf(features: SoundFeatures, { edges }: Units, { progressionUnits }: Search): UnitSounds {
  const loudest = features.bandSquares.reduce((top, square) => Math.max(top, square), 0);
  const floor = loudest * 10 ** (floorDb / 10);
  const sounds: UnitSounds = { levels: [], harmonies: [] };
  for (let unit = 0; unit + 1 < edges.length; unit++) {
    const [from, end] = [edges[unit]!, edges[unit + 1]!];
    const around = ((progressionUnits - 1) / 2) * (end - from);
    const squares = meanRow(features.bandSquares, bandCount, from, end);
    sounds.levels.push(squares.map((square) => 10 * Math.log10(square + floor)));
    sounds.harmonies.push(unitVector(meanRow(features.chroma, pitchClassCount, from - around, end + around)));
  }
  return sounds;
}

function levelDistanceDb(one: Float64Array, other: Float64Array): number {
  let sum = 0;
  for (let band = 0; band < one.length; band++) sum += (one[band]! - other[band]!) ** 2;
  return Math.sqrt(sum / one.length);
}

/** How alike two units are, 0 to 1. */
type Likeness = (one: number, other: number) => number;

/** Between these the spread of a song's levels sets what counts as alike, dB. */
const spreadDb = { least: 1.5, most: 8 } as const;
const harmonyShare = 0.15;
/** So many units are enough to know the spread. */
const spreadUnits = 128;

function likenessOf({ levels, harmonies }: UnitSounds): Likeness {
  const stride = Math.ceil(levels.length / spreadUnits);
  const some = levels.filter((_, unit) => unit % stride === 0);
  const distances = some.flatMap((one, index) =>
    some.slice(index + 1).map((other) => levelDistanceDb(one, other)),
  );
  const median = distances.sort((one, other) => one - other)[distances.length >> 1] ?? 0;
  const spread = Math.min(spreadDb.most, Math.max(spreadDb.least, median));
  const harmonyLikeness = (one: Float64Array, other: Float64Array) =>
    Math.max(
      0,
      one.reduce((sum, value, place) => sum + value * other[place]!, 0),
    );
  return (one, other) =>
    (1 - harmonyShare) * Math.exp(-((levelDistanceDb(levels[one]!, levels[other]!) / spread) ** 2)) +
    harmonyShare * harmonyLikeness(harmonies[one]!, harmonies[other]!);
}

/** Sums of likeness along each diagonal near the main one, so that any stretch is summed in one step a diagonal. */
class NearLikeness {
  readonly count: number;
  private readonly sums: Float64Array[];

  constructor(count: number, likeness: Likeness, reach: number) {
    this.count = count;
    this.sums = Array.from({ length: reach }, (_, index) => {
      const sums = new Float64Array(count + 1);
      for (let unit = 0; unit < count; unit++) {
        const other = unit + index + 1;
        sums[unit + 1] = sums[unit]! + (other < count ? likeness(unit, other) : 0);
      }
      return sums;
    });
  }

  /** The mean likeness of different units from `from` until `end`. */
  within(from: number, end: number): number {
    let [sum, pairs] = [0, 0];
    for (const [index, sums] of this.sums.entries()) {
      const last = end - index - 1;
      if (last <= from) break;
      sum += sums[last]! - sums[from]!;
      pairs += last - from;
    }
    return pairs > 0 ? sum / pairs : 0;
  }
}

/** Sections mostly last a multiple of eight bars, or of four (*common practice*); 0 to 1. */
function rarity(bars: number): number {
  return bars % 8 === 0 ? 0 : bars % 4 === 0 ? 0.3 : bars % 2 === 0 ? 0.6 : 1;
}

/**
 * The division into sections whose insides are most alike, found exactly: the best for each beginning of the song is the
 * best for a shorter beginning and one more section.
 *
 * @returns where sections begin, in units, without 0
 */
function bestDivision(near: NearLikeness, { shortestUnits, boundaryCost, lengthCost }: Search): number[] {
  const { count } = near;
  const scores = new Float64Array(count + 1).fill(-Infinity);
  const starts = new Int32Array(count + 1);
  scores[0] = 0;
  for (let end = shortestUnits; end <= count; end++)
    for (let from = Math.max(0, end - longestSectionUnits); from <= end - shortestUnits; from++) {
      const length = end - from;
      const cost = boundaryCost + lengthCost * rarity(length);
      const score = scores[from]! + length * near.within(from, end) - cost;
      if (score > scores[end]!) {
        scores[end] = score;
        starts[end] = from;
      }
    }
  const boundaries: number[] = [];
  for (let at = starts[count]!; at > 0; at = starts[at]!) boundaries.unshift(at);
  return boundaries;
}

/** A boundary, and how much less alike units are across it than on either side of it, −1 to 1. */
interface Found {
  unit: number;
  contrast: number;
}

/** Boundaries with less contrast are none; with as much as `sure` they have a confidence of one. */
const contrasts = { least: 0.1, sure: 0.5 } as const;

function contrastAt(likeness: Likeness, from: number, unit: number, end: number): number {
  const sumOf = (ones: [number, number], others: [number, number]) => {
    let [sum, pairs] = [0, 0];
    for (let one = ones[0]; one < ones[1]; one++)
      for (let other = others[0]; other < others[1]; other++) {
        if (one === other) continue;
        sum += likeness(one, other);
        pairs++;
      }
    return { sum, pairs };
  };
  const [before, after]: [number, number][] = [
    [from, unit],
    [unit, end],
  ];
  const [left, right, across] = [sumOf(before!, before!), sumOf(after!, after!), sumOf(before!, after!)];
  return (
    (left.sum + right.sum) / Math.max(1, left.pairs + right.pairs) - across.sum / Math.max(1, across.pairs)
  );
}

/** Takes out the weakest boundary until all of them stand out. */
function standingOut(likeness: Likeness, division: readonly number[], count: number, reach: number): Found[] {
  let kept = [...division];
  for (;;) {
    const found = kept.map((unit, index) => {
      const from = Math.max(kept[index - 1] ?? 0, unit - reach);
      const end = Math.min(kept[index + 1] ?? count, unit + reach);
      return { unit, contrast: contrastAt(likeness, from, unit, end) };
    });
    const least = Math.min(...found.map(({ contrast }) => contrast));
    if (found.length === 0 || least >= contrasts.least) return found;
    kept = found.filter(({ contrast }) => contrast !== least).map(({ unit }) => unit);
  }
}

/** A boundary between two bars lies where they meet; others where the sound changes most within a unit of it. */
function momentOf(features: SoundFeatures, { edges, areBars }: Units, unit: number): number {
  const edge = edges[unit]!;
  if (areBars) return edge;
  const level = (from: number, end: number) =>
    meanRow(features.bandSquares, bandCount, from, end).map(
      (square) => 10 * Math.log10(square + Number.MIN_VALUE),
    );
  const reach = edges[1]! - edges[0]!;
  let best = { seconds: edge, change: -1 };
  for (let away = -reach; away <= reach + 1e-9; away += 1 / stepsPerSecond) {
    const seconds = edge + away;
    const change = levelDistanceDb(
      level(seconds - sideSeconds, seconds),
      level(seconds, seconds + sideSeconds),
    );
    if (change > best.change) best = { seconds, change };
  }
  return best.seconds;
}
/** So much is compared on either side of a moment. */
const sideSeconds = 1.5;

/** How alike two sections are when they are played side by side from their starts; 0 where one is much longer. */
function sectionLikeness(likeness: Likeness, one: readonly number[], other: readonly number[]): number {
  const lengths = [one[1]! - one[0]!, other[1]! - other[0]!];
  const shared = Math.min(...lengths);
  if (shared < 0.5 * Math.max(...lengths)) return 0;
  let sum = 0;
  for (let place = 0; place < shared; place++) sum += likeness(one[0]! + place, other[0]! + place);
  return sum / shared;
}
/** Sections this much alike are taken for the same part. */
const samePart = 0.5;

/** The group of each section: those most alike are put together first, as long as groups resemble each other on average. */
function groupsOf(count: number, alike: (one: number, other: number) => number): number[] {
  let groups = Array.from({ length: count }, (_, section) => [section]);
  for (;;) {
    let best: { one: number[]; other: number[]; mean: number } | null = null;
    for (const [index, one] of groups.entries())
      for (const other of groups.slice(index + 1)) {
        let sum = 0;
        for (const a of one) for (const b of other) sum += alike(a, b);
        const mean = sum / (one.length * other.length);
        if (mean >= samePart && (best === null || mean > best.mean)) best = { one, other, mean };
      }
    if (best === null) break;
    const { one, other } = best;
    groups = [...groups.filter((group) => group !== one && group !== other), [...one, ...other]];
  }
  groups.sort((one, other) => Math.min(...one) - Math.min(...other));
  return Array.from({ length: count }, (_, section) => groups.findIndex((group) => group.includes(section)));
}

/** The groups of the sections, and the boundaries that part two groups: neighbours of the same group are one section. */
function parted(
  likeness: Likeness,
  found: readonly Found[],
  count: number,
): { found: Found[]; groups: number[] } {
  const edges = [0, ...found.map(({ unit }) => unit), count];
  const spans = edges.slice(1).map((end, index) => [edges[index]!, end]);
  const groups = groupsOf(spans.length, (one, other) =>
    sectionLikeness(likeness, spans[one]!, spans[other]!),
  );
  const differs = (section: number) => section === 0 || groups[section] !== groups[section - 1];
  return {
    found: found.filter((_, index) => differs(index + 1)),
    groups: groups.filter((_, section) => differs(section)),
  };
}

/** `Part A 1`, `Part A 2`, `Part B` …: numbered where there are several. */
function namesOf(groups: readonly number[]): string[] {
  return groups.map((group, index) => {
    const several = groups.filter((each) => each === group).length > 1;
    const number = groups.slice(0, index + 1).filter((each) => each === group).length;
    return `Part ${letters(group)}${several ? ` ${number}` : ''}`;
  });
}

/** A to Z, then AA, AB …, as columns of a table are named. */
function letters(group: number): string {
  const before = group >= 26 ? letters(Math.floor(group / 26) - 1) : '';
  return before + String.fromCharCode(65 + (group % 26));
}

/** The proposal from what was heard, with a tempo where there is one. */
export function sectionsOf(features: SoundFeatures, tempo: Tempo | null): SectionProposal {
  const { durationSeconds, bandSquares } = features;
  const nothing: SectionProposal = { durationSeconds, tempo, boundaries: [], sections: [] };
  if (durationSeconds < shortestMusicSeconds || !bandSquares.some((square) => square > 0)) return nothing;
  const units = unitsOf(features, tempo);
  const count = units.edges.length - 1;
  if (count < 2) return nothing;
  const search = searchOf(units);
  const likeness = likenessOf(soundsOf(features, units, search));
  const near = new NearLikeness(count, likeness, search.reachUnits);
  const standing = standingOut(likeness, bestDivision(near, search), count, search.reachUnits);
  const { found, groups } = parted(likeness, standing, count);
  if (found.length === 0) return nothing;
  const boundaries = found.map(({ unit, contrast }) => ({
    seconds: momentOf(features, units, unit),
    confidence: Math.min(1, contrast / contrasts.sure),
  }));
  const starts = [0, ...boundaries.map(({ seconds }) => seconds)];
  const sections = namesOf(groups).map((name, index) => ({
    name,
    start: starts[index]!,
    end: starts[index + 1] ?? durationSeconds,
  }));
  return { durationSeconds, tempo, boundaries, sections };
}
