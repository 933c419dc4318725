import type { StemChange, StemSection } from '../../api/types.ts';
import { asSentence, listWords } from '../../elements/count-words.ts';
import { difference } from '../../elements/figures-table.ts';

/** Readings that say that something changed. */
const changes: ReadonlySet<StemChange['reading']> = new Set([
  'up',
  'down',
  'added',
  'removed',
  'moved in the image',
  'tone changed',
  'replaced',
  'polarity turned over',
]);

export const isMoved = ({ reading }: StemChange) => changes.has(reading);

/** Left and right by themselves say which way a stem went. */
const towards = ({ leftGainDifferenceDb, rightGainDifferenceDb }: StemChange) =>
  (rightGainDifferenceDb ?? 0) > (leftGainDifferenceDb ?? 0) ? 'right' : 'left';

/** What became of a stem, as it stands in a cell: `+1.1 dB`, `gone`. */
export function changeInCell(change: StemChange): string {
  const { reading, matchedGainDifferenceDb: gainDb } = change;
  const gain = gainDb === null || Math.abs(gainDb) < 0.05 ? '' : ` ${difference(gainDb, 'dB')}`;
  switch (reading) {
    case 'up':
    case 'down':
      return difference(gainDb, 'dB');
    case 'added':
      return 'new';
    case 'removed':
      return 'gone';
    case 'moved in the image':
      return `to the ${towards(change)}${gain}`;
    case 'tone changed':
      return 'another tone';
    case 'polarity turned over':
      return `upside down${gain}`;
    case 'no change measured':
      return 'no change';
    case 'not told apart':
    case 'too uncertain':
      return 'can’t be told';
    case 'replaced':
    case 'silent':
      return reading;
  }
}

/** A band that moved by less says nothing of a tone. */
const leastToneDb = 0.5;

/** The bands in which a stem's tone moved most, beside the whole mix: ` (low mids −2.1 dB)`. */
function toneWords({ bands }: StemChange, overallGainDb: number): string {
  const moved = bands
    .flatMap(({ name, gainDifferenceDb }) =>
      gainDifferenceDb === null ? [] : [{ name, movedDb: gainDifferenceDb - overallGainDb }],
    )
    .filter(({ movedDb }) => Math.abs(movedDb) >= leastToneDb)
    .sort((one, other) => Math.abs(other.movedDb) - Math.abs(one.movedDb))
    .slice(0, 2);
  return moved.length
    ? ` (${moved.map(({ name, movedDb }) => `${name} ${difference(movedDb, 'dB')}`).join(', ')})`
    : '';
}

/** The same after the stem's name in a sentence: `Lead vocal +1.1 dB`. */
function changeInSentence(change: StemChange, overallGainDb: number): string {
  const { stem, reading } = change;
  switch (reading) {
    case 'added':
      return `${stem} new`;
    case 'removed':
      return `${stem} gone`;
    case 'moved in the image':
      return `${stem} moved ${changeInCell(change)}`;
    case 'tone changed':
      return `${stem} with another tone${toneWords(change, overallGainDb)}`;
    case 'replaced':
      return `${stem} not the same as before`;
    case 'polarity turned over':
      return `${stem} turned ${changeInCell(change)}`;
    default:
      return `${stem} ${changeInCell(change)}`;
  }
}

/** A section as a sentence names it: `chorus 2`, `the bridge`. */
function inSentence(name: string): string {
  const lower = name.charAt(0).toLowerCase() + name.slice(1);
  return /^\p{L}{4,}$/u.test(name) ? `the ${lower}` : lower;
}

/**
 * Every change of a stem as a plain sentence, the largest first: `Lead vocal +1.1 dB in chorus 2.` What is the same in
 * several sections is said once.
 *
 * @param overallGainDb What the whole of the newer mix is louder by, which is left out.
 */
export function stemSentences(sections: readonly StemSection[], overallGainDb = 0): string[] {
  const said = new Map<string, { places: string[]; size: number }>();
  for (const { name, stems } of sections)
    for (const change of stems.filter(isMoved)) {
      const words = changeInSentence(change, overallGainDb);
      const known = said.get(words) ?? { places: [], size: 0 };
      known.places.push(name);
      known.size = Math.max(known.size, Math.abs(change.matchedGainDifferenceDb ?? 100));
      said.set(words, known);
    }
  return [...said]
    .sort(([, one], [, other]) => other.size - one.size)
    .map(([words, { places }]) => {
      const every = sections.length > 1 && places.length === sections.length;
      return asSentence(`${words} in ${every ? 'every section' : listWords(places.map(inSentence))}.`);
    });
}

const doubts: Record<NonNullable<StemSection['doubt']>, string> = {
  outside_file: 'reaches outside the newer version',
  too_short: 'too short to tell stems apart',
  'bus dynamics': 'told under a limiter or compressor that works on the whole mix',
  unexplained: 'the stems leave much of the print unexplained, so these are averages',
};

/** What stands in the way of reading a section, with its name; `null` where nothing does. */
export function doubtWords({ name, doubt }: StemSection): string | null {
  return doubt && `${name}: ${doubts[doubt]}.`;
}
