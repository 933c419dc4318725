import type { Comparison } from '../../api/types.ts';
import type { SharedPiece } from '../../player/version-timeline.ts';
import type { SheetLine } from './sheet-line.ts';

/** What changed on one line since the older version, in a few words. */
export interface LineChange {
  /** The difference in loudness beyond that of the whole mix, `+1.4 LU`; `null` where it is under a meter's tolerance. */
  figure: string | null;
  words: string;
  /** Nothing was measured as changed. */
  still: boolean;
}

type Compared = Pick<
  Comparison['sections'][number],
  'name' | 'start' | 'verdict' | 'doubt' | 'matchedLoudnessDifferenceLu'
> & { changes: Pick<Comparison['sections'][number]['changes'][number], 'kind' | 'band' | 'towards'>[] };

/** A line that was drawn from the song's start is still the section that starts a little later. */
const sameStartSeconds = 0.6;
/** @source EBU Tech 3341: a meter's tolerance */
const meterToleranceLu = 0.1;

const doubtWords: Record<NonNullable<Compared['doubt']>, string> = {
  outside_file: 'not in both versions',
  too_short: 'too short to judge',
  little_in_common: 'too little in common to judge',
};

/** Kinds of change that a figure and a band don't say by themselves. */
const kindWords: Partial<Record<Compared['changes'][number]['kind'], string>> = {
  added: 'something added',
  removed: 'something taken out',
  replaced: 'something replaced',
  wetter: 'wetter',
  drier: 'drier',
  dynamics: 'dynamics',
  cut: 'cut',
  inserted: 'inserted',
};

/** What the comparison says about a line; `null` where it has no section of that name there. */
export function lineChange(
  comparison: { sections: readonly Compared[] },
  line: SheetLine,
): LineChange | null {
  const section = comparison.sections.find(
    ({ name, start }) =>
      name === line.name && line.section && Math.abs(start - line.section.startSeconds) < sameStartSeconds,
  );
  if (!section) return null;
  if (section.verdict === 'too short to judge')
    return { figure: null, words: doubtWords[section.doubt ?? 'too_short'], still: true };
  if (section.verdict === 'no change measured')
    return { figure: null, words: 'no change measured', still: true };
  const louder = section.matchedLoudnessDifferenceLu;
  const figure =
    louder !== null && Math.abs(louder) >= meterToleranceLu
      ? `${louder > 0 ? '+' : '−'}${Math.abs(louder).toFixed(1)} LU`
      : null;
  const [change] = section.changes;
  if (!change) return { figure, words: figure ? '' : 'changed', still: false };
  const kind = change.towards ?? kindWords[change.kind] ?? (figure ? '' : change.kind);
  return {
    figure,
    words: [kind, bandWords(change.band)].filter(Boolean).join(', ') || 'changed',
    still: false,
  };
}

/** A span of frequencies, as short as a meter writes it: `2–5 kHz`, `315 Hz–2 kHz`. */
function bandWords(band: Compared['changes'][number]['band']): string {
  if (!band) return '';
  const low = hertz(band.lowestHz);
  const high = hertz(band.highestHz);
  if (band.lowestHz === band.highestHz) return `around ${low.join(' ')}`;
  return low[1] === high[1] ? `${low[0]}–${high.join(' ')}` : `${low.join(' ')}–${high.join(' ')}`;
}

const hertz = (value: number): [string, string] =>
  value >= 1000 ? [String(Math.round(value / 10) / 100), 'kHz'] : [String(value), 'Hz'];

/** The stretches that both versions have, for one playhead over the two. A is the older one. */
export function sharedPieces({ alignment }: Pick<Comparison, 'alignment'>): SharedPiece[] {
  return alignment.pieces.map(({ startSecondsA, startSecondsB, lengthSeconds }) => ({
    olderStartSeconds: startSecondsA,
    newerStartSeconds: startSecondsB,
    lengthSeconds,
  }));
}
