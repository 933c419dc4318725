import type { Comparison } from '../../server/measurement/comparison.ts';
import type { Song } from './synthetic-song.ts';
import { bandLevelsDb, loudnessLufs, rmsDb } from './truth.ts';
import type { TruthCase } from './truth-case.ts';

/** How far a comparison is from the truth of its case. */
export interface TruthScore {
  name: string;
  offsetErrorFrames: number;
  gainErrorDb: number;
  polarityRight: boolean;
  /** `null` where nothing was cut. */
  cutErrorSeconds: number | null;
  /** Sections that did not change, and how many of them were called changed. */
  calm: number;
  calmCalledChanged: number;
  /** Whether the changed section was found, and named rightly; `null` where none changed. */
  found: boolean | null;
  kindRight: boolean | null;
  partGainErrorDb: number | null;
  /** Largest errors over all sections; `null` where the truth isn't worked out. */
  loudnessErrorLu: number | null;
  rmsErrorDb: number | null;
  bandErrorDb: number | null;
  said: string;
}

/** Bands under this, beside the section's strongest, are no sound of the parts but leakage of either analysis. */
const weakBandDb = -55;

export function scoreOf(song: Song, truth: TruthCase, comparison: Comparison): TruthScore {
  const { sections, alignment } = comparison;
  const isChanged = (index: number) => truth.changed === 'all' || truth.changed === index;
  const judged = sections
    .map((section, index) => ({ section, index }))
    .filter(({ section }) => section.verdict !== 'too short to judge');
  const calm = judged.filter(({ index }) => !isChanged(index));
  const moved = judged.filter(({ index }) => isChanged(index));
  const main = moved[0]?.section.changes.find(({ kind }) => truth.kinds.includes('cut') || kind !== 'cut');
  const cut = alignment.edits.find(({ kind }) => kind === 'cut');
  let [loudnessError, rmsError, bandError] = [null, null, null] as [
    number | null,
    number | null,
    number | null,
  ];
  if (truth.exact) {
    const [a, b] = [truth.exact.a, truth.exact.b] as unknown as [
      [Float64Array, Float64Array],
      [Float64Array, Float64Array],
    ];
    [loudnessError, rmsError, bandError] = [0, 0, 0];
    for (const { section } of judged) {
      const from = Math.round(section.start * song.sampleRateHz);
      const to = Math.min(song.frames, Math.round(section.end * song.sampleRateHz));
      loudnessError = Math.max(
        loudnessError,
        Math.abs(section.loudnessDifferenceLu! - (loudnessLufs(b, from, to) - loudnessLufs(a, from, to))),
      );
      rmsError = Math.max(
        rmsError,
        Math.abs(section.rmsDifferenceDb! - (rmsDb(b, from, to) - rmsDb(a, from, to))),
      );
      const [levelsA, levelsB] = [bandLevelsDb(a, from, to), bandLevelsDb(b, from, to)];
      const strongest = Math.max(...levelsA.values());
      for (const { nominalHz, matchedDifferenceDb } of section.bands) {
        const [levelA, levelB] = [levelsA.get(nominalHz), levelsB.get(nominalHz)];
        if (levelA === undefined || levelB === undefined || levelA < strongest + weakBandDb) continue;
        bandError = Math.max(bandError, Math.abs(matchedDifferenceDb! - (levelB - levelA - truth.gainDb)));
      }
    }
  }
  return {
    name: truth.name,
    offsetErrorFrames: Math.abs(comparison.offsetFrames - truth.offsetFrames),
    gainErrorDb: Math.abs(comparison.gainDb - truth.gainDb),
    polarityRight: alignment.polarity === truth.polarity,
    cutErrorSeconds: truth.cut
      ? cut
        ? Math.max(Math.abs(cut.atSeconds - truth.cut.at), Math.abs(cut.lengthSeconds - truth.cut.length))
        : Number.POSITIVE_INFINITY
      : null,
    calm: calm.length,
    calmCalledChanged: calm.filter(({ section }) => section.verdict === 'changed').length,
    found: truth.changed === null ? null : moved.some(({ section }) => section.verdict === 'changed'),
    kindRight: truth.changed === null ? null : Boolean(main && truth.kinds.includes(main.kind)),
    partGainErrorDb:
      truth.partGainDb === null
        ? null
        : main?.partGainDb == null
          ? Number.POSITIVE_INFINITY
          : Math.abs(main.partGainDb - truth.partGainDb),
    loudnessErrorLu: loudnessError,
    rmsErrorDb: rmsError,
    bandErrorDb: bandError,
    said: comparison.summary.figures,
  };
}

const cell = (value: number | null, digits: number) => (value === null ? '–' : value.toFixed(digits));
const yes = (value: boolean | null) => (value === null ? '–' : value ? 'yes' : 'NO');

/** The scores as a table, one line a case, and what they come to. */
export function scoreTable(scores: readonly TruthScore[]): string {
  const head = [
    'case',
    'offset err',
    'gain err',
    'cut err s',
    'found',
    'kind',
    'part err',
    'false',
    'LU err',
    'RMS err',
    'band err',
  ];
  const lines = scores.map((score) => [
    score.name,
    cell(score.offsetErrorFrames, 4),
    cell(score.gainErrorDb, 4),
    cell(score.cutErrorSeconds, 4),
    yes(score.found),
    yes(score.kindRight),
    cell(score.partGainErrorDb, 2),
    `${score.calmCalledChanged}/${score.calm}`,
    cell(score.loudnessErrorLu, 4),
    cell(score.rmsErrorDb, 4),
    cell(score.bandErrorDb, 3),
  ]);
  const widths = head.map((title, column) =>
    Math.max(title.length, ...lines.map((line) => line[column]!.length)),
  );
  const show = (line: string[]) =>
    line
      .map((text, column) => (column === 0 ? text.padEnd(widths[0]!) : text.padStart(widths[column]!)))
      .join('  ');
  return [show(head), ...lines.map(show)].join('\n');
}

/** Rates and largest errors over many cases, in one line. */
export function scoreTotals(title: string, scores: readonly TruthScore[]): string {
  const share = (some: readonly (boolean | null)[]) => {
    const told = some.filter((value) => value !== null);
    return told.length === 0 ? '–' : `${told.filter(Boolean).length}/${told.length}`;
  };
  const largest = (values: readonly (number | null)[], digits: number) => {
    const told = values.filter((value) => value !== null);
    return told.length === 0 ? '–' : Math.max(...told).toFixed(digits);
  };
  const calm = scores.reduce((sum, score) => sum + score.calm, 0);
  const called = scores.reduce((sum, score) => sum + score.calmCalledChanged, 0);
  return [
    `${title}: found ${share(scores.map(({ found }) => found))}`,
    `kind right ${share(scores.map(({ kindRight }) => kindRight))}`,
    `unchanged called changed ${called}/${calm}`,
    `largest errors: offset ${largest(
      scores.map((score) => score.offsetErrorFrames),
      4,
    )} frames`,
    `gain ${largest(
      scores.map((score) => score.gainErrorDb),
      4,
    )} dB`,
    `loudness ${largest(
      scores.map((score) => score.loudnessErrorLu),
      4,
    )} LU`,
    `RMS ${largest(
      scores.map((score) => score.rmsErrorDb),
      4,
    )} dB`,
    `band ${largest(
      scores.map((score) => score.bandErrorDb),
      3,
    )} dB`,
  ].join('; ');
}
