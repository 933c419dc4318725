import type { StemChange } from '../measurement/stem-gain.ts';

const tenths = (value: number) => Math.abs(value).toFixed(1);
const signedDb = (value: number) =>
  `${tenths(value) === '0.0' ? '±' : value < 0 ? '−' : '+'}${tenths(value)} dB`;
const capital = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);

/** Readings that say that a stem changed. */
const moves: ReadonlySet<StemChange['reading']> = new Set([
  'up',
  'down',
  'added',
  'removed',
  'moved in the image',
  'tone changed',
  'replaced',
  'polarity turned over',
]);

export const stemMoved = ({ reading }: Pick<StemChange, 'reading'>): boolean => moves.has(reading);

/** Which side a stem that moved in the image went to. */
export const stemTowards = ({
  leftGainDifferenceDb,
  rightGainDifferenceDb,
}: Pick<StemChange, 'leftGainDifferenceDb' | 'rightGainDifferenceDb'>): 'left' | 'right' =>
  (rightGainDifferenceDb ?? 0) > (leftGainDifferenceDb ?? 0) ? 'right' : 'left';

/** What became of a stem in figures, as the beginning of a sentence: `Lead vocal +1.1 dB`. */
export function stemFigure(change: StemChange): string {
  const { reading, matchedGainDifferenceDb: gainDb } = change;
  const stem = capital(change.stem);
  switch (reading) {
    case 'added':
      return `${stem} new`;
    case 'removed':
      return `${stem} gone`;
    case 'moved in the image':
      return `${stem} moved to the ${stemTowards(change)}`;
    case 'tone changed':
      return `${stem} with another tone`;
    case 'replaced':
      return `${stem} not the same as before`;
    case 'polarity turned over':
      return `${stem} turned upside down`;
    case 'no change measured':
      return `${stem}: no change measured`;
    default:
      return gainDb === null ? stem : `${stem} ${signedDb(gainDb)}`;
  }
}

/** The same without figures: `Lead vocal up`. */
export function stemPlain(change: StemChange): string {
  const { reading, stem } = change;
  return reading === 'up' || reading === 'down' ? `${capital(stem)} ${reading}` : stemFigure(change);
}
