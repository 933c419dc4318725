import type { Comparison } from '../api/types.ts';
import { difference } from './figures-table.ts';

export type ComparedSection = Comparison['sections'][number];
type Change = ComparedSection['changes'][number];

export function isChanged(section: ComparedSection): boolean {
  return section.verdict === 'changed';
}

const kilo = (hertz: number) => `${Math.round(hertz / 10) / 100} kHz`;
/** A frequency as it is written on meters: `315 Hz`, `2.5 kHz`. */
export const hertzWords = (hertz: number) => (hertz >= 1000 ? kilo(hertz) : `${hertz} Hz`);

function bandWords(band: Change['band']): string {
  if (!band) return '';
  const { lowestHz, highestHz } = band;
  return lowestHz === highestHz
    ? `around ${hertzWords(lowestHz)}`
    : `${hertzWords(lowestHz)} to ${hertzWords(highestHz)}`;
}

/** One change in an engineer's words: `up, 1 kHz to 4 kHz, the part itself +1.2 dB if one part moved`. */
export function oneChangeWords({ kind, towards, band, partGainDb }: Change): string {
  return [
    towards ? `${kind}, ${towards}` : kind,
    bandWords(band),
    partGainDb === null ? '' : `the part itself ${difference(partGainDb, 'dB')} if one part moved`,
  ]
    .filter(Boolean)
    .join(', ');
}

/** The third-octave bands that moved most after matching, largest first. */
export function largestBands(
  section: Pick<ComparedSection, 'bands'>,
  { leastDb = 0.5, count = 2 }: { leastDb?: number; count?: number } = {},
): { nominalHz: number; differenceDb: number }[] {
  return section.bands
    .flatMap(({ nominalHz, matchedDifferenceDb }) =>
      matchedDifferenceDb === null || Math.abs(matchedDifferenceDb) < leastDb
        ? []
        : [{ nominalHz, differenceDb: matchedDifferenceDb }],
    )
    .sort((a, b) => Math.abs(b.differenceDb) - Math.abs(a.differenceDb))
    .slice(0, count);
}
