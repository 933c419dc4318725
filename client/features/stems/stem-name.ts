import type { StemRole } from '../../api/types.ts';

/** What a file's name says about a stem: what it is called, and what it holds. */
export interface NamedStem {
  name: string;
  role: StemRole;
}

/** Alternates of the whole song, by what their files are usually called. A “clean guitar” is a part. */
const alternateNames: readonly (readonly [StemRole, RegExp])[] = [
  ['instrumental', /\binstr(?:umental)?\b/i],
  ['a cappella', /\ba[ -]?cc?app?ell?a\b/i],
  ['TV track', /\btv(?: track| mix)?\b/i],
  ['clean', /\bclean (?:version|edit|mix)\b/i],
];

/** Words of an export that name no part: numbers of tracks, rates, word lengths, and that it is a stem. */
const exportWords = /^(?:\d{1,3}|stems?|\d{2,3}(?:\.\d)?k(?:hz)?|\d{2}-?bit|bounce|print)$/i;

/** What fewer files share may be the part: “lead vocal” and “lead guitar”. */
const fewestAlike = 3;

const wordsOf = (fileName: string) =>
  fileName
    .replace(/\.[^.]*$/, '')
    .split(/[\s_–—]+|\s-\s|(?<=\d)[.)](?=\s|$)/u)
    .map((word) => word.replace(/^[-.()[\]]+|[-.()[\]]+$/gu, ''))
    .filter(Boolean);

const sameWord = (one: string | undefined, other: string | undefined) =>
  one !== undefined && one.toLowerCase() === other?.toLowerCase();

/** Most of several lists, if not all: a file that came along from elsewhere shares nothing. */
const mostLists = 0.75;

/** Lists without the words that most of them begin with; each keeps at least one. */
function withoutShared(lists: readonly (readonly string[])[]): (readonly string[])[] {
  let left = [...lists];
  for (;;) {
    const first = left.map(([word]) => word?.toLowerCase() ?? '');
    const shared = first.find(
      (word) =>
        first.filter((each) => each === word).length >= Math.max(fewestAlike, mostLists * left.length),
    );
    const holders = left.filter((_, index) => first[index] === shared);
    if (shared === undefined || holders.some((words) => words.length < 2)) return left;
    left = left.map((words) => (holders.includes(words) ? words.slice(1) : words));
  }
}

/** Words without those of a phrase, where it stands in them. */
function withoutPhrase(words: readonly string[], phrase: readonly string[]): string[] {
  const at = words.findIndex((_, index) =>
    phrase.every((word, offset) => sameWord(words[index + offset], word)),
  );
  if (at < 0 || phrase.length === 0 || phrase.length >= words.length) return [...words];
  return [...words.slice(0, at), ...words.slice(at + phrase.length)];
}

/**
 * Names for stems out of their files' names: without the ending, without what says where the file comes from, and without
 * what most of them share, such as the song and the date.
 *
 * @param known What the names may hold that is no part: the song, its version, the record, the act.
 */
export function stemNames(fileNames: readonly string[], known: readonly string[]): NamedStem[] {
  const named = fileNames.map((fileName): readonly string[] =>
    known.reduce((words, phrase) => withoutPhrase(words, wordsOf(`${phrase}.`)), wordsOf(fileName)),
  );
  const reversed = (lists: readonly (readonly string[])[]) => lists.map((words) => [...words].reverse());
  const lists = reversed(withoutShared(reversed(withoutShared(named))));
  return lists.map((words) => {
    const own = words.filter((word) => !exportWords.test(word));
    const name = (own.length > 0 ? own : words).join(' ');
    const role = alternateNames.find(([, pattern]) => pattern.test(name))?.[0] ?? 'part';
    return { name: name.charAt(0).toUpperCase() + name.slice(1), role };
  });
}
