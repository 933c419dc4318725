import { type RequestKind, requestKinds, talkKinds } from '../domain/request-kind.ts';
import { type Features, type Model, type Prior, probabilities } from './classifier.ts';
import {
  areOpposite,
  type Contradicting,
  controlOf,
  findContradiction,
  nameOf,
  type PlacedRequest,
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

/** Whether two people's requests can both be done, as the classes of a model. */
export const conflictClasses = ['both', 'conflict'] as const;

export const conflictPrior: Prior = () => new Float64Array(conflictClasses.length);

const controls = requestKinds.map(controlOf);
const talk = talkKinds.map((kind) => requestKinds.indexOf(kind));

/** Kinds that choose one thing among several: two different wishes for one part exclude each other. */
const choosing: readonly RequestKind[] = [
  'replace-sound', 'comp', 'lyric', 're-record', 'tempo-key', 'timing', 'format', 'pan', 'arrangement', 'tuning', 'metadata',
]; // biome-ignore format: one list

const chanceOf = ({ kinds }: Chances, kind: RequestKind) => kinds[requestKinds.indexOf(kind)]!;
const towards = ({ directions }: Chances, direction: (typeof directionClasses)[number]) =>
  directions[directionClasses.indexOf(direction)]!;

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
export function pairFeatures(a: WeighedRequest, b: WeighedRequest): Features {
  const features: Features = new Map([['always', 1]]);
  const say = (name: string, value: number) => {
    if (value > 0) features.set(name, value);
  };
  const { relation } = findContradiction(a, b);
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
  const choice = choosing.reduce((sum, one) => sum + chanceOf(a.chances, one) * chanceOf(b.chances, one), 0);
  const change = towards(a.chances, 'change') * towards(b.chances, 'change');
  say('choice', choice);
  say('choice&change', choice * change);
  say('choice&change&target', choice * change * onOne);
  const talks = ({ chances }: WeighedRequest) => talk.reduce((sum, index) => sum + chances.kinds[index]!, 0);
  const oneTalks = talks(a) * (1 - talks(b)) + talks(b) * (1 - talks(a));
  say('talk', oneTalks);
  say('talk&target', oneTalks * onOne);
  say('words', Math.min(4, [...here.stems].filter((stem) => there.stems.has(stem)).length) / 4);
  say('target&control', onOne * control);
  say('target&control&alongside', onOne * control * alongside);
  say('several', a.beside + b.beside > 2 ? 1 : 0);
  return features;
}

const contradicting: readonly Contradicting[] = [
  'opposite',
  'keep-vs-change',
  'gone-vs-kept',
  'incompatible',
];

export type RequestPair = readonly [WeighedRequest, WeighedRequest];

/** Of pairs of requests the one that meets most: on one target, one control, in opposite directions. */
export function closestPair(pairs: readonly RequestPair[]): { pair: RequestPair; features: Features } | null {
  let closest: ReturnType<typeof closestPair> = null;
  let nearest = -Infinity;
  for (const pair of pairs) {
    const features = pairFeatures(...pair);
    const value = (name: string) => features.get(name) ?? 0;
    const near =
      2 * value('opposed&control&target') +
      value('opposed&target') +
      value('target:same') +
      value('control') +
      value('kept&target') +
      (contradicting.some((relation) => features.has(`relation:${relation}`)) ? 2 : 0);
    if (near > nearest) {
      nearest = near;
      closest = { pair, features };
    }
  }
  return closest;
}

/** How likely two requests cannot both be done. */
export const conflictChance = (model: Model, features: Features): number =>
  probabilities(model, features, conflictPrior)[1]!;

/** From this chance on two requests are called a contradiction: as many are missed as are called so wrongly. */
export const conflictThreshold = 0.45;
