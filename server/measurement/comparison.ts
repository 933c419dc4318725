import type { AlignedPiece } from './alignment.ts';
import { type Change, type SectionHops, sectionHops } from './change.ts';
import { clock, type Said, sentenceOfSection, sentencesOfComparison } from './change-sentence.ts';
import { ComparisonError } from './comparison-error.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import { createCrossSpectrum } from './cross-spectrum.ts';
import { levelDifferenceDb } from './decibel.ts';
import { engine, standards } from './engine.ts';
import { changeOfEdit, editsOf, touches } from './form-edit.ts';
import { matchGain } from './gain-match.ts';
import { KernelMemory } from './kernel-memory.ts';
import { laidInTime } from './laid-in-time.ts';
import type { Figures, Measurement, SectionSpan } from './measurement.ts';
import { createMeter } from './meter.ts';
import { resample } from './rate-conversion.ts';
import {
  bestNull,
  measureResidual,
  missingGainDb,
  type NullLimit,
  nullLimit,
  type ResidualTrack,
  regain,
  relativeDb,
  residualHopSeconds,
} from './residual.ts';
import { changesIn, nothingTold } from './section-change.ts';
import type { TimelineEdit, TimelinePiece } from './timeline-map.ts';

/** One version's sound. */
export interface ComparedSound {
  /** Mono or stereo. */
  channels: readonly Float32Array[];
  sampleRateHz: number;
  /** True where it comes from a lossy file (MP3): its noise then limits what can be told. */
  lossy?: boolean;
}

export interface BandDifference {
  nominalHz: number;
  /** B over A; `null` where either has nothing there. */
  differenceDb: number | null;
  /** The same once A has been brought to B's gain: a difference in tone. */
  matchedDifferenceDb: number | null;
  /**
   * Power of B less matched A in the band, relative to B's there, in the tenths of a second that changed; `null` where
   * none did, and in bands that its window can't tell.
   */
  residualDb: number | null;
}

export type SectionVerdict = 'no change measured' | 'changed' | 'too short to judge';

/** Why a section can't be judged: most of it lies outside B, or little or nothing of it sounds in both. */
export type SectionDoubt = 'outside_file' | 'too_short' | 'little_in_common';

/** All differences are B less A, in the frames that both have; `null` where either is undefined. */
export interface Differences {
  loudnessDifferenceLu: number | null;
  /** Less the overall gain: what changed beyond it. */
  matchedLoudnessDifferenceLu: number | null;
  maxShortTermLoudnessDifferenceLu: number | null;
  loudnessRangeDifferenceLu: number | null;
  rmsDifferenceDb: number | null;
  truePeakDifferenceDb: number | null;
  /** Of left and right; `null` unless both are stereo. */
  correlationDifference: number | null;
  /** Mid over side; positive where B is narrower. */
  midSideDifferenceDb: number | null;
  bands: BandDifference[];
}

export interface SectionComparison extends Differences {
  name: string;
  /** Seconds of B. */
  start: number;
  end: number;
  verdict: SectionVerdict;
  doubt: SectionDoubt | null;
  /** Power of B less matched A, relative to B; never under −150. `null` where nothing can be laid side by side. */
  residualDb: number | null;
  changes: Change[];
  sentence: Said;
}

/** A stretch of B that differs from A, to a tenth of a second; sections play no part in it. */
export interface ChangedPlace {
  startSeconds: number;
  endSeconds: number;
  residualDb: number;
}

export interface Comparison extends Differences {
  /** The first sentence: plain words for artists, figures for engineers. */
  summary: Said;
  /** The same and more, in figures. */
  sentences: string[];
  /** Where both sound, the two files hold the same samples. */
  identical: boolean;
  /** How much later B starts than A, in frames of B and fractions of one. */
  offsetFrames: number;
  /** What B is louder than A by where nothing else changed. */
  gainDb: number;
  /**
   * Where the gain comes from: from what did not change, or, where the balance changed throughout and no one gain holds,
   * from the difference in loudness.
   */
  gainBasis: 'what did not change' | 'loudness';
  /** Share of the places that agree on the gain, 0 to 1. */
  gainAgreement: number;
  /** The best null over any 3 s, relative to B; never under −150. */
  nullDepthDb: number | null;
  nullLimit: NullLimit | null;
  alignment: {
    offsetFrames: number;
    offsetSeconds: number;
    /** −1 where B is A upside down. */
    polarity: 1 | -1;
    /** How much slower B runs than A, in millionths; 0 where they run alike. A was stretched by so much. */
    driftPpm: number;
    pieces: TimelinePiece[];
    edits: TimelineEdit[];
  };
  /** Sections are in seconds of B; what A has there is found by the alignment. */
  sections: SectionComparison[];
  changedPlaces: ChangedPlace[];
  /** The residual relative to B over time, in seconds of B; `null` where nothing can be laid side by side. */
  residualSeries: { hopSeconds: number; residualDb: (number | null)[] };
  /** What was done to make the two comparable, and what can't be told. */
  notes: string[];
  sampleRateHz: { a: number; b: number };
  durationSeconds: { a: number; b: number };
  engine: Measurement['engine'];
  standards: Measurement['standards'] & { comparison: string };
}

export interface ComparisonOptions {
  /** Share of the work that is done, 0 to 1. */
  onProgress?: (share: number) => void;
  /** With it, lengths are told in bars, too. */
  tempo?: Tempo | null;
}

export interface Tempo {
  tempoBpm: number;
  beatsPerBar: number;
}

const pushFrames = 8192;

/**
 * Compares two versions of a song: aligned, matched in gain, then section by section.
 *
 * @param a The older version.
 * @param b The newer one. Differences are B less A.
 * @param sections In seconds of B; without any, B falls into the places that changed and what lies between them.
 * @throws ComparisonError where the two can't be compared at all
 * @throws MeasurementError where a sample is no number
 * @source alignment, matching and reading of the residual: null test, *common practice*; figures: see `standards`
 */
export function compareSounds(
  a: ComparedSound,
  b: ComparedSound,
  sections: readonly SectionSpan[],
  options: ComparisonOptions = {},
): Comparison {
  const steps = comparisonSteps(a, b, sections, measureShared, options);
  let step = steps.next();
  while (!step.done) step = steps.next(step.value);
  return step.value;
}

/** What both versions share of one of them, to be measured. */
export interface SharedSound {
  channels: readonly Float32Array[];
  /** Measured as if one followed the other. */
  runs: { start: number; frames: number }[];
  sampleRateHz: number;
  /** In seconds of the runs. */
  sections: SectionSpan[];
}

type MeasuredPair = [a: Measurement, b: Measurement];

/**
 * The same as `compareSounds`, step by step: it goes on while the two are being measured elsewhere, and yields what
 * `measure` gave for both once it needs them; it is told the measurements.
 *
 * @param measure Called for both, once it is known what they share.
 * @throws ComparisonError, MeasurementError
 */
export function* comparisonSteps<Measuring>(
  a: ComparedSound,
  b: ComparedSound,
  sections: readonly SectionSpan[],
  measure: (sound: SharedSound) => Measuring,
  { onProgress = () => {}, tempo = null }: ComparisonOptions = {},
): Generator<[a: Measuring, b: Measuring], Comparison, MeasuredPair> {
  const memory = new KernelMemory();
  try {
    return yield* comparisonOf(a, b, sections, measure, onProgress, tempo, memory);
  } finally {
    memory.free();
  }
}

function* comparisonOf<Measuring>(
  a: ComparedSound,
  b: ComparedSound,
  sections: readonly SectionSpan[],
  measure: (sound: SharedSound) => Measuring,
  onProgress: (share: number) => void,
  tempo: Tempo | null,
  memory: KernelMemory,
): Generator<[a: Measuring, b: Measuring], Comparison, MeasuredPair> {
  const { sampleRateHz } = b;
  const notes: string[] = [];
  assertComparable(a, b);
  const channelsA = asStereo(a.channels);
  const channelsB = asStereo(b.channels);
  if (a.channels.length !== b.channels.length) {
    const [mono, stereo] = a.channels.length === 1 ? ['A', 'B'] : ['B', 'A'];
    notes.push(
      `${mono} is mono and ${stereo} is stereo: ${mono} is compared as it plays on two speakers, and its image says nothing.`,
    );
  }
  const converted = a.sampleRateHz !== sampleRateHz;
  let alignedA = converted
    ? resample(
        channelsA,
        sampleRateHz / a.sampleRateHz,
        Math.round((channelsA[0]!.length * sampleRateHz) / a.sampleRateHz),
      )
    : channelsA;
  if (converted)
    notes.push(
      `A was converted from ${a.sampleRateHz} Hz to B's ${sampleRateHz} Hz for this comparison only; the residual can't fall under what the conversion leaves.`,
    );
  onProgress(0.1);

  const spectrum = createCrossSpectrum(memory, sampleRateHz);
  const laid = laidInTime(alignedA, channelsB, spectrum, sampleRateHz);
  // B's frame n is the source's frame startA + n / ratio.
  const { alignment, fraction, ratio } = laid;
  const drifts = ratio !== 1;
  alignedA = laid.channels;
  const driftPpm = (ratio - 1) * 1e6;
  if (drifts)
    notes.push(
      `B runs ${Math.abs(driftPpm).toFixed(1)} millionths ${ratio > 1 ? 'slower' : 'faster'} than A, as from two clocks or a tape: A was stretched to it for this comparison only, and the residual can't fall under what that leaves.`,
    );
  onProgress(0.25);
  const match = matchGain(alignedA, channelsB, alignment, spectrum);
  onProgress(0.35);

  const asTheyAre = fraction === 0 && !converted && !drifts;
  const { pieces } = alignment;
  const framesB = channelsB[0]!.length;
  const trackAt = (gainDb: number) =>
    measureResidual(alignedA, channelsB, pieces, alignment.polarity * 10 ** (gainDb / 20), sampleRateHz);
  let matchedTrack: ResidualTrack | null = null;
  let matchedGainDb = withoutRounding(match.gainDb);
  if (match.decided) {
    matchedTrack = trackAt(matchedGainDb);
    const missingDb = missingGainDb(matchedTrack);
    matchedGainDb = withoutRounding(matchedGainDb + missingDb);
    regain(matchedTrack, missingDb);
  }
  const lossy = Boolean(a.lossy || b.lossy);
  const isLimited = (track: ResidualTrack) =>
    lossy || quietResidualDb(track) > comparisonThreshold.limitedNullDb;
  let spans = sections;
  if (sections.length === 0) {
    const places =
      matchedTrack && asTheyAre ? changedPlaces(matchedTrack, isLimited(matchedTrack), sampleRateHz) : [];
    spans = spansOfPlaces(places, framesB / sampleRateHz);
  }
  const stretches = spans.map((span) => sectionStretch(span, pieces, framesB, sampleRateHz));
  const shared = stretches.map(({ span, from, to }) => ({
    name: span.name,
    start: from / sampleRateHz,
    end: Math.max(to, from) / sampleRateHz,
  }));
  const measuring: [Measuring, Measuring] = [
    measure({
      channels: alignedA,
      runs: pieces.map(({ startFrameA, frames }) => ({ start: startFrameA, frames })),
      sampleRateHz,
      sections: shared,
    }),
    measure({
      channels: channelsB,
      runs: pieces.map(({ startFrameB, frames }) => ({ start: startFrameB, frames })),
      sampleRateHz,
      sections: shared,
    }),
  ];
  onProgress(0.5);

  let measured: MeasuredPair | null = null;
  let wholeLoudness: number | null = null;
  if (!match.decided) {
    measured = yield measuring;
    wholeLoudness = levelDifferenceDb(measured[1].integratedLoudnessLufs, measured[0].integratedLoudnessLufs);
  }
  const byLoudness = wholeLoudness !== null;
  if (byLoudness)
    notes.push(
      'The balance changed throughout, so that no one gain holds: A was brought to B’s loudness, and all is told beside that.',
    );
  const gainDb = wholeLoudness === null ? matchedGainDb : withoutRounding(wholeLoudness);
  const gain = alignment.polarity * 10 ** (gainDb / 20);
  const track = matchedTrack ?? trackAt(gainDb);
  const best = bestNull(track);
  const edits = editsOf(pieces, alignedA, channelsB, sampleRateHz, tempo);
  if (lossy)
    notes.push(
      'One of the files is lossy (MP3): small changes, and anything over 10 kHz, can’t be told from its encoding.',
    );
  const limited = isLimited(track);
  const judgedSections = stretches.map((stretch) => {
    const { span, startFrameB, endFrameB, doubt } = stretch;
    const hops = sectionHops(track, startFrameB, endFrameB);
    const judged = doubt ?? (enough(hops) ? null : 'little_in_common');
    const song = { alignedA, channelsB, track, gain, spectrum, limited, lossy, asTheyAre, sampleRateHz };
    const found = judged ? nothingTold : changesIn(hops, { ...song, startFrameB, endFrameB });
    return { span, hops, judged, found };
  });
  onProgress(0.7);
  const [measuredA, measuredB] = measured ?? (yield measuring);
  const compared = judgedSections.map(({ span, hops, judged, found }, index): SectionComparison => {
    const differences = differencesOf(measuredA.sections[index]!, measuredB.sections[index]!, gainDb);
    const inside = edits.filter((edit) => touches(edit, span, pieces, framesB, sampleRateHz));
    const louder = Math.abs(differences.matchedLoudnessDifferenceLu ?? 0);
    const stands = louder <= (lossy ? 2 : 1) * comparisonThreshold.meterToleranceLu;
    const told = found.unsteady && stands ? nothingTold : found;
    const changes = judged ? [] : [...inside.map(changeOfEdit), ...told.changes];
    const verdict: SectionVerdict =
      changes.length > 0 || inside.length > 0
        ? 'changed'
        : judged
          ? 'too short to judge'
          : 'no change measured';
    const section = {
      name: span.name,
      start: span.start,
      end: span.end,
      verdict,
      doubt: verdict === 'changed' ? null : judged,
      ...differences,
      bands: differences.bands.map((band, index) => ({
        ...band,
        residualDb: told.residualDb[index] ?? null,
      })),
      residualDb: residualOf(track, hops.hops),
      changes: changes.length > 0 || !judged ? changes : inside.map(changeOfEdit),
    };
    return { ...section, sentence: sentenceOfSection(section) };
  });
  if (limited && !lossy && best)
    notes.push(
      `Even the calmest tenth of the song leaves ${quietResidualDb(track).toFixed(0)} dB: something differs throughout, or an effect never repeats; there, only what moves steadily counts as a change.`,
    );
  const first = pieces[0]!;
  const offsetFrames = first.startFrameB - first.startFrameA + fraction;
  const comparison = {
    identical: asTheyAre && track.identical,
    offsetFrames,
    gainDb,
    gainBasis: byLoudness ? ('loudness' as const) : ('what did not change' as const),
    gainAgreement: match.agreement,
    nullDepthDb: best?.nullDepthDb ?? null,
    nullLimit:
      best && nullLimit(best, { identical: asTheyAre && track.identical, converted: !asTheyAre, lossy }),
    ...differencesOf(measuredA, measuredB, gainDb),
    alignment: {
      offsetFrames,
      offsetSeconds: offsetFrames / sampleRateHz,
      polarity: alignment.polarity,
      driftPpm,
      pieces: pieces.map(({ startFrameA, startFrameB, frames, confidence }) => ({
        startSecondsA: (startFrameA - fraction) / ratio / sampleRateHz,
        startSecondsB: startFrameB / sampleRateHz,
        lengthSeconds: frames / sampleRateHz,
        confidence,
      })),
      edits,
    },
    sections: compared,
    changedPlaces: asTheyAre ? changedPlaces(track, limited, sampleRateHz) : placesOfSections(compared),
    residualSeries: residualSeries(track, framesB, sampleRateHz),
    notes,
    sampleRateHz: { a: a.sampleRateHz, b: sampleRateHz },
    durationSeconds: {
      a: channelsA[0]!.length / a.sampleRateHz,
      b: framesB / sampleRateHz,
    },
    engine: { ...engine },
    standards: { ...standards, comparison: 'aligned and gain-matched null test, common practice' },
  };
  const { summary, sentences } = sentencesOfComparison(comparison);
  onProgress(1);
  return { summary, sentences, ...comparison };
}

function assertComparable(a: ComparedSound, b: ComparedSound): void {
  for (const [name, { channels, sampleRateHz }] of [
    ['first', a],
    ['second', b],
  ] as const) {
    if (channels.length === 0 || channels.length > 2)
      throw new ComparisonError(
        'channel_counts_differ',
        `The ${name} file has ${channels.length} channels. Only mono and stereo versions are compared.`,
      );
    if (channels[0]!.length < sampleRateHz)
      throw new ComparisonError(
        'too_short',
        `The ${name} file is shorter than a second: there is too little to lay side by side.`,
      );
    // Under −90 dBFS throughout there is dither, or nothing.
    if (!channels.some((channel) => channel.some((value) => Math.abs(value) > 3.2e-5 || Number.isNaN(value))))
      throw new ComparisonError(
        'silent_file',
        `The ${name} file is silent from beginning to end. Nothing was compared.`,
      );
  }
}

/** Mono plays on both speakers. */
function asStereo(channels: readonly Float32Array[]): readonly Float32Array[] {
  return channels.length === 1 ? [channels[0]!, channels[0]!] : channels;
}

interface SectionStretch {
  span: SectionSpan;
  startFrameB: number;
  endFrameB: number;
  /** The same among the frames that both have, piece after piece. */
  from: number;
  to: number;
  doubt: SectionDoubt | null;
}

function sectionStretch(
  span: SectionSpan,
  pieces: readonly AlignedPiece[],
  framesB: number,
  sampleRateHz: number,
): SectionStretch {
  const startFrameB = Math.round(span.start * sampleRateHz);
  // A song that lost its last seconds is still compared as far as it goes.
  const middle = (span.start + span.end) / 2;
  const inside = span.start >= 0 && span.end > span.start && middle <= framesB / sampleRateHz;
  const endFrameB = Math.min(framesB, Math.round(span.end * sampleRateHz));
  let before = 0;
  let from = 0;
  let to = 0;
  for (const piece of pieces) {
    const within = (frame: number) => Math.min(piece.frames, Math.max(0, frame - piece.startFrameB));
    from += within(startFrameB);
    to += within(endFrameB);
    before += piece.frames;
  }
  const short = endFrameB - startFrameB < comparisonThreshold.shortestSectionSeconds * sampleRateHz;
  const doubt = inside ? (short ? 'too_short' : null) : 'outside_file';
  return inside
    ? { span, startFrameB, endFrameB, from, to, doubt }
    : { span, startFrameB: 0, endFrameB: 0, from: before, to: before, doubt };
}

/** What rounding leaves of a gain is none. */
function withoutRounding(gainDb: number): number {
  return Math.abs(gainDb) < 5e-5 ? 0 : gainDb;
}

/**
 * The places that changed and what lies between them, each long enough to be judged, named by their times. The whole
 * song is one where no place stands out.
 */
function spansOfPlaces(places: readonly ChangedPlace[], durationSeconds: number): SectionSpan[] {
  const least = comparisonThreshold.shortestSectionSeconds;
  const edges: number[] = [0];
  for (const { startSeconds, endSeconds } of places) {
    const start = startSeconds - edges.at(-1)! < least ? edges.at(-1)! : startSeconds;
    const end = Math.max(endSeconds, start + least);
    if (start > edges.at(-1)!) edges.push(start);
    if (durationSeconds - end >= least) edges.push(end);
    else break;
  }
  edges.push(durationSeconds);
  if (edges.length === 2) return [{ name: 'Whole song', start: 0, end: durationSeconds }];
  return edges.slice(1).map((end, index) => {
    const start = edges[index]!;
    return { name: `${clock(start)}–${clock(end)}`, start, end };
  });
}

/** Whether enough of a section sounds in both to be judged; of four hits of a count-in only a change can be told. */
function enough({ active, changed }: SectionHops): boolean {
  return (
    active.length * residualHopSeconds >= comparisonThreshold.shortestSectionSeconds - 0.2 ||
    changed.length >= comparisonThreshold.leastChangedHops
  );
}

/** @throws MeasurementError where a sample is no number */
export function measureShared({ channels, runs, sampleRateHz, sections }: SharedSound): Measurement {
  const meter = createMeter({ sampleRateHz, channelCount: 2, sections });
  for (const { start, frames } of runs) {
    for (let at = 0; at < frames; at += pushFrames) {
      const count = Math.min(pushFrames, frames - at);
      meter.push(
        channels.map((channel) => channel.subarray(start + at, start + at + count)),
        count,
      );
    }
  }
  return meter.finish();
}

function differencesOf(a: Figures, b: Figures, gainDb: number): Differences {
  const loudness = levelDifferenceDb(b.integratedLoudnessLufs, a.integratedLoudnessLufs);
  return {
    loudnessDifferenceLu: loudness,
    matchedLoudnessDifferenceLu: loudness === null ? null : loudness - gainDb,
    maxShortTermLoudnessDifferenceLu: levelDifferenceDb(
      b.maxShortTermLoudnessLufs,
      a.maxShortTermLoudnessLufs,
    ),
    loudnessRangeDifferenceLu: levelDifferenceDb(b.loudnessRangeLu, a.loudnessRangeLu),
    rmsDifferenceDb: levelDifferenceDb(b.rmsDbfs, a.rmsDbfs),
    truePeakDifferenceDb: levelDifferenceDb(b.truePeakDbtp, a.truePeakDbtp),
    correlationDifference: levelDifferenceDb(b.correlation, a.correlation),
    midSideDifferenceDb: levelDifferenceDb(b.midSideBalanceDb, a.midSideBalanceDb),
    bands: b.bands.map(({ nominalHz, levelDb }, index) => {
      const difference = levelDifferenceDb(levelDb, a.bands[index]!.levelDb);
      return {
        nominalHz,
        differenceDb: difference,
        matchedDifferenceDb: difference === null ? null : difference - gainDb,
        residualDb: null,
      };
    }),
  };
}

function residualOf(track: ResidualTrack, hops: readonly number[]): number | null {
  let power = 0;
  let reference = 0;
  for (const hop of hops) {
    power += track.power[hop]!;
    reference += track.powerB[hop]!;
  }
  return relativeDb(power, reference);
}

/** The residual, relative to B, that the calmest tenth of the sounding song stays under. */
function quietResidualDb(track: ResidualTrack): number {
  const mean = track.powerB.reduce((sum, power) => sum + power, 0) / Math.max(1, track.powerB.length);
  const levels: number[] = [];
  for (let hop = 0; hop < track.power.length; hop++) {
    if (track.powerB[hop]! > mean * 1e-3) levels.push(relativeDb(track.power[hop]!, track.powerB[hop]!)!);
  }
  levels.sort((one, other) => one - other);
  return levels[Math.floor(levels.length / 10)] ?? 0;
}

function changedPlaces(track: ResidualTrack, limited: boolean, sampleRateHz: number): ChangedPlace[] {
  if (limited) return [];
  const { changed } = sectionHops(track, 0, Number.POSITIVE_INFINITY);
  const runs: number[][] = [];
  for (const hop of changed) {
    const last = runs.at(-1)?.at(-1);
    // A word's rest is no end of a change: neighbours within a second belong together.
    if (last !== undefined && track.startFrameB[hop]! - track.startFrameB[last]! <= sampleRateHz)
      runs.at(-1)!.push(hop);
    else runs.push([hop]);
  }
  return runs
    .filter((run) => run.length >= comparisonThreshold.leastChangedHops)
    .map((run) => ({
      startSeconds: track.startFrameB[run[0]!]! / sampleRateHz,
      endSeconds: (track.startFrameB[run.at(-1)!]! + track.hopFrames) / sampleRateHz,
      residualDb: residualOf(track, run) ?? comparisonThreshold.lowestResidualDb,
    }));
}

/** Where two converters come between, the residual over time is theirs: the sections that changed are all that is told. */
function placesOfSections(sections: readonly SectionComparison[]): ChangedPlace[] {
  return sections
    .filter(({ verdict }) => verdict === 'changed')
    .map(({ start, end, residualDb }) => ({
      startSeconds: start,
      endSeconds: end,
      residualDb: residualDb ?? comparisonThreshold.lowestResidualDb,
    }));
}

function residualSeries(
  track: ResidualTrack,
  framesB: number,
  sampleRateHz: number,
): Comparison['residualSeries'] {
  const residualDb: (number | null)[] = new Array(
    Math.ceil(framesB / sampleRateHz / residualHopSeconds),
  ).fill(null);
  for (let hop = 0; hop < track.power.length; hop++) {
    const at = Math.floor((track.startFrameB[hop]! + track.hopFrames / 2) / track.hopFrames);
    const level = relativeDb(track.power[hop]!, track.powerB[hop]!);
    residualDb[at] = level === null ? null : Math.round(level * 10) / 10;
  }
  return { hopSeconds: residualHopSeconds, residualDb };
}
