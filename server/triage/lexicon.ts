import { readFileSync } from 'node:fs';
import type { RequestKind } from '../domain/request-kind.ts';
import { formOf, type Word } from './token.ts';

export const languages = ['en', 'de', 'es', 'fr'] as const;
export type Language = (typeof languages)[number];

/** What a phrase says about direction; see `lexicon/concepts.json`. */
export type Sense =
  | 'up' | 'down' | 'add' | 'remove' | 'change' | 'excess' | 'lack' | 'quality' | 'inverse' | 'plain'; // biome-ignore format: one list

export interface Concept {
  name: string;
  kinds: Partial<Record<RequestKind, number>>;
  sense: Sense;
}

export interface Target {
  name: string;
  class: string;
  plural: string | null;
}

/** A phrase of the trade found in a note: words `from` up to, not including, `to`. */
export interface CueHit {
  concept: Concept;
  from: number;
  to: number;
  /** The phrase's own words, which for a phrase with a gap are fewer than the stretch. */
  at: number[];
}

export interface TargetHit {
  target: Target;
  plural: boolean;
  /** Only spoken of through something else: “the words”, “me”. */
  implied: boolean;
  from: number;
  to: number;
}

interface Phrase {
  tokens: string[];
  concepts: Concept[];
}

/** What a wish without a sound leaves open: what should have more, stand out, grow, is missing, or comes first. */
export type VagueWish = 'quality' | 'stand-out' | 'size' | 'missing' | 'undecided';

export interface Lexicon {
  language: Language;
  /** Phrases by the first word, longest first. */
  cues: Map<string, Phrase[]>;
  /** Phrases whose first word is open at its end (`compress*`), by its first three letters. */
  openCues: Map<string, Phrase[]>;
  targets: Map<string, { tokens: string[]; target: Target; plural: boolean }[]>;
  implied: Map<string, Target>;
  self: string[][];
  /** Wishes that name a feeling and no sound, by what has to be asked back. */
  vague: Map<VagueWish, string[][]>;
  grammar: Record<string, Set<string>>;
  places: Record<string, Set<string>>;
  known: Set<string>;
  /** Everyday words, which are neither slips of the thumb nor inflected words of the trade. */
  common: Set<string>;
  /** Words of the trade that a slip of the thumb may be meant for, by first letter and length. */
  spellings: Map<string, string[]>;
}

interface LexiconFile {
  language: Language;
  targets: Record<string, string>;
  implied: Record<string, string>;
  self: string;
  cues: Record<string, string[]>;
  vague: Record<VagueWish, string>;
  grammar: Record<string, string>;
  places: Record<string, string>;
  common: string;
}

const readData = <T>(name: string): T =>
  JSON.parse(readFileSync(new URL(`./lexicon/${name}.json`, import.meta.url), 'utf8')) as T;

/** A phrase's tokens: words, `*` for an open end, `..` for a gap of a few words, `Q` for a quotation. */
const split = (phrase: string) =>
  phrase
    .replace(/(?<=^|\s)([ldnjmtsc]|qu)['’](?=[aeiouyhàâéèêîïôœ])/giu, '$1 ')
    .replace(/[-/]/gu, ' ')
    .split(' ')
    .filter(Boolean)
    .map((token) =>
      token === 'Q' || token === '..'
        ? token
        : token.endsWith('*')
          ? `${formOf(token.slice(0, -1))}*`
          : formOf(token),
    );
const list = (line: string) =>
  line
    .split(',')
    .map((entry) => entry.trim().toLowerCase())
    .map((entry) => (/[\p{L}\d]/u.test(entry) ? split(entry).join(' ') : entry))
    .filter(Boolean);

const concepts = new Map<string, Concept>();
for (const [name, concept] of Object.entries(
  readData<{ concepts: Record<string, Omit<Concept, 'name'>> }>('concepts').concepts,
))
  concepts.set(name, { name, ...concept });

const targets = new Map<string, Target>();
for (const [name, target] of Object.entries(
  readData<{ targets: Record<string, { class: string; plural?: string }> }>('targets').targets,
))
  targets.set(name, { name, class: target.class, plural: target.plural ?? null });

export function conceptNamed(name: string): Concept {
  const concept = concepts.get(name);
  if (!concept) throw new Error(`The lexicon has no concept “${name}”.`);
  return concept;
}

function pushTo<K, V>(map: Map<K, V[]>, key: K, value: V) {
  const values = map.get(key);
  if (values) values.push(value);
  else map.set(key, [value]);
}

function load(language: Language): Lexicon {
  const file = readData<LexiconFile>(language);
  const sets = (group: Record<string, string>) =>
    Object.fromEntries(Object.entries(group).map(([name, line]) => [name, new Set(list(line))]));
  const lexicon: Lexicon = {
    language,
    cues: new Map(),
    openCues: new Map(),
    targets: new Map(),
    implied: new Map(),
    self: list(file.self).map(split),
    vague: new Map(
      Object.entries(file.vague).map(([wish, line]) => [wish as VagueWish, list(line).map(split)]),
    ),
    grammar: sets(file.grammar),
    places: sets(file.places),
    known: new Set(list(file.common)),
    common: new Set(list(file.common)),
    spellings: new Map(),
  };
  const trade = new Set<string>();
  const phrases = new Map<string, Phrase>();
  for (const [name, lines] of Object.entries(file.cues)) {
    for (const line of lines) {
      const tokens = split(line);
      const key = tokens.join(' ');
      const phrase = phrases.get(key) ?? { tokens, concepts: [] };
      if (!phrase.concepts.includes(conceptNamed(name))) phrase.concepts.push(conceptNamed(name));
      phrases.set(key, phrase);
      for (const token of tokens) if (token.length > 3 && !token.endsWith('*')) trade.add(token);
    }
  }
  for (const phrase of phrases.values()) {
    const first = phrase.tokens[0]!;
    if (first.endsWith('*')) pushTo(lexicon.openCues, first.slice(0, 3), phrase);
    else pushTo(lexicon.cues, first, phrase);
  }
  for (const [name, line] of Object.entries(file.targets)) {
    const target = targets.get(name);
    if (!target) throw new Error(`The lexicon of ${language} names an unknown target “${name}”.`);
    const forms = new Set(list(line));
    for (const form of forms) {
      const tokens = split(form);
      const last = tokens[tokens.length - 1]!;
      const plural = target.plural !== null && /(?:s|z)$/u.test(last) && !/(?:ss|bass)$/u.test(last);
      pushTo(lexicon.targets, tokens[0]!, { tokens, target, plural });
      if (language === 'en' && !last.endsWith('s')) {
        const many = [...tokens.slice(0, -1), `${last}s`];
        if (!forms.has(many.join(' ')))
          pushTo(lexicon.targets, many[0]!, { tokens: many, target, plural: target.plural !== null });
      }
      for (const token of tokens) if (token.length > 3) trade.add(token);
    }
  }
  for (const [name, line] of Object.entries(file.implied)) {
    const target = targets.get(name)!;
    for (const form of list(line)) if (!lexicon.implied.has(form)) lexicon.implied.set(form, target);
  }
  const longestFirst = (a: { tokens: string[] }, b: { tokens: string[] }) =>
    b.tokens.length - a.tokens.length;
  for (const group of [lexicon.cues, lexicon.openCues])
    for (const found of group.values()) found.sort(longestFirst);
  for (const found of lexicon.targets.values()) found.sort(longestFirst);
  for (const set of [...Object.values(lexicon.grammar), ...Object.values(lexicon.places)])
    for (const entry of set) for (const token of split(entry)) lexicon.known.add(token);
  for (const token of lexicon.places.section ?? []) if (token.length > 4) trade.add(token);
  for (const token of trade) {
    lexicon.known.add(token);
    pushTo(lexicon.spellings, `${token[0]}${token.length}`, token);
  }
  for (const phrase of phrases.values()) for (const token of phrase.tokens) lexicon.known.add(token);
  for (const form of lexicon.implied.keys()) lexicon.known.add(form);
  for (const tokens of lexicon.self) for (const token of tokens) lexicon.known.add(token);
  for (const forms of lexicon.targets.values())
    for (const form of forms) for (const token of form.tokens) lexicon.known.add(token);
  return lexicon;
}

const lexicons = new Map<Language, Lexicon>();

/** The lexicon of a language; read once. */
export function lexiconOf(language: Language): Lexicon {
  let lexicon = lexicons.get(language);
  if (!lexicon) {
    lexicon = load(language);
    lexicons.set(language, lexicon);
  }
  return lexicon;
}

/** Whether one insertion, omission, exchange or swap of neighbours makes `a` into `b`. */
function oneSlipApart(a: string, b: string): boolean {
  if (Math.abs(a.length - b.length) > 1) return false;
  let at = 0;
  while (at < a.length && at < b.length && a[at] === b[at]) at++;
  if (a.length === b.length)
    return (
      a.slice(at + 1) === b.slice(at + 1) ||
      (a[at] === b[at + 1] && a[at + 1] === b[at] && a.slice(at + 2) === b.slice(at + 2))
    );
  return a.length > b.length ? a.slice(at + 1) === b.slice(at) : a.slice(at) === b.slice(at + 1);
}

/** The trade's word that a slip of the thumb was meant for; the word itself where it is known or nothing is near. */
export function spelled(form: string, lexicon: Lexicon): string {
  if (form.length < 5 || lexicon.known.has(form) || /\d/u.test(form)) return form;
  if (lexicon.language === 'en' && stemsOf(form).some((plain) => lexicon.known.has(plain))) return form;
  for (const length of [form.length, form.length + 1, form.length - 1])
    for (const candidate of lexicon.spellings.get(`${form[0]}${length}`) ?? [])
      if (oneSlipApart(form, candidate)) return candidate;
  const single = form.replace(/(\p{L})\1/gu, '$1');
  return single !== form && lexicon.known.has(single) ? single : form;
}

const wordMatches = (pattern: string, form: string) =>
  pattern.endsWith('*') ? form.startsWith(pattern.slice(0, -1)) : pattern === form;

/** Sentence and clause ends that a phrase with a gap must not reach across. */
const clauseEnd = /[.,;:!?\n]|\s[-–—]\s/u;
const longestGap = 4;

function phraseAt(tokens: readonly string[], words: readonly Word[], start: number): number[] | null {
  const at: number[] = [];
  let position = start;
  for (let token = 0; token < tokens.length; token++) {
    const pattern = tokens[token]!;
    if (pattern === '..') {
      const next = tokens[token + 1]!;
      let gap = 1;
      while (true) {
        const word = words[position + gap];
        const inGap = words[position + gap - 1];
        if (
          gap > longestGap ||
          !word ||
          !inGap ||
          clauseEnd.test(inGap.before) ||
          clauseEnd.test(word.before)
        )
          return null;
        if (wordMatches(next, word.form)) break;
        gap++;
      }
      position += gap;
      continue;
    }
    const word = words[position];
    if (!word || !wordMatches(pattern, word.form)) return null;
    if (token > 0 && tokens[token - 1] !== '..' && clauseEnd.test(word.before)) return null;
    at.push(position);
    position++;
  }
  return at;
}

/** Plainer forms that an inflected English word may stand for: “flanging” for “flange”, “punchiest” for “punchy”. */
function stemsOf(form: string): string[] {
  if (form.length < 5) return [];
  const stems: string[] = [];
  for (const ending of ['iest', 'ier', 'est', 'ing', 'ness', 'ish', 'ed', 'er', 'ly', 'es', 's', 'y']) {
    if (!form.endsWith(ending) || form.length - ending.length < 3) continue;
    const stem = form.slice(0, -ending.length);
    if (ending.startsWith('i') && ending !== 'ing' && ending !== 'ish') stems.push(`${stem}y`);
    else stems.push(stem, `${stem}e`);
    if (stem.at(-1) === stem.at(-2)) stems.push(stem.slice(0, -1));
  }
  return stems;
}

/** The trade's phrases in a run of words: at each word the longest one, with all the concepts that it has. */
export function findCues(words: readonly Word[], lexicon: Lexicon): CueHit[] {
  const hits: CueHit[] = [];
  const used = new Set<number>();
  for (let start = 0; start < words.length; start++) {
    if (used.has(start)) continue;
    const form = words[start]!.form;
    let best: { at: number[]; concepts: Concept[] } | null = null;
    for (const group of [lexicon.cues.get(form), lexicon.openCues.get(form.slice(0, 2) + (form[2] ?? ''))]) {
      for (const phrase of group ?? []) {
        if (best && phrase.tokens.length <= best.at.length) break;
        const at = phraseAt(phrase.tokens, words, start);
        if (at && at.length > (best?.at.length ?? 0) && !at.some((index) => used.has(index)))
          best = { at, concepts: phrase.concepts };
      }
    }
    if (!best && lexicon.language === 'en' && !lexicon.common.has(form)) {
      const stem = stemsOf(form).find((plain) =>
        lexicon.cues.get(plain)?.some(({ tokens }) => tokens.length === 1),
      );
      const phrase = stem ? lexicon.cues.get(stem)!.find(({ tokens }) => tokens.length === 1) : undefined;
      if (phrase) best = { at: [start], concepts: phrase.concepts };
    }
    if (!best) continue;
    for (const index of best.at) used.add(index);
    for (const concept of best.concepts)
      hits.push({ concept, from: start, to: best.at[best.at.length - 1]! + 1, at: best.at });
  }
  return hits;
}

/** The first of the wishes that name a feeling and no sound; `null` where a run of words holds none. */
export function findVagueWish(words: readonly Word[], lexicon: Lexicon): VagueWish | null {
  for (let start = 0; start < words.length; start++)
    for (const [wish, phrases] of lexicon.vague)
      if (phrases.some((tokens) => phraseAt(tokens, words, start))) return wish;
  return null;
}

/** Parts that are also something to do: “ride the last word”, “kick the chorus up”. */
const verbsToo = new Set([
  'ride',
  'kick',
  'double',
  'loop',
  'sample',
  'pad',
  'fade',
  'brush',
  'lead',
  'bell',
  'pluck',
  'crash',
]);

/** What a run of words speaks of, in order; implied targets are found too, and marked so. */
export function findTargets(words: readonly Word[], lexicon: Lexicon): TargetHit[] {
  const hits: TargetHit[] = [];
  for (let start = 0; start < words.length; start++) {
    const forms = lexicon.targets.get(words[start]!.form) ?? [];
    const found = forms.find(({ tokens }) =>
      tokens.every(
        (token, offset) =>
          words[start + offset]?.form === token &&
          (offset === 0 || !clauseEnd.test(words[start + offset]!.before)),
      ),
    );
    const verb =
      found?.tokens.length === 1 &&
      verbsToo.has(found.tokens[0]!) &&
      (start === 0 || clauseEnd.test(words[start]!.before)) &&
      /^(?:the|that|this|my|it|each|every)$/u.test(words[start + 1]?.form ?? '');
    if (found && !verb) {
      const to = start + found.tokens.length;
      hits.push({ target: found.target, plural: found.plural, implied: false, from: start, to });
      start = to - 1;
      continue;
    }
    const implied = lexicon.implied.get(words[start]!.form);
    if (implied) hits.push({ target: implied, plural: false, implied: true, from: start, to: start + 1 });
  }
  return hits;
}
