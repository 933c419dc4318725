import { readFileSync } from 'node:fs';
import {
  type Direction,
  type Level,
  type RequestKind,
  requestKinds,
  talkKinds,
} from '../domain/request-kind.ts';
import type { ScopeSheet } from '../domain/scope-sheet.ts';
import type { BoostedTrees } from './boosted-trees.ts';
import { type Model, probabilities, readModels, type StoredModels, storeModels } from './classifier.ts';
import {
  directionClasses,
  directionFeatures,
  directionPrior,
  featuresOf,
  type KindsOf,
  kindPrior,
  mainTarget,
  type Span,
  startFeatures,
  startPrior,
  within,
} from './features.ts';
import { findVagueWish, type Language, type TargetHit, type VagueWish } from './lexicon.ts';
import { type NamedSection, type PlaceRange, placeIn, rangeOf } from './place.ts';
import { type Reading, read } from './reading.ts';
import { coreOf, trimmed, withoutJoin } from './request-words.ts';
import { ownWords, wordsOf } from './token.ts';

/** A request that this studio sorted by hand, kept on this server. */
export interface LearnedExample {
  text: string;
  kind: RequestKind;
  level: Level;
}

export interface SortContext {
  scopeSheet: ScopeSheet;
  /** The song's parts; `delivered` is false for a part known not to be in the recording. */
  parts?: readonly { name: string; delivered: boolean }[];
  sections?: readonly NamedSection[];
  tempoBpm?: number | null;
  beatsPerBar?: number | null;
  examples?: readonly LearnedExample[];
  language?: Language | null;
  /** Where in the song the note was pinned. */
  at?: PlaceRange | null;
}

export interface SortedRequest {
  /** The words that it came from, verbatim; `start` and `end` are their place in the note. */
  text: string;
  start: number;
  end: number;
  level: Level;
  kind: RequestKind;
  /** In the trade's words, whatever the note's language. */
  target: string | null;
  direction: Direction | null;
  place: string | null;
  range: PlaceRange | null;
  /** The contract's scope sheet settles this kind; parties read it differently elsewhere. */
  grey: boolean;
  confidence: number;
  why: string;
}

export interface SortedNote {
  level: Level;
  kind: RequestKind;
  target: string | null;
  direction: Direction | null;
  place: string | null;
  confidence: number;
  why: string;
  requests: SortedRequest[];
  /** Words to leave something as it is. */
  protections: { text: string; target: string | null }[];
  /** The one plain question for the author where the words don't decide or say too little; the words of `clarification`. */
  question: string | null;
  clarification: Clarification | null;
}

/** What the author is asked where the words of a note don't decide, or name a feeling and no sound. */
export interface Clarification {
  words: string;
  /** The part that it is about, where it asks whether that part is in the recording. */
  part: string | null;
  /** Which of the note's requests it is about, counted from 0. */
  requestIndex: number;
  /** The wish names a feeling and no sound, so that any part of the song would answer it. */
  vague: boolean;
}

export interface Models {
  kind: Model;
  direction: Model;
  start: Model;
  /** Whether two requests contradict each other; see `conflict-chance.ts`. */
  conflict: BoostedTrees;
}

/** The models as a file holds them. */
export interface StoredSorting extends StoredModels {
  conflict: BoostedTrees;
}

export const storeSorting = ({ conflict, ...models }: Models): StoredSorting => ({
  ...storeModels(models),
  conflict,
});

export const readSorting = ({ conflict, ...stored }: StoredSorting): Models => ({
  ...readModels<'kind' | 'direction' | 'start'>(stored),
  conflict,
});

/** Under this the author is asked instead of guessing. */
export const askingThreshold = 0.5;

/** Whether something was recorded at all is asked sooner: a wrong guess costs a session that nobody pays. */
const askingThresholdForNewParts = 0.9;

const isUnsure = ({ kind, confidence }: SortedRequest): boolean =>
  confidence < (kind === 'new-part' ? askingThresholdForNewParts : askingThreshold);

let trained: Models | null = null;

/** The models whose weights are in use. */
export function trainedModels(): Models {
  trained ??= readSorting(
    JSON.parse(readFileSync(new URL('./lexicon/model.json', import.meta.url), 'utf8')) as StoredSorting,
  );
  return trained;
}

const talk: ReadonlySet<RequestKind> = new Set(talkKinds);
const severity: readonly Level[] = ['production', 'mastering', 'mix', 'none'];

/** The words themselves were learned from English notes; other languages go by the concepts alone. */
const goesByWords = ({ language }: Reading) => language === 'en';

/** The chances of each kind by a model. */
export const kindsBy =
  (model: Model, byWords = goesByWords): KindsOf =>
  (reading, span) =>
    probabilities(model, featuresOf(reading, span, byWords(reading)), kindPrior);

/** The clauses of a note gathered into the stretches that each hold one request. */
export function requestSpans(reading: Reading, models: Models): Span[] {
  const spans: Span[] = [];
  let current: Span | null = null;
  for (const [index, clause] of reading.clauses.entries()) {
    if (!current) current = { from: clause.from, to: clause.to };
    else if (
      probabilities(
        models.start,
        startFeatures(reading, current, clause, index, kindsBy(models.kind)),
        startPrior,
      )[1]! > 0.5
    ) {
      spans.push(current);
      current = { from: clause.from, to: clause.to };
    } else current = { from: current.from, to: clause.to };
  }
  if (current) spans.push(current);
  return spans;
}

interface Guess {
  kind: RequestKind;
  confidence: number;
  second: RequestKind;
  /** Of its being something that nobody recorded. */
  newPart: number;
  features: ReturnType<typeof featuresOf>;
}

function guessKind(reading: Reading, span: Span, models: Models, sheet: ScopeSheet): Guess {
  const features = featuresOf(reading, span, goesByWords(reading));
  const chances = probabilities(models.kind, features, kindPrior);
  const byLevel = new Map<Level, number>();
  for (const [index, kind] of requestKinds.entries()) {
    const { level } = sheet[kind];
    byLevel.set(level, (byLevel.get(level) ?? 0) + chances[index]!);
  }
  const likeliest = [...byLevel].reduce((a, b) => (b[1] > a[1] ? b : a))[0];
  const fits = (index: number) => (sheet[requestKinds[index]!].level === likeliest ? 1 : 0);
  const order = [...chances.keys()].sort((a, b) => fits(b) - fits(a) || chances[b]! - chances[a]!);
  return {
    kind: requestKinds[order[0]!]!,
    confidence: chances[order[0]!]!,
    second: requestKinds[order[1]!]!,
    newPart: chances[requestKinds.indexOf('new-part')]!,
    features,
  };
}

/** What some words may mean, read as one request: the chances of each kind and of each direction. */
export interface Chances {
  kinds: Float64Array;
  directions: Float64Array;
}

/** @returns `null` for words in no language that this server sorts. */
export function chancesOf(text: string, models: Models = trainedModels()): Chances | null {
  const reading = read(text);
  if (!reading || reading.words.length === 0) return null;
  const features = featuresOf(reading, { from: 0, to: reading.words.length }, goesByWords(reading));
  const kinds = probabilities(models.kind, features, kindPrior);
  const likeliest = requestKinds[kinds.indexOf(Math.max(...kinds))]!;
  return {
    kinds,
    directions: probabilities(models.direction, directionFeatures(features, likeliest), directionPrior),
  };
}

function guessDirection(guess: Guess, kind: RequestKind, models: Models): Direction | null {
  if (talk.has(kind)) return null;
  const chances = probabilities(models.direction, directionFeatures(guess.features, kind), directionPrior);
  let best = 0;
  for (let index = 1; index < chances.length; index++) if (chances[index]! > chances[best]!) best = index;
  return directionClasses[best]!;
}

const plainKind: Record<RequestKind, string> = {
  balance: 'how loud a part is',
  tone: 'the sound of a part',
  dynamics: 'punch or evenness',
  space: 'room and distance',
  pan: 'left, right and width',
  automation: 'a change over time',
  mute: 'switching a part off or on',
  effect: 'an effect',
  'new-part': 'something that is not in the recording yet',
  're-record': 'playing or singing it again',
  arrangement: 'what is played and how long the sections are',
  tuning: 'pitch',
  timing: 'timing',
  comp: 'another take',
  cleanup: 'a noise to be removed',
  'replace-sound': 'another sound in its place',
  'tempo-key': 'tempo or key',
  lyric: 'the words',
  'overall-loudness': 'how loud the whole song is beside others',
  'overall-tone': 'the sound of the whole song',
  'fade-gap': 'fades and gaps',
  metadata: 'names and codes in the file',
  format: 'files and formats',
  'reference-match-overall': 'the whole song beside a reference',
  praise: 'praise',
  question: 'a question',
  chat: 'talk that asks for nothing',
};

function explain(reading: Reading, span: Span, kind: RequestKind, models: Models): string[] {
  const label = requestKinds.indexOf(kind);
  const size = models.kind.classes.length;
  const learned = (name: string) => {
    const row = models.kind.features.get(name);
    return row === undefined ? 0 : models.kind.weights[row * size + label]!;
  };
  const words = reading.cues
    .filter((cue) => within(span, cue))
    .map((cue) => ({
      text: reading.text.slice(reading.words[cue.from]!.start, reading.words[cue.to - 1]!.end),
      weight: (cue.concept.kinds[kind] ?? 0) * 24 + learned(`c:${cue.concept.name}`),
      from: cue.from,
    }))
    .filter((cue) => cue.weight > 6)
    .sort((a, b) => b.weight - a.weight);
  return [...new Map(words.map((cue) => [cue.from, cue.text])).values()].slice(0, 2);
}

/** “The key is fine”, “it isn't too loud”: a clause that approves or denies a fault and pulls nothing asks for nothing. */
const contented = ({ features }: Guess): boolean =>
  (features.has('f:praises') || features.has('f:denies')) && !features.has('s:+') && !features.has('s:-');

const severest = (requests: readonly SortedRequest[]): SortedRequest =>
  severity.flatMap((level) => requests.filter((request) => request.level === level))[0]!;

function targetName(hit: TargetHit | null): string | null {
  if (!hit) return null;
  return hit.plural && hit.target.plural ? hit.target.plural : hit.target.name;
}

const singular = (name: string) => name.toLowerCase().replace(/s$/u, '');

/** Work on a performance that names no part is on the one that everybody hears first. */
const sungKinds: ReadonlySet<RequestKind> = new Set(['tuning', 'comp', 're-record', 'lyric']);
/** Noises that come from a singer's mouth. */
const sungNoises: ReadonlySet<string> = new Set(['breaths', 'mouth noise', 'plosive']);
const wholeKinds: ReadonlySet<RequestKind> = new Set([
  'overall-loudness',
  'overall-tone',
  'reference-match-overall',
]);

function targetOf(reading: Reading, span: Span, kind: RequestKind, carried: string | null): string | null {
  const hits = reading.targets.filter((hit) => within(span, hit));
  const named = hits.filter((hit) => !hit.implied);
  const of = (...classes: string[]) => named.find((hit) => classes.includes(hit.target.class)) ?? null;
  const says = (...concepts: string[]) =>
    reading.cues.some((cue) => within(span, cue) && concepts.includes(cue.concept.name));
  const part = of('voice', 'part');
  if (kind === 'tempo-key') return 'whole song';
  if (wholeKinds.has(kind))
    return numbered(reading, span) ?? (says('whole-record') ? targetName(of('record')) : null) ?? 'whole mix';
  if (kind === 'metadata') return targetName(of('tag')) ?? 'tags';
  if (kind === 'format') return 'deliverables';
  if (kind === 'fade-gap') {
    if (of('fade')) return targetName(of('fade'));
    return says('ring-out', 'cut-off-end') ? 'end of file' : 'gap';
  }
  if (kind === 'cleanup') {
    const noise = of('noise');
    const bySinger = noise && sungNoises.has(noise.target.name);
    if (!noise) return targetName(part) ?? 'noise';
    return bySinger ? sungNoise(reading, span, noise) : noise.target.name;
  }
  if (kind === 'arrangement')
    return part &&
      (says('busy', 'play-different') || !hits.some((hit) => hit.target.name === 'song structure'))
      ? targetName(part)
      : 'song structure';
  if (says('lost-words') && !of('voice')) return 'lead vocal';
  if (part) {
    const joined = named.find(
      (hit) =>
        hit !== part &&
        ['voice', 'part'].includes(hit.target.class) &&
        hit.from - part.to === 1 &&
        reading.lexicon.grammar.and!.has(reading.words[part.to]!.form),
    );
    return joined ? `${targetName(part)} and ${targetName(joined)}` : targetName(part);
  }
  if (sungKinds.has(kind)) return carried ?? 'lead vocal';
  if (
    kind === 'effect' &&
    (says('telephone') || reading.words.slice(span.from, span.to).some((word) => word.quotation))
  )
    return carried ?? 'lead vocal';
  const whole = of('whole', 'record', 'master');
  if (whole) return whole.target.class === 'record' ? targetName(whole) : 'whole mix';
  if (carried && hits.every((hit) => hit.implied || ['space', 'band', 'noise'].includes(hit.target.class)))
    return carried;
  if (hits.some((hit) => hit.implied && hit.target.class === 'voice')) return 'lead vocal';
  if (talk.has(kind)) return targetName(named[0] ?? null);
  return hits.some((hit) => hit.target.class === 'form') || of('band') || kind === 'space'
    ? 'whole mix'
    : null;
}

/** A noise from a singer's mouth, by whose mouth it is. */
function sungNoise(reading: Reading, span: Span, { target }: TargetHit): string {
  const voice = reading.targets.find(
    (hit) => within(span, hit) && !hit.implied && hit.target.class === 'voice',
  );
  return `${targetName(voice ?? null) ?? 'lead vocal'} ${target.name}`;
}

/** “Song 3”, “side b”: one of the record's songs or sides, as it was typed. */
function numbered(reading: Reading, span: Span): string | null {
  for (let index = span.from; index + 1 < span.to; index++)
    if (
      /^(?:song|track|side)$/u.test(reading.words[index]!.form) &&
      /^(?:\d{1,2}|[ab])$/u.test(reading.words[index + 1]!.form)
    )
      return `${reading.words[index]!.form} ${reading.words[index + 1]!.form}`;
  return null;
}

const partListed = (target: string, parts: NonNullable<SortContext['parts']>) =>
  parts.find(
    (entry) => singular(entry.name) === singular(target) || partName(entry.name) === singular(target),
  );

/** The kind that the song's parts list makes of a wish: a part that exists is brought in or up, one that doesn't is new. */
function byPartsList(
  kind: RequestKind,
  target: string | null,
  parts: SortContext['parts'],
): { kind: RequestKind; why: string } | null {
  if (!target || !parts) return null;
  const part = partListed(target, parts);
  if (!part) return null;
  if (kind === 'new-part' && part.delivered)
    return { kind: 'mute', why: `the ${target} is among this song's parts already` };
  if ((kind === 'balance' || kind === 'mute') && !part.delivered)
    return { kind: 'new-part', why: `the ${target} is not among the delivered parts` };
  return null;
}

/** A part's canonical name, for lists that call the lead vocal “vox”. */
function partName(name: string): string {
  const reading = read(name, 'en');
  const hit = reading?.targets.find((found) => !found.implied);
  return hit ? singular(hit.target.name) : singular(name);
}

function likeness(a: ReadonlySet<string>, b: ReadonlySet<string>): number {
  let shared = 0;
  for (const form of a) if (b.has(form)) shared++;
  return a.size + b.size === 0 ? 0 : (2 * shared) / (a.size + b.size);
}

/** The words that carry a request's sense, with the trade's words as what they mean. */
function senseOf(reading: Reading, span: Span): Set<string> {
  const sense = new Set<string>();
  const covered = new Set<number>();
  for (const cue of reading.cues)
    if (within(span, cue)) {
      sense.add(`c:${cue.concept.name}`);
      for (const index of cue.at) covered.add(index);
    }
  for (const hit of reading.targets)
    if (within(span, hit) && !hit.implied) {
      sense.add(`t:${hit.target.name}`);
      for (let index = hit.from; index < hit.to; index++) covered.add(index);
    }
  for (let index = span.from; index < span.to; index++) {
    const { form } = reading.words[index]!;
    if (
      !covered.has(index) &&
      !reading.lexicon.grammar.stop!.has(form) &&
      !reading.lexicon.places.section!.has(form)
    )
      sense.add(form);
  }
  return sense;
}

/** Alike enough that what the studio made of one holds for the other. */
const likeEnough = 0.8;

/** Examples are the same objects from note to note: each is read once in each language. */
const exampleSenses = new WeakMap<LearnedExample, Map<Language, ReadonlySet<string> | null>>();

function senseOfExample(example: LearnedExample, language: Language): ReadonlySet<string> | null {
  const senses = exampleSenses.get(example) ?? new Map<Language, ReadonlySet<string> | null>();
  exampleSenses.set(example, senses);
  let sense = senses.get(language);
  if (sense === undefined) {
    const known = read(example.text, language);
    sense = known && senseOf(known, { from: 0, to: known.words.length });
    senses.set(language, sense);
  }
  return sense;
}

function byExample(reading: Reading, span: Span, examples: SortContext['examples']): LearnedExample | null {
  if (!examples?.length) return null;
  const sense = senseOf(reading, span);
  let best: { example: LearnedExample; alike: number } | null = null;
  for (const example of examples) {
    const known = senseOfExample(example, reading.language);
    if (!known) continue;
    const alike = likeness(sense, known);
    if (alike >= likeEnough && alike > (best?.alike ?? 0)) best = { example, alike };
  }
  return best?.example ?? null;
}

interface Sorted extends SortedRequest {
  guess: Guess;
}

function sortSpan(
  reading: Reading,
  span: Span,
  words: Span,
  context: SortContext,
  models: Models,
  carried: string | null,
): Sorted {
  const guess = guessKind(reading, span, models, context.scopeSheet);
  let { kind, confidence } = guess;
  let because = '';
  const named = reading.targets.some((hit) => within(words, hit) && !hit.implied);
  const target = targetOf(reading, named ? words : span, kind, carried);
  const listed = byPartsList(kind, target, context.parts);
  if (listed) {
    kind = listed.kind;
    because = listed.why;
    confidence = Math.max(confidence, 0.9);
  }
  // A part that was delivered can't be new: the chance of that falls to what else the words may mean.
  if (
    !listed &&
    kind !== 'new-part' &&
    target &&
    context.parts &&
    partListed(target, context.parts)?.delivered
  )
    confidence /= 1 - guess.newPart;
  const example = byExample(reading, words, context.examples);
  let { level, grey } = context.scopeSheet[kind];
  if (example) {
    kind = example.kind;
    level = example.level;
    grey = context.scopeSheet[kind].grey;
    confidence = Math.max(confidence, 0.95);
    because = `this studio sorted “${example.text}” so`;
  }
  let direction = guessDirection(guess, kind, models);
  if (listed && direction !== 'remove') direction = 'add';
  const place = placeIn(reading, words);
  const start = reading.words[words.from]!.start;
  const end = closedAt(reading, words.to - 1);
  const deciding = explain(reading, span, kind, models);
  const said =
    because ||
    (deciding.length > 0
      ? `${deciding.map((word) => `“${word}”`).join(' and ')} decided`
      : 'its wording as a whole decided');
  const settled = grey
    ? 'The scope sheet of this contract settles it; elsewhere people read it differently.'
    : level === 'none'
      ? 'It counts nowhere.'
      : `The scope sheet counts that as ${level}.`;
  const placeText = place
    ? reading.text.slice(reading.words[place.from]!.start, reading.words[place.to - 1]!.end)
    : null;
  return {
    text: reading.text.slice(start, end),
    start,
    end,
    level,
    kind,
    target: kind === guess.kind ? target : targetOf(reading, named ? words : span, kind, carried),
    direction,
    place: placeText,
    range: (place && rangeOf(reading, place, context)) ?? context.at ?? null,
    grey,
    confidence,
    why: `Read as ${plainKind[kind]}, since ${said}. ${settled}`,
    guess,
  };
}

/** Where a word ends, with the mark that closes a quotation behind it. */
function closedAt({ text, words }: Reading, index: number): number {
  const { end, quotation } = words[index]!;
  return quotation > 0 && words[index + 1]?.quotation !== quotation && /["”»’']/u.test(text[end] ?? '')
    ? end + 1
    : end;
}

/** The one question that would decide between the two likeliest readings, in plain words. */
function clarificationOf(request: Sorted, requestIndex: number): Clarification {
  const { kind, second } = request.guess;
  const pair = new Set([kind, second]);
  const has = (...kinds: RequestKind[]) => kinds.some((name) => pair.has(name));
  const ask = (words: string, part: string | null = null) => ({ words, part, requestIndex, vague: false });
  if (
    kind === 'new-part' ||
    (second === 'new-part' && has('balance', 'mute', 'effect', 'automation', 'space', 'tone', 'arrangement'))
  ) {
    const part =
      request.target && /^(?:whole mix|song structure)$/u.test(request.target) ? null : request.target;
    return part
      ? ask(`${isMany(part) ? 'Are' : 'Is'} there ${article(part)}${part} in the recording already?`, part)
      : ask('Is that in the recording already?');
  }
  if (has('tuning') && has('tone')) return ask('Do you mean the pitch, or the sound?');
  if (
    has('overall-loudness', 'overall-tone', 'reference-match-overall') &&
    has('balance', 'tone', 'dynamics', 'automation')
  )
    return ask('Do you mean the whole song beside other songs, or one part inside it?');
  if (has('praise', 'chat')) return ask('Is there something that should change, or is it fine as it is?');
  if (has('question')) return ask('Do you want it changed, or do you only want to know?');
  return ask(`Is this about ${plainKind[kind]}, or about ${plainKind[second]}?`);
}

const vagueQuestions: Readonly<Record<VagueWish, string>> = {
  quality: 'What should have more of that?',
  'stand-out': 'What should stand out more?',
  size: 'What should be bigger?',
  missing: 'What is missing, or where?',
  undecided: 'What would you change first?',
};

/**
 * The question back to a wish that names a feeling, no sound and no part of the song (*common practice*: the words that
 * engineers ask back about); `null` where the words say what they are about.
 */
function vagueQuestionOf(reading: Reading, requests: readonly Sorted[]): Clarification | null {
  const [request, ...others] = requests;
  if (!request || others.length > 0 || talk.has(request.kind)) return null;
  if (wholeKinds.has(request.kind) && request.confidence >= askingThreshold) return null;
  const named = reading.targets.some(
    (hit) => !hit.implied && !['form', 'band', 'noise'].includes(hit.target.class),
  );
  if (named || reading.cues.some((cue) => cue.concept.name === 'whole')) return null;
  const wish = findVagueWish(reading.words, reading.lexicon);
  return wish && { words: vagueQuestions[wish], part: null, requestIndex: 0, vague: true };
}

/** “Claps” and “congas”, not “bass” and “brass”. */
const isMany = (name: string) => /(?<!s)s$/u.test(name) || name === 'timpani';
/** What is not counted has no article. */
const uncounted = new Set(['percussion', 'brass', 'bass', 'sub bass', 'synth bass', 'beatbox', 'whistling']);
const article = (name: string) =>
  isMany(name) || uncounted.has(name) ? '' : /^[aeio]/iu.test(name) ? 'an ' : 'a ';

const approvingEmoji =
  /^(?:🔥|❤|😍|🥰|👏|🙌|💯|👍|🎉|😭|🤩|✨|🖤|💜|💙|💚|🧡|💛|🤘|👌|🚀|🐐|😊|😀|😃|😁|🥹|🫶|🙏|💪|⭐|🌟|🎶|🎵|🤯|😎|✅)$/u;

const whichLevel = 'Which level is this: the mix, the production, mastering, or no request at all?';

function unsorted(text: string, context: SortContext): SortedNote {
  const words = wordsOf(ownWords(text));
  const symbols = words.length > 0 && words.every((word) => /\p{Extended_Pictographic}/u.test(word.form));
  const kind: RequestKind =
    symbols && words.every((word) => approvingEmoji.test(word.form)) ? 'praise' : 'chat';
  const { level, grey } = context.scopeSheet[kind];
  const sure = words.length === 0 || kind === 'praise';
  const why =
    words.length === 0
      ? 'There are no words to sort.'
      : symbols
        ? 'There are only symbols, no words to sort.'
        : 'The words are in no language that this server sorts.';
  const start = words[0]?.start ?? 0;
  const end = words[words.length - 1]?.end ?? 0;
  const request: SortedRequest = {
    text: text.slice(start, end),
    start,
    end,
    level,
    kind,
    target: null,
    direction: null,
    place: null,
    range: context.at ?? null,
    grey,
    confidence: sure ? 1 : 0,
    why,
  };
  return {
    ...summary(request),
    requests: [request],
    protections: [],
    question: sure ? null : whichLevel,
    clarification: sure ? null : { words: whichLevel, part: null, requestIndex: 0, vague: false },
  };
}

const summary = ({ level, kind, target, direction, place, confidence, why }: SortedRequest) => ({
  level, kind, target, direction, place, confidence, why,
}); // biome-ignore format: one list

/** “The drums are choked. Let them breathe”: a remedy that asks the same of the same thing is no further request. */
const asksTheSame = (before: SortedRequest, request: SortedRequest, namesTarget: boolean): boolean =>
  before.kind === request.kind &&
  before.direction === request.direction &&
  (before.target === request.target || !namesTarget) &&
  !(before.place && request.place);

/** Clauses that ask to leave something as it is. */
function protectionsIn(reading: Reading): { text: string; target: string | null; span: Span }[] {
  const found: { text: string; target: string | null; span: Span }[] = [];
  for (const [index, clause] of reading.clauses.entries()) {
    const says = (name: string) =>
      reading.cues.some(
        (cue) => cue.concept.name === name && cue.from >= clause.from && cue.from < clause.to,
      );
    const before = reading.clauses[index - 1];
    const meant = before && mainTarget(reading, clause) === null ? before : clause;
    const names = mainTarget(reading, meant)?.implied === false;
    const protects = says('protect') || (says('no-change') && names);
    const moved = reading.cues.some(
      (cue) => within(clause, cue) && /^(?:up|down|excess|lack|add|remove)$/u.test(cue.concept.sense),
    );
    if (!protects && !(says('keep') && !moved)) continue;
    const words = withoutJoin(reading, names ? { from: meant.from, to: clause.to } : clause);
    const hit = mainTarget(reading, words);
    const target = hit && sungNoises.has(hit.target.name) ? sungNoise(reading, words, hit) : targetName(hit);
    found.push({
      text: reading.text.slice(reading.words[words.from]!.start, reading.words[words.to - 1]!.end),
      target,
      span: clause,
    });
  }
  return found;
}

/**
 * A note's words as its requests: for each the kind, target, direction, place and, by the scope sheet, the level. Never
 * throws on any text; where the words do not decide, `question` holds the one plain question to ask the author.
 */
export function sortNote(text: string, context: SortContext, models: Models = trainedModels()): SortedNote {
  const reading = read(text, context.language ?? null);
  if (!reading || reading.words.length === 0) return unsorted(text, context);
  const whole: Span = { from: 0, to: reading.words.length };
  const protections = protectionsIn(reading);
  const spans = requestSpans(reading, models);
  let requests: Sorted[] = [];
  let carried: string | null = null;
  let open: Sorted | null = null;
  for (const span of spans) {
    const single = spans.length === 1;
    const words = trimmed(reading, span);
    const request = sortSpan(
      reading,
      single ? coreOf(reading, span) : words,
      words,
      context,
      models,
      carried,
    );
    const kept = protections.some(({ span }) => span.from <= words.from && span.to >= words.to);
    if (
      !single &&
      (kept || (talk.has(request.kind) && request.kind !== 'question') || contented(request.guess))
    ) {
      open = null;
      continue;
    }
    const own = reading.targets.some((hit) => within(words, hit) && !hit.implied);
    if (open && asksTheSame(open, request, own)) {
      open.end = request.end;
      open.text = text.slice(open.start, open.end);
      open.place ??= request.place;
      open.range = open.range ?? request.range;
      continue;
    }
    open = request;
    requests.push(request);
    if (request.target && request.target !== 'whole mix') carried = request.target;
  }
  if (requests.filter((request) => !talk.has(request.kind)).length === 0 && spans.length > 1)
    requests = [sortSpan(reading, whole, withoutJoin(reading, whole), context, models, null)];
  const main = severest(requests) as Sorted;
  const unsure = requests.findIndex(isUnsure);
  const doubt = unsure < 0 ? null : clarificationOf(requests[unsure]!, unsure);
  const clarification = doubt?.part ? doubt : (vagueQuestionOf(reading, requests) ?? doubt);
  return {
    ...summary(main),
    place: main.place ?? requests.find((request) => request.place)?.place ?? null,
    confidence: Math.min(...requests.map((request) => request.confidence)),
    requests: requests.map(({ guess: _, ...request }) => request),
    protections: protections.map(({ text: words, target }) => ({ text: words, target })),
    question: clarification?.words ?? null,
    clarification,
  };
}
