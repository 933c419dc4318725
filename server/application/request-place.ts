import type { Request } from '../domain/note.ts';
import type { Comparison } from '../measurement/comparison.ts';
import type { MovedPlace } from '../measurement/timeline-position.ts';

/** One stem for singular and plural: verse, verses; chorus, choruses. */
const stem = (word: string) => (word.length > 4 ? word.replace(/[es]+$/, '') : word);
const wordsOf = (text: string) => text.toLowerCase().match(/[\p{L}\d]+/gu) ?? [];
const every = /\b(all|every|each)\b/i;
const two = /\bboth\b/i;
const orderWords: Record<string, number> = {
  first: 0, '1st': 0, second: 1, '2nd': 1, third: 2, '3rd': 2, fourth: 3, '4th': 3, last: -1, final: -1,
}; // biome-ignore format: one list

/** Which of its kind words name: `second chorus`, though not `the second half of the chorus`. */
function orderOf(placeWords: string, kindWords: readonly string[]): number | undefined {
  const stems = wordsOf(placeWords).map(stem);
  const at = stems.findIndex(
    (word, index) => orderWords[word] !== undefined && stems[index + 1] === kindWords[0],
  );
  return at < 0 ? undefined : orderWords[stems[at]!];
}

/**
 * Whether words such as `all choruses`, `the verses`, `second chorus` or `chorus 2` name a section. Words that name only
 * its kind (`the chorus`) do where there is one such section, or where they say that all of them are meant; `both` are the
 * first two.
 */
export function placeMeans(
  placeWords: string,
  sectionName: string,
  sectionNames: readonly string[],
): boolean {
  const stems = wordsOf(placeWords).map(stem);
  const named = (name: string) => {
    const own = wordsOf(name).map(stem);
    return own.length > 0 && own.every((word) => stems.includes(word));
  };
  if (named(sectionName)) return true;
  if (/\d(?!st|nd|rd|th)/i.test(placeWords)) return false;
  const kind = (name: string) => name.replace(/\s*\d+$/, '');
  if (!named(kind(sectionName))) return false;
  const alike = sectionNames.filter((name) => kind(name) === kind(sectionName));
  if (two.test(placeWords)) return alike.slice(0, 2).includes(sectionName);
  const place = orderOf(placeWords, wordsOf(kind(sectionName)).map(stem));
  if (place !== undefined) return alike.at(place) === sectionName;
  const plural = wordsOf(placeWords).some(
    (word) =>
      /s$/.test(word) &&
      wordsOf(sectionName).some((own) => stem(own) === stem(word) && own.length < word.length),
  );
  return alike.length === 1 || plural || every.test(placeWords);
}

/** A stretch of the newer version. */
export interface Stretch {
  startSeconds: number;
  endSeconds: number;
}

/** Where a request stands in the newer version, and which sections of the comparison that is. */
export interface AskedPlace {
  /** Places in the comparison's sections; none where the place is gone. */
  sections: number[];
  /** The stretch itself, where it is less than half of its one section. */
  narrower: Stretch | null;
  /** Whether words or a pin say where; else it is about the whole song. */
  named: boolean;
  /** How much of it the newer version still has; `unknown` where the two are not joined by a comparison. */
  left: MovedPlace['left'] | 'unknown';
}

type Sections = Comparison['sections'];
const lengthOf = ({ start, end }: Sections[number]) => end - start;

function overlapSeconds({ start, end }: Sections[number], stretch: Stretch): number {
  return Math.min(end, stretch.endSeconds) - Math.max(start, stretch.startSeconds);
}

/**
 * The sections that a request is about. Its words come first, since they name sections as they are now; then its pin,
 * which was moved to the newer version before. A moment stands for the section that it lies in.
 *
 * @param moved Its range in the newer version; `null` where no chain of comparisons leads there, and the range is taken
 * as it is.
 */
export function askedPlace(
  { place, range }: Pick<Request, 'place' | 'range'>,
  moved: MovedPlace | null,
  sections: Sections,
): AskedPlace {
  const names = sections.map(({ name }) => name);
  const byWords = place
    ? [...sections.keys()].filter((index) => placeMeans(place, names[index]!, names))
    : [];
  const left = range === null ? 'all' : (moved?.left ?? 'unknown');
  const now = moved ? moved.range : range;
  if (now === null) {
    if (byWords.length > 0) return { sections: byWords, narrower: null, named: true, left };
    return range || place
      ? { sections: [], narrower: null, named: true, left: range ? left : 'unknown' }
      : { sections: [...sections.keys()], narrower: null, named: false, left };
  }
  const stretch = {
    startSeconds: now.startSeconds,
    endSeconds: now.endSeconds ?? now.startSeconds + 1e-3,
  };
  const asked = stretch.endSeconds - stretch.startSeconds;
  const byRange = [...sections.entries()]
    .filter(([, section]) => {
      const shared = overlapSeconds(section, stretch);
      return shared > 0 && shared >= Math.min(1, asked / 2, lengthOf(section) / 2);
    })
    .map(([index]) => index);
  const within = byWords.length > 0 ? byWords : byRange;
  const only = within.length === 1 ? sections[within[0]!]! : null;
  const narrow =
    only !== null &&
    now.endSeconds !== null &&
    asked < lengthOf(only) / 2 &&
    overlapSeconds(only, stretch) > 0.9 * asked;
  return { sections: within, narrower: narrow ? stretch : null, named: true, left };
}
