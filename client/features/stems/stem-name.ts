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

/** How many words all lists begin with, leaving each at least one. */
function sharedWords(lists: readonly (readonly string[])[]): number {
  const most = Math.min(...lists.map((list) => list.length)) - 1;
  let shared = 0;
  while (shared < most && lists.every((list) => sameWord(list[shared], lists[0]![shared]))) shared++;
  return shared;
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
 * what all of them share, such as the song and the date.
 *
 * @param known What the names may hold that is no part: the song, its version, the record, the act.
 */
export function stemNames(fileNames: readonly string[], known: readonly string[]): NamedStem[] {
  let lists = fileNames.map((fileName) =>
    known.reduce((words, phrase) => withoutPhrase(words, wordsOf(`${phrase}.`)), wordsOf(fileName)),
  );
  if (lists.length >= fewestAlike) {
    const first = sharedWords(lists);
    lists = lists.map((words) => words.slice(first));
    const last = sharedWords(lists.map((words) => [...words].reverse()));
    lists = lists.map((words) => words.slice(0, words.length - last));
  }
  return lists.map((words) => {
    const own = words.filter((word) => !exportWords.test(word));
    const name = (own.length > 0 ? own : words).join(' ');
    const role = alternateNames.find(([, pattern]) => pattern.test(name))?.[0] ?? 'part';
    return { name: name.charAt(0).toUpperCase() + name.slice(1), role };
  });
}
