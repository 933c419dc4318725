/** A word of a note, with its place in the text as it was typed. */
export interface Word {
  /** Lower case, without accents, apostrophes and invisible characters. */
  form: string;
  start: number;
  end: number;
  /** Number of the quotation that it stands in, or 0. */
  quotation: number;
  /** What stands between the word before and this one: spaces, punctuation, line ends. */
  before: string;
}

/** More than anybody types into a note; what follows is kept in the note and not sorted. */
export const longestSortedLength = 20_000;

const invisible = /[\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/gu;
const wordPattern =
  /\d{1,2}:\d{2}(?:[.:]\d{1,3})?|\d+(?:st|nd|rd|th|s|k|o\d|e|er|ere|eme|te|ten|ter|a|o)\b|\d+(?:[.,]\d+)?|(?:[ldnjmtsc]|qu)(?=['’][aeiouyhàâéèêîïôœ])|[\p{L}\p{M}\u00ad\u200b-\u200f\u2060\ufeff]+(?:['’ʼ`´][\p{L}\p{M}]+)*\d*|\p{Extended_Pictographic}|\?/giu;

/** Contractions whose `s` belongs to the word; any other `'s` is an owner's or a short “is”, and falls away. */
const contractionStems = new Set([
  'it', 'that', 'there', 'what', 'where', 'who', 'he', 'she', 'let', 'here', 'how', 'when', 'everything', 'everybody', 'everyone', 'else', 'nothing',
]); // biome-ignore format: a list of words reads as a line

const quotedLine = /^[ \t]*(?:>|&gt;)/u;
const quotedHistory = [
  quotedLine,
  /^[ \t]*(?:From|Sent|To|Cc|Subject|Date|Von|Gesendet|An|Betreff|De|Envoyé|À|Objet|Enviado|Para|Asunto): /u,
  /^[ \t]*(?:-{2,}|_{5,}) ?(?:Original|Forwarded|Ursprüngliche|Weitergeleitete|Mensaje|Message)/u,
];
/** The lines that name who wrote what is quoted below them. */
const quotationNamed = [
  /^[ \t]*On .{4,120} wrote:\s*$/u,
  /^[ \t]*(?:Am|El|Le) .{4,120} (?:schrieb|escribió|a écrit)\b.*:\s*$/u,
];
/** Everything after one of these lines was written before this note. */
const historyFollows =
  /^[ \t]*-{2,} ?(?:Original Message|Forwarded message|Ursprüngliche Nachricht|Mensaje original|Message d'origine)/iu;
/** The line that mail programs put above a signature (RFC 3676, 4.3). */
const signatureFollows = /^-- ?$/u;

const blank = (text: string) => text.replace(/[^\n]/gu, (character) => ' '.repeat(character.length));

/** Whether a line that names a quotation has nothing but history below it: the answer may also stand under the quotation. */
function answersAbove(lines: readonly string[], named: number): boolean {
  const next = lines.slice(named + 1).find((line) => line.trim() !== '');
  return next === undefined || !quotedLine.test(next);
}

/** “1.”, “(b)”, “3)”, “•”: the mark of an item in a list, at the start of a line or after the end of the item before. */
const itemMark =
  /(^|[\n.;:,!?]|[)\]"”’'] |\s(?=\(|\d{1,2}\)))([ \t]*)(\((?:\d{1,2}|[a-h])\)|(?:\d{1,2}|[a-h])\)|\d{1,2}\.(?=\s+\p{L})|[•◦▪‣])(?=\s)/giu;
/** Stands for an item's mark in the words that are sorted. */
const item = '•';

/**
 * The note with everything that its author did not write now put out of sight: quoted history, signatures, mark-up and
 * links become spaces, so that every remaining character keeps its place. The mark of an item in a list becomes “•”.
 */
export function ownWords(text: string): string {
  let historyHere = false;
  const lines = text
    .slice(0, longestSortedLength)
    .split('\n')
    .map((line, index, all) => {
      const named = quotationNamed.some((pattern) => pattern.test(line));
      if (signatureFollows.test(line) || historyFollows.test(line) || (named && answersAbove(all, index)))
        historyHere = true;
      return historyHere || named || quotedHistory.some((pattern) => pattern.test(line)) ? blank(line) : line;
    });
  return lines
    .join('\n')
    .replace(/<(script|style)\b[\s\S]*?(?:<\/\1\s*>|$)/giu, blank)
    .replace(/<\/?[a-zA-Z!][^<>]{0,400}>/gu, blank)
    .replace(/\bhttps?:\/\/\S+|\bwww\.\S+|\S+@\S+\.\S+/giu, blank)
    .replace(
      itemMark,
      (_, before: string, space: string, mark: string) => before + space + item.padEnd(mark.length),
    );
}

/** A word as the lexicon holds it: lower case, without accents, apostrophes and invisible characters. */
export function formOf(typed: string): string {
  let form = typed.replace(invisible, '').toLowerCase().normalize('NFKD').replace(/\p{M}/gu, '');
  form = form.replace(/ß/gu, 'ss').replace(/ø/gu, 'o').replace(/œ/gu, 'oe').replace(/æ/gu, 'ae');
  const owner = /^(.+)['’ʼ`´]s$/u.exec(form);
  if (owner && !contractionStems.has(owner[1]!)) form = owner[1]!;
  return form.replace(/['’ʼ`´]/gu, '').replace(/(\p{L})\1{2,}/gu, '$1$1');
}

const opening = /(?:^|[\s(\-–—:,])["“”„«‘'’]\s?$/u;
const closing = /^\s?["“”»’']/u;

/** The words of a note in order; quotation marks pair up when they close within fourteen words. */
export function wordsOf(text: string): Word[] {
  const words: Word[] = [];
  let end = 0;
  for (const match of text.matchAll(wordPattern)) {
    const form = formOf(match[0]);
    if (!form) continue;
    words.push({
      form,
      start: match.index,
      end: match.index + match[0].length,
      quotation: 0,
      before: text.slice(end, match.index),
    });
    end = match.index + match[0].length;
  }
  let quotation = 0;
  for (let first = 0; first < words.length; first++) {
    if (!opening.test(words[first]!.before.slice(-3))) continue;
    for (let last = first; last < Math.min(words.length, first + 14); last++) {
      const after = last + 1 < words.length ? words[last + 1]!.before : text.slice(words[last]!.end);
      if (last > first && /[\n]/u.test(words[last]!.before)) break;
      if (!closing.test(after.slice(0, 2))) continue;
      quotation++;
      for (let inside = first; inside <= last; inside++) words[inside]!.quotation = quotation;
      first = last;
      break;
    }
  }
  return words;
}
