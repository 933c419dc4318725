import { type RequestKind, requestKinds, talkKinds } from '../domain/request-kind.ts';
import type { Features } from './classifier.ts';
import {
  areOpposite,
  type Comparison,
  controlOf,
  findContradiction,
  nameOf,
  numberWords,
  type PlacedRequest,
  type Relation,
} from './contradiction.ts';
import { directionClasses } from './features.ts';
import { read } from './reading.ts';
import type { Chances } from './sort-note.ts';

/** A request with what its words may mean. */
export interface WeighedRequest extends PlacedRequest {
  chances: Chances;
  /** How many requests the note holds that it stands in. */
  beside: number;
}

const controls = requestKinds.map(controlOf);
const talk = talkKinds.map((kind) => requestKinds.indexOf(kind));

/** Kinds that choose one thing among several: two different wishes for one part exclude each other. */
const choosing: readonly RequestKind[] = [
  'replace-sound', 'comp', 'lyric', 're-record', 'tempo-key', 'format', 'pan', 'arrangement', 'metadata',
]; // biome-ignore format: one list

/** Kinds that put something right: two wishes for one part are the same wish. */
const mending: readonly RequestKind[] = ['tuning', 'timing', 'cleanup'];

const choiceWords =
  /(?<!\p{L})["“‘']([^"”’']{1,40})["”’'](?!\p{L})|\b(left|right|cent(?:re|er)|middle|monday|tuesday|wednesday|thursday|friday|saturday|sunday|brush(?:es)?|sticks?|acoustic|electric|live|synth|real|early|earlier|late|later|fast(?:er)?|slow(?:er)?|high(?:er)?|low(?:er)?|up|down)\b|\b(?:in|to|key of|from) ([a-g])(?= |$|[.,;])( ?(?:flat|sharp|minor|major))?|\b(\d+)(?:st|nd|rd|th)?\b|\b(one|two|three|four|five|six|seven|eight|first|second|third|fourth|fifth|sixth)\b/giu;

/** What a request may choose: a side, a number, a key, a day, a quoted word. */
function choicesIn(text: string): Set<string> {
  const found = new Set<string>();
  for (const [, quoted, word, key, accidental, digits, number] of text.toLowerCase().matchAll(choiceWords)) {
    if (quoted) found.add(quoted);
    else if (word) found.add(word.replace(/er$/u, '').replace(/^(?:middle|centre)$/u, 'cent'));
    else if (key) found.add(`key ${key}${accidental ?? ''}`);
    else if (digits) found.add(digits);
    else if (number) found.add(numberWords[number]!);
  }
  return found;
}

const leavingAlone =
  /\b(?:don'?t|do not|don’t|never|no need|not|leave|leaves|stay|stays|keep|keeps|as is|as it is|just right|spot on|exactly|perfect|untouched|hands off|part of it|the one|fine|alone|love|loves|already)\b/iu;

const chanceOf = ({ kinds }: Chances, kind: RequestKind) => kinds[requestKinds.indexOf(kind)]!;
const towards = ({ directions }: Chances, direction: (typeof directionClasses)[number]) =>
  directions[directionClasses.indexOf(direction)]!;

/** How likely two requests are of one kind among some. */
const bothOf = (kinds: readonly RequestKind[], a: Chances, b: Chances) =>
  kinds.reduce((sum, kind) => sum + chanceOf(a, kind) * chanceOf(b, kind), 0);

/** How likely both work on the same thing, and how likely in opposite and in the same directions. */
function agreementOf(a: Chances, b: Chances) {
  let control = 0;
  let kind = 0;
  for (const [one, chance] of a.kinds.entries())
    for (const [other, its] of b.kinds.entries()) {
      if (controls[one] === controls[other]) control += chance * its;
      if (one === other) kind += chance * its;
    }
  let opposed = 0;
  let same = 0;
  for (const [one, direction] of directionClasses.entries())
    for (const [other, its] of directionClasses.entries()) {
      const both = a.directions[one]! * b.directions[other]!;
      if (areOpposite(direction, its)) opposed += both;
      if (one === other) same += both;
    }
  return { control, kind, opposed, same };
}

/** How likely a request takes its target out of the song. */
const goneBy = (chances: Chances) =>
  towards(chances, 'remove') *
  (chanceOf(chances, 'mute') +
    chanceOf(chances, 'arrangement') +
    0.5 * chanceOf(chances, 'new-part') +
    0.5 * chanceOf(chances, 'balance'));

function wordsOf(text: string): { stems: Set<string>; targets: Set<string> } {
  const reading = read(text, 'en');
  const stems = new Set<string>();
  for (const { form } of reading?.words ?? [])
    if (
      form.length > 2 &&
      !reading!.lexicon.grammar.stop!.has(form) &&
      !reading!.lexicon.places.section!.has(form)
    )
      stems.add(form.slice(0, 5));
  const named = (reading?.targets ?? []).filter((hit) => !hit.implied);
  return { stems, targets: new Set(named.map((hit) => nameOf(hit.target.name))) };
}

/** What tells whether two requests can both be done: their targets, what they work on, which way, and what the rules say. */
function pairFeatures(a: WeighedRequest, b: WeighedRequest, relation: Relation): Features {
  const features: Features = new Map();
  const say = (name: string, value: number) => {
    if (value > 0) features.set(name, value);
  };
  const [here, there] = [wordsOf(a.text), wordsOf(b.text)];
  const [target, other] = [a.target && nameOf(a.target), b.target && nameOf(b.target)];
  const same = target !== null && target === other ? 1 : 0;
  const unnamed = target === null || other === null ? 1 : 0;
  const whole = !same && (target === 'whole mix' || other === 'whole mix') ? 1 : 0;
  const shared = [...here.targets].some((name) => there.targets.has(name)) ? 1 : 0;
  const onOne = Math.max(same, 0.7 * shared);
  const { control, kind, opposed, same: alongside } = agreementOf(a.chances, b.chances);
  say('target:same', same);
  say('target:none', unnamed);
  say('target:whole', whole);
  say('target:other', 1 - Math.max(same, unnamed, whole));
  say('target:shared', shared);
  say('opposed', opposed);
  say('alongside', alongside);
  say('control', control);
  say('kind', kind);
  say('opposed&control', opposed * control);
  say('opposed&control&target', opposed * control * onOne);
  say('opposed&target', opposed * onOne);
  say('opposed&control&open', opposed * control * Math.max(unnamed, whole));
  say(`relation:${relation}`, 1);
  const kept = (a.keeps !== undefined) !== (b.keeps !== undefined) ? 1 : 0;
  say('kept', kept);
  say('kept&target', kept * onOne);
  say('kept:both', a.keeps !== undefined && b.keeps !== undefined ? 1 : 0);
  const gone = Math.abs(goneBy(a.chances) - goneBy(b.chances));
  say('gone', gone);
  say('gone&target', gone * onOne);
  const choice = bothOf(choosing, a.chances, b.chances);
  const change = towards(a.chances, 'change') * towards(b.chances, 'change');
  say('choice', choice);
  say('choice&change', choice * change);
  say('choice&change&target', choice * change * onOne);
  const talks = ({ chances }: WeighedRequest) => talk.reduce((sum, index) => sum + chances.kinds[index]!, 0);
  const oneTalks = talks(a) * (1 - talks(b)) + talks(b) * (1 - talks(a));
  const mend = bothOf(mending, a.chances, b.chances);
  say('mend', mend);
  say('mend&target', mend * onOne);
  const [ours, theirs] = [choicesIn(a.text), choicesIn(b.text)];
  const common = [...ours].some((each) => theirs.has(each)) ? 1 : 0;
  const apart = !common && ours.size > 0 && theirs.size > 0 ? 1 : 0;
  say('choices:shared', common);
  say('choices:apart', apart);
  say('choices:shared&choice', common * choice);
  say('choices:apart&choice', apart * choice);
  const left = leavingAlone.test(a.text) !== leavingAlone.test(b.text) ? 1 : 0;
  say('left', left);
  say('left&target', left * onOne);
  say('left&kind', left * onOne * kind);
  say('left&alongside', left * onOne * control * alongside);
  say('kept&other', kept * (onOne ? 0 : 1) * (1 - Math.max(unnamed, whole)));
  const praised = Math.abs(chanceOf(a.chances, 'praise') - chanceOf(b.chances, 'praise'));
  say('praised', praised);
  say('praised&target', praised * onOne);
  say('praised&left', praised * left);
  say('praised&left&target', praised * left * onOne);
  say('talk', oneTalks);
  say('talk&target', oneTalks * onOne);
  say('words', Math.min(4, [...here.stems].filter((stem) => there.stems.has(stem)).length) / 4);
  say('target&control', onOne * control);
  say('target&control&alongside', onOne * control * alongside);
  say('several', a.beside + b.beside > 2 ? 1 : 0);
  return features;
}

export type RequestPair = readonly [WeighedRequest, WeighedRequest];

/** Two requests of two people, what the rules say of them, and what tells whether both can be done. */
export interface MeetingPair {
  pair: RequestPair;
  ruled: Comparison;
  features: Features;
}

/** Of pairs of requests the one that meets most: on one target, one control, in opposite directions. */
export function closestPair(pairs: readonly RequestPair[]): MeetingPair | null {
  let closest: MeetingPair | null = null;
  let nearest = -Infinity;
  for (const pair of pairs) {
    const ruled = findContradiction(...pair);
    const features = pairFeatures(...pair, ruled.relation);
    const value = (name: string) => features.get(name) ?? 0;
    const near =
      2 * value('opposed&control&target') +
      value('opposed&target') +
      value('target:same') +
      value('control') +
      value('kept&target') +
      (ruled.conflict ? 2 : 0);
    if (near > nearest) {
      nearest = near;
      closest = { pair, ruled, features };
    }
  }
  return closest;
}

/** A little under likelier than not: a contradiction that is missed costs more than one that is shown needlessly. */
export const conflictThreshold = 0.45;
