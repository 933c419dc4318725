import { type RequestKind, requestKinds, talkKinds } from '../domain/request-kind.ts';
import type { Features, Prior } from './classifier.ts';
import { type CueHit, conceptNamed, type Lexicon, type TargetHit } from './lexicon.ts';
import type { Clause, Reading } from './reading.ts';

/** A stretch of words, `from` up to, not including, `to`. */
export interface Span {
  from: number;
  to: number;
}

export const within = (span: Span, hit: Span) => hit.from >= span.from && hit.to <= span.to;

/** Those of some hits, which stand in order, that lie within a stretch. */
export function hitsWithin<Hit extends Span>(hits: readonly Hit[], span: Span): Hit[] {
  let low = 0;
  let high = hits.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (hits[middle]!.from < span.from) low = middle + 1;
    else high = middle;
  }
  const found: Hit[] = [];
  for (; low < hits.length && hits[low]!.from < span.to; low++)
    if (hits[low]!.to <= span.to) found.push(hits[low]!);
  return found;
}

/** A clause that says something else on its other side does not turn a phrase here. */
const longestReach = 4;

/** What the words before a phrase do to it: ask for more or less of it, find it too much or lacking, or deny it. */
export type Turn = 'more' | 'less' | 'too' | 'lack' | 'none';

interface Turned {
  turn: Turn;
  denied: boolean;
}

const turnOf: Readonly<Record<string, Turn>> = {
  more: 'more',
  less: 'less',
  reduce: 'less',
  tame: 'less',
  too: 'too',
  'too-much': 'too',
  'not-enough': 'lack',
};

/** “Wetter”, “brighter”: asks for more without the word. */
const comparative = (form: string, lexicon: Lexicon): boolean =>
  form.endsWith('er') &&
  [form.slice(0, -2), form.slice(0, -1), form.slice(0, -3), `${form.slice(0, -3)}y`].some(
    (plain) => plain.length > 2 && lexicon.known.has(plain),
  );

function turnedBy(reading: Reading, cue: CueHit, span: Span): Turned {
  const { words, lexicon } = reading;
  let turn: Turn = 'none';
  for (const other of hitsWithin(reading.cues, { from: span.from, to: cue.from })) {
    const found = turnOf[other.concept.name];
    if (!found || cue.from - other.to > longestReach || acrossClause(reading, other.to, cue.from)) continue;
    turn = found;
  }
  const own = words[cue.at[0]!]!.form;
  if (
    turn === 'none' &&
    cue.at.length === 1 &&
    /^(?:quality|inverse)$/u.test(cue.concept.sense) &&
    !cue.concept.kinds.effect &&
    comparative(own, lexicon)
  )
    turn = 'more';
  let denied = false;
  for (let index = Math.max(span.from, cue.from - 3); index < cue.from; index++)
    if (lexicon.grammar.negation!.has(words[index]!.form) && !acrossClause(reading, index + 1, cue.from))
      denied = !denied;
  const after = words[cue.to]?.form;
  if (turn === 'none' && after && lexicon.grammar.enough?.has(after)) turn = denied ? 'lack' : 'none';
  return { turn, denied };
}

/**
 * Which way a phrase pulls where it stands: +1 asks for more of what it names, -1 for less, 0 says nothing. “Too dark”
 * asks for less dark, “less harsh” for less, “no punch” for more.
 */
function pullBy(cue: CueHit, { turn, denied }: Turned): number {
  const { sense, name } = cue.concept;
  const against = turn === 'less' || turn === 'too';
  switch (sense) {
    case 'up':
      return denied ? -0.5 : turn === 'less' && name !== 'up' ? -1 : 1;
    case 'down':
      return denied ? 0.5 : -1;
    case 'excess':
      return turn === 'lack' ? 1 : denied && !against ? 0 : -1;
    case 'lack':
      return denied && !against ? 0 : 1;
    case 'quality':
      if (turn === 'lack') return 1;
      if (against) return denied ? 0 : -1;
      return denied ? 0.5 : 1;
    case 'inverse':
      if (turn === 'lack') return -1;
      if (against) return denied ? 0 : 1;
      return denied ? 0 : -1;
    default:
      return 0;
  }
}

function acrossClause(reading: Reading, from: number, to: number): boolean {
  for (let index = from; index <= to && index < reading.words.length; index++)
    if (/[.;!?\n,]|\s[-–]\s|—/u.test(reading.words[index]!.before)) return true;
  return false;
}

/** The target that the words of a span speak of first, by the order: a named part, the whole, an implied one. */
export function mainTarget(reading: Reading, span: Span): TargetHit | null {
  const hits = hitsWithin(reading.targets, span);
  const named = hits.filter((hit) => !hit.implied);
  const rank = (hit: TargetHit) =>
    ({ voice: 0, part: 0, noise: 1, band: 3, space: 3, form: 2 })[hit.target.class] ?? 2;
  const best = [...named].sort((a, b) => rank(a) - rank(b) || a.from - b.from)[0];
  return best ?? hits[0] ?? null;
}

const timestamp = /^\d{1,2}:\d{2}/u;

/** The words of a span with the trade's words replaced by what they mean, and the rest left out. */
function outline(reading: Reading, span: Span): string[] {
  const { words, lexicon } = reading;
  const cueAt = new Map<number, CueHit>();
  const covered = new Set<number>();
  for (const cue of hitsWithin(reading.cues, span)) {
    if (!cueAt.has(cue.from)) cueAt.set(cue.from, cue);
    for (const index of cue.at) covered.add(index);
  }
  const targetAt = new Map<number, TargetHit>();
  for (const hit of hitsWithin(reading.targets, span)) if (!hit.implied) targetAt.set(hit.from, hit);
  const line: string[] = [];
  for (let index = span.from; index < span.to; index++) {
    const word = words[index]!;
    if (index > span.from && /[.;!?\n,]/u.test(word.before)) line.push('|');
    const cue = cueAt.get(index);
    const target = targetAt.get(index);
    if (word.quotation) {
      if (words[index - 1]?.quotation !== word.quotation) line.push('Q');
    } else if (
      cue &&
      !(target && cue.to - cue.from <= target.to - target.from && cue.concept.kinds.praise === undefined)
    )
      line.push(cue.concept.name.toUpperCase());
    else if (target) line.push(`T${target.target.class}`);
    else if (covered.has(index)) continue;
    else if (timestamp.test(word.form)) line.push('@');
    else if (lexicon.places.section!.has(word.form)) line.push('P');
    else if (lexicon.grammar.negation!.has(word.form)) line.push('not');
    else if (lexicon.grammar.pronoun!.has(word.form)) line.push('it');
    else if (lexicon.grammar.request!.has(word.form)) line.push('can');
    else if (/^\d/u.test(word.form)) line.push('#');
  }
  return line;
}

function put(features: Features, name: string, value: number) {
  if ((features.get(name) ?? 0) < value) features.set(name, value);
}

/** Phrases that set a wish beside the finished song, the record or other people's songs, and what it may then be about. */
const framing = new Set([
  'whole',
  'whole-record',
  'master',
  'other-songs',
  'streaming',
  'reference',
  'as-it-was',
]);
const families = ['tone', 'balance', 'dynamics', 'space', 'fade-gap'] as const;
const wishing = new Set([
  'want',
  'ask',
  'please',
  'more',
  'less',
  'too',
  'too-much',
  'not-enough',
  'reduce',
  'add',
  'change',
  'wrong',
]);

/** Marks what is read by the lexicon's concepts alone. */
const unworded = 'f:unworded';

/** Everything that the sorting looks at in a stretch of a note. `ownWording` adds the words themselves. */
export function featuresOf(reading: Reading, span: Span, ownWording = true): Features {
  const features: Features = new Map();
  const { words, lexicon } = reading;
  const target = mainTarget(reading, span);
  const targetClass = target ? target.target.class : 'none';
  put(features, `T:${targetClass}`, 1);
  if (target) put(features, `t:${target.target.name}`, 0.7);
  if (target?.implied) put(features, 'T:implied', 0.7);
  for (const hit of hitsWithin(reading.targets, span))
    if (!hit.implied) put(features, `T+:${hit.target.class}`, 0.6);
  let pull = 0;
  const cues = hitsWithin(reading.cues, span);
  for (const cue of cues) {
    const { name } = cue.concept;
    if (
      words[cue.from]!.quotation &&
      cue.from > 0 &&
      words[cue.from - 1]!.quotation === words[cue.from]!.quotation
    )
      continue;
    const turned = turnedBy(reading, cue, span);
    const sign = pullBy(cue, turned);
    put(features, `c:${name}`, 1);
    if (turned.turn !== 'none' || turned.denied)
      put(features, `c:${name}&${turned.turn}${turned.denied ? '!' : ''}`, 0.7);
    if (turned.denied && (cue.concept.sense === 'excess' || turned.turn === 'too'))
      put(features, 'f:denies', 1);
    put(features, `c:${name}&T:${targetClass}`, 0.7);
    if (sign !== 0) {
      put(features, `c:${name}${sign > 0 ? '+' : '-'}`, 0.7);
      put(features, sign > 0 ? 's:+' : 's:-', 1);
      const complains =
        cue.concept.sense === 'excess' ||
        cue.concept.sense === 'lack' ||
        turned.turn === 'too' ||
        turned.turn === 'lack';
      put(features, `${complains ? 'complaint' : 'wish'}:${sign > 0 ? '+' : '-'}`, 1);
      if (pull === 0) {
        pull = sign;
        put(features, sign > 0 ? 's1:+' : 's1:-', 1);
      }
    }
  }
  const concepts = [...new Set(cues.map((cue) => cue.concept))];
  for (const frame of concepts)
    if (framing.has(frame.name))
      for (const { kinds } of concepts)
        for (const family of families)
          if ((kinds[family] ?? 0) >= 1) put(features, `in:${frame.name}&${family}`, 0.8);
  const praises = concepts.some(({ kinds }) => (kinds.praise ?? 0) >= 1.4);
  const wishes = concepts.some(
    ({ name, sense }) => wishing.has(name) || sense === 'excess' || sense === 'lack',
  );
  put(features, `f:${praises ? 'praises' : 'plain'}${wishes ? '&wishes' : ''}`, 0.8);
  const line = outline(reading, span);
  for (let index = 0; index <= line.length; index++) {
    const [a, b, c] = [line[index - 1] ?? '^', line[index] ?? '$', line[index + 1] ?? '$'];
    put(features, `o:${a} ${b}`, 0.6);
    if (index < line.length) put(features, `o:${a} ${b} ${c}`, 0.5);
  }
  const count = span.to - span.from;
  put(
    features,
    count < 3 ? 'n:1' : count < 6 ? 'n:3' : count < 12 ? 'n:6' : count < 25 ? 'n:12' : 'n:25',
    0.7,
  );
  const first = words[span.from];
  if (first) {
    if (lexicon.grammar.question!.has(first.form)) put(features, 'f:asks', 1);
    if (lexicon.grammar.imperative!.has(first.form)) put(features, 'f:tells', 1);
    if (lexicon.grammar.request!.has(first.form)) put(features, 'f:requests', 1);
  }
  for (let index = span.from; index < span.to; index++) {
    const word = words[index]!;
    if (timestamp.test(word.form)) put(features, 'f:time', 1);
    if (word.quotation) put(features, 'f:quoted', 1);
    if (lexicon.places.section!.has(word.form)) put(features, 'f:section', 1);
    if (lexicon.places.unit!.has(word.form)) put(features, 'f:unit', 1);
    if (/^\d/u.test(word.form) && !timestamp.test(word.form)) put(features, 'f:number', 0.7);
  }
  const typed = reading.text.slice(words[span.from]?.start ?? 0, words[span.to - 1]?.end ?? 0);
  const after = reading.text.slice(words[span.to - 1]?.end ?? 0).match(/^\s*[?!]+/u)?.[0] ?? '';
  if (/\?/u.test(typed + after)) put(features, 'f:?', 1);
  if (/!/u.test(typed + after)) put(features, 'f:!', 0.5);
  if (!ownWording) {
    put(features, unworded, 1);
    return features;
  }
  const long = 1 / Math.sqrt(Math.max(1, count / 10));
  for (let index = span.from; index < span.to; index++) {
    const word = words[index]!;
    if (word.quotation && words[index - 1]?.quotation === word.quotation) continue;
    const form = word.quotation ? 'Q' : timestamp.test(word.form) ? '@' : word.form.replace(/^\d+.*$/u, '#');
    const beforeForm = index === span.from ? '^' : words[index - 1]!.quotation ? 'Q' : words[index - 1]!.form;
    put(features, `w:${form}`, 0.6 * long);
    put(features, `b:${beforeForm} ${form}`, 0.5 * long);
    if (index === span.to - 1) put(features, `b:${form} $`, 0.5 * long);
    if (form.length > 5) put(features, `p:${form.slice(0, 5)}`, 0.5 * long);
    if (form.length > 5) put(features, `e:${form.slice(-4)}`, 0.3 * long);
  }
  return features;
}

const byLexicon = /^(?:c|s|s1|o|in|complaint|wish):/u;

/** A stretch as someone would see it who has none of the lexicon's phrases: what its words alone tell. */
export function wordsAlone(features: Features): Features {
  return new Map([...features].filter(([name]) => !byLexicon.test(name)));
}

const kindIndex = new Map<RequestKind, number>(requestKinds.map((kind, index) => [kind, index]));

const talkIndexes = new Set(talkKinds.map((kind) => kindIndex.get(kind)!));

/**
 * How much of a concept's log-odds counts where the words themselves are heard too. The lexicon grew beside the notes that the
 * weights are learned from and is right there more often than on a stranger's words, so that its say is cut.
 */
const trustBesideWords = 0.6;

/** Log-odds of each kind that the concepts of a span speak for, before anything is learned. */
export const kindPrior: Prior = (features) => {
  const scores = new Float64Array(requestKinds.length);
  const trust = features.has(unworded) ? 1 : trustBesideWords;
  for (const name of features.keys()) {
    if (!name.startsWith('c:') || /[&+-]$|&/u.test(name)) continue;
    const { kinds } = conceptNamed(name.slice(2));
    for (const [kind, weight] of Object.entries(kinds))
      scores[kindIndex.get(kind as RequestKind)!]! += trust * weight;
  }
  return scores;
};

/** The kind that speaks loudest before anything is learned, and how loud; among the wishes alone where asked. */
export function loudestKind(
  features: Features,
  wishesAlone = false,
): { kind: RequestKind; strength: number } {
  const scores = kindPrior(features);
  let best = 0;
  for (let index = 1; index < scores.length; index++)
    if (scores[index]! > scores[best]! && !(wishesAlone && talkIndexes.has(index))) best = index;
  return { kind: requestKinds[best]!, strength: scores[best]! };
}

export const directionClasses = ['up', 'down', 'add', 'remove', 'change'] as const;

/** Direction follows the kind and the pull of the words. */
export function directionFeatures(span: Features, kind: RequestKind): Features {
  const features: Features = new Map([[`k:${kind}`, 1]]);
  for (const [name, value] of span) {
    if (/^(?:c|s|s1|f|T|complaint|wish):/u.test(name)) {
      features.set(name, value);
      features.set(`${kind}|${name}`, value);
    } else if (/^(?:o|w|b|p):/u.test(name)) features.set(name, value);
  }
  return features;
}

const usualDirection: Partial<Record<RequestKind, readonly number[]>> = {
  'new-part': [0, 0, 4, 0, 0],
  're-record': [0, 0, 0, 0, 4],
  arrangement: [0, 0, 0, 0.5, 0.5],
  tuning: [0, 0, 0, 0, 3],
  timing: [0, 0, 0, 0, 4],
  comp: [0, 0, 0, 0, 4],
  cleanup: [0, 0, 0, 4, 0],
  'replace-sound': [0, 0, 0, 0, 4],
  lyric: [0, 0, 0, 0, 4],
  'reference-match-overall': [0, 0, 0, 0, 3],
  metadata: [0, 0, 1, 0, 1],
  format: [0, 0, 1, 0, 0.5],
  mute: [0, 0, 0, 1.5, 0],
  effect: [0, 0, 1.5, 0.3, 0],
};
const pulled = new Set<RequestKind>([
  'balance',
  'tone',
  'dynamics',
  'space',
  'automation',
  'pan',
  'overall-loudness',
  'overall-tone',
  'tempo-key',
  'fade-gap',
  'effect',
]);

export const directionPrior: Prior = (features) => {
  const scores = new Float64Array(directionClasses.length);
  let kind: RequestKind = 'balance';
  for (const name of features.keys()) {
    if (name.startsWith('k:')) kind = name.slice(2) as RequestKind;
  }
  usualDirection[kind]?.forEach((value, index) => {
    scores[index]! += value;
  });
  const trust = features.has(unworded) ? 1 : trustBesideWords;
  for (const name of features.keys()) {
    if (pulled.has(kind)) {
      if (name === 's1:+') scores[0]! += 1.5 * trust;
      if (name === 's1:-') scores[1]! += 1.5 * trust;
      if (name === 's:+') scores[0]! += 0.7 * trust;
      if (name === 's:-') scores[1]! += 0.7 * trust;
    }
    if (name.startsWith('c:') && !/[&+-]$|&/u.test(name)) {
      const { sense } = conceptNamed(name.slice(2));
      const at = directionClasses.indexOf(sense as (typeof directionClasses)[number]);
      if (at >= 2) scores[at]! += 0.7 * trust;
    }
  }
  return scores;
};

const speaksOfIt = ({ words, lexicon }: Reading, { from, to }: Span): boolean =>
  words.slice(from, to).some((word) => lexicon.grammar.pronoun!.has(word.form));

/** What stands far ahead says little of where a wish begins. */
const farthestAhead = 40;

/** From a clause to the end of its sentence. */
function sentenceFrom({ clauses }: Reading, index: number): Span {
  const { from } = clauses[index]!;
  let last = index;
  while (
    last + 1 < clauses.length &&
    !/^(?:sentence|line)$/u.test(clauses[last + 1]!.joint) &&
    clauses[last + 1]!.to - from <= farthestAhead
  )
    last++;
  return { from, to: clauses[last]!.to };
}

/** “1:32 …”, “bar 40 …”, “second chorus …”: a list of places begins each wish with one. */
function opensWithPlace({ words, lexicon }: Reading, from: number, to: number): boolean {
  const { section, ordinal } = lexicon.places;
  let at = from;
  while (
    at < to &&
    (lexicon.places.preposition!.has(words[at]!.form) || lexicon.grammar.stop!.has(words[at]!.form))
  )
    at++;
  const form = words[at]?.form;
  const next = words[at + 1]?.form ?? '';
  if (form === undefined || at >= to) return false;
  return (
    timestamp.test(form) ||
    section!.has(form) ||
    (/^(?:bars?|track|song)$/u.test(form) && /^\d/u.test(next)) ||
    (ordinal!.has(form) && at + 1 < to && section!.has(next))
  );
}

/** The chances of each kind for a stretch of a note. */
export type KindsOf = (reading: Reading, span: Span) => Float64Array;

const step = (chance: number) =>
  chance < 0.05 ? 0 : chance < 0.2 ? 1 : chance < 0.5 ? 2 : chance < 0.8 ? 3 : 4;

/** What tells whether a clause begins another request than the one before it. */
export function startFeatures(
  reading: Reading,
  current: Span,
  clause: Clause,
  index: number,
  kindsOf: KindsOf,
): Features {
  const features: Features = new Map();
  const { words, lexicon, clauses } = reading;
  // What stands far back says little of where a wish ends, and a letter must not cost the square of its length.
  const here: Span = clause;
  const before: Span = { from: Math.max(current.from, clause.from - 40), to: clause.from };
  const next = clauses[index + 1];
  const onward: Span = { from: clause.from, to: next?.to ?? clause.to };
  const say = (name: string, value = 1) => put(features, name, value);
  const left = featuresOf(reading, before, false);
  const right = featuresOf(reading, here, false);
  const ahead = featuresOf(reading, onward, false);
  const leftKind = loudestKind(left);
  const rightKind = loudestKind(right);
  const signs = (span: Features) => (span.has('s:+') ? '+' : '') + (span.has('s:-') ? '-' : '');
  const strong = (found: { strength: number }) => (found.strength > 1.7 ? 2 : found.strength > 0.9 ? 1 : 0);
  const named = (span: Span) => {
    const hits = hitsWithin(reading.targets, span).filter(
      (hit) => !['band', 'space', 'form'].includes(hit.target.class),
    );
    const outright = hits.filter((hit) => !hit.implied);
    return outright.length > 0 || span === here ? outright : hits;
  };
  const rightNames = named(here);
  // “The vocal is fine, but it shrinks in the chorus”: what “it” is was named before.
  const leftNames = named(before);
  if (leftNames.length === 0 && speaksOfIt(reading, before)) {
    const spoken = named({ from: Math.max(0, before.from - 40), to: before.from }).at(-1);
    if (spoken) leftNames.push(spoken);
  }
  const shares = rightNames.some((hit) => leftNames.some((other) => other.target === hit.target));
  const other = rightNames.some((hit) => !leftNames.some((known) => known.target === hit.target));
  const targets =
    rightNames.length === 0
      ? 'none'
      : other
        ? shares
          ? 'both'
          : leftNames.length
            ? 'other'
            : 'new'
        : 'same';
  const leftChances = kindsOf(reading, before);
  const rightChances = kindsOf(reading, here);
  let same = 0;
  let leftTalk = 0;
  let rightTalk = 0;
  let sure = 0;
  let likeliest = 0;
  for (const [kind, chance] of rightChances.entries()) {
    same += Math.min(chance, leftChances[kind]!);
    if (talkIndexes.has(kind)) {
      leftTalk += leftChances[kind]!;
      rightTalk += chance;
    } else if (chance > sure) {
      sure = chance;
      likeliest = kind;
    }
  }
  say(`same${step(same)}`);
  say(`talk${step(leftTalk)}>${step(rightTalk)}`);
  say(`sure${step(sure)}`);
  say(`same${step(same)}&targets:${targets}`);
  say(`same${step(same)}&talk${step(rightTalk)}`);
  say(`sure${step(sure)}&joint:${clause.joint}`);
  say(`likeliest:${likeliest}`, 0.5);
  const whole = (chances: Float64Array, features: Features, names: TargetHit[]) =>
    names.some((hit) =>
      ['voice', 'part', 'noise', 'whole', 'record', 'fade', 'gap', 'file', 'tag'].includes(hit.target.class),
    ) &&
    (features.has('s:+') ||
      features.has('s:-') ||
      [...chances].some((chance, kind) => chance > 0.6 && !talkIndexes.has(kind)));
  const complete = `${whole(leftChances, left, leftNames) ? 'L' : ''}${whole(rightChances, right, rightNames) ? 'R' : ''}`;
  say(`complete:${complete}`);
  say(`complete:${complete}&joint:${clause.joint}`);
  say(`complete:${complete}&targets:${targets}`);
  say(`complete:${complete}&same${step(same)}`);
  const sentence = sentenceFrom(reading, index);
  const rest = sentence.to === here.to ? right : featuresOf(reading, sentence, false);
  const restNames = sentence.to === here.to ? rightNames : named(sentence);
  const restComplete = whole(
    sentence.to === here.to ? rightChances : kindsOf(reading, sentence),
    rest,
    restNames,
  );
  const restOther = restNames.length > 0 && !leftNames.some((known) => known.target === restNames[0]!.target);
  say(`rest:${restComplete ? 'whole' : 'part'}&${restOther ? 'other' : 'same'}&joint:${clause.joint}`);
  say(`rest:${restComplete ? 'whole' : 'part'}&complete:${complete}&targets:${targets}`);
  say(`joint:${clause.joint}`);
  say(`L${strong(leftKind)}`);
  say(`R${strong(rightKind)}`);
  say(`L${strong(leftKind)}R${strong(rightKind)}`);
  say(`targets:${targets}`);
  say(`targets:${targets}R${strong(rightKind)}L${strong(leftKind)}`);
  say(`joint:${clause.joint}&targets:${targets}`);
  say(`joint:${clause.joint}&R${strong(rightKind)}`);
  const talk = new Set<RequestKind>(['praise', 'chat', 'question']);
  const group = (kind: RequestKind) => (talk.has(kind) ? kind : 'wish');
  if (strong(rightKind)) say(`rightKind:${rightKind.kind}`, 0.7);
  if (strong(leftKind)) say(`leftKind:${leftKind.kind}`, 0.5);
  const pair =
    strong(leftKind) && strong(rightKind)
      ? leftKind.kind === rightKind.kind ? 'same' : `${group(leftKind.kind)}>${group(rightKind.kind)}`
      : 'unclear'; // biome-ignore format: three cases
  say(`kinds:${pair}`);
  say(`kinds:${pair}&targets:${targets}`);
  say(`kinds:${pair}&joint:${clause.joint}`);
  say(`signs:${signs(left)}>${signs(right)}`);
  say(`sign:${signs(right)}&targets:${targets}`);
  if (left.has('f:section') && right.has('f:section')) say(`signs:${signs(left)}>${signs(right)}&placed`);
  if (!signs(left)) say('left:unsigned');
  if (!signs(right) && signs(ahead)) say('signed:next');
  const size = clause.to - clause.from;
  say(size < 2 ? 'size:1' : size < 3 ? 'size:2' : size < 5 ? 'size:4' : size < 9 ? 'size:8' : 'size:9');
  if (index === clauses.length - 1) say('last');
  const leading = words.slice(clause.from, clause.from + 3).map((word) => word.form);
  const skip = lexicon.grammar.conjunction!.has(leading[0] ?? '') ? 1 : 0;
  const first = leading[skip] ?? '';
  const english = reading.language === 'en';
  if (skip && english) say(`joins:${leading[0]}`, 0.7);
  if (lexicon.grammar.imperative!.has(first)) {
    say('first:tells');
    say(`first:tells&${left.has('f:tells') ? 'told' : 'untold'}&${clause.joint}`);
  }
  if (lexicon.grammar.request!.has(first)) say('first:requests');
  if (lexicon.grammar.question!.has(first)) say('first:asks');
  if (lexicon.grammar.reason!.has(first)) say('first:reason');
  if (lexicon.grammar.pronoun!.has(first)) say('first:it');
  if (lexicon.grammar.negation!.has(first)) say('first:not');
  if (english) say(`first:${timestamp.test(first) ? '@' : first}`, 0.7);
  if (first === 'so' && lexicon.grammar.imperative!.has(leading[skip + 1] ?? '')) say('first:so-tells');
  if (opensWithPlace(reading, clause.from + skip, clause.to)) {
    say('first:place');
    const placed = opensWithPlace(reading, current.from, current.to);
    say(`first:place&${placed ? 'placed' : 'unplaced'}&${clause.joint}`);
  }
  const inside = words.slice(clause.from, clause.to);
  if (inside.some((word) => lexicon.grammar.pronoun!.has(word.form))) say(`it&targets:${targets}`);
  if (inside.some((word) => word.form === 'there')) say('there');
  for (const cue of hitsWithin(reading.cues, here)) say(`c:${cue.concept.name}`, 0.6);
  for (const cue of hitsWithin(reading.cues, before))
    if (cue.concept.sense === 'plain') say(`l:${cue.concept.name}`, 0.4);
  if (right.has('f:?')) say('right:?');
  if (left.has('f:?')) say('left:?');
  return features;
}

export const startPrior: Prior = () => Float64Array.from([1, 0]);
