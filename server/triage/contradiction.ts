import type { Direction, RequestKind } from '../domain/request-kind.ts';
import { read } from './reading.ts';

/** A request with the stretch of the song that it is about. */
export interface PlacedRequest {
  text: string;
  kind: RequestKind;
  target: string | null;
  /** `null` asks to leave the target as it is, unless the kind asks for nothing. */
  direction: Direction | null;
  /** Asks to leave the target as it is, in every way where its words name none. */
  keeps?: 'everything' | 'kind';
  /** Seconds. */
  start: number;
  end: number;
}

export type Relation =
  | 'opposite'
  | 'keep-vs-change'
  | 'gone-vs-kept'
  | 'incompatible'
  | 'agreement'
  | 'different-targets'
  | 'no-overlap'
  | 'compatible';

export interface Comparison {
  conflict: boolean;
  relation: Relation;
  why: string;
}

const asksNothing: ReadonlySet<RequestKind> = new Set(['praise', 'question', 'chat']);

/** Kinds that work on the same thing, so that their directions can meet. */
const sameControl: Partial<Record<RequestKind, string>> = {
  balance: 'level',
  automation: 'level',
  dynamics: 'dynamics',
  space: 'room',
  effect: 'effect',
  'new-part': 'presence',
  mute: 'presence',
};
/** What a kind works on; kinds that work on the same thing can contradict each other. */
export const controlOf = (kind: RequestKind) => sameControl[kind] ?? kind;

/** Kinds whose “remove” takes something off the target, not the target out. */
const handledInPlace: ReadonlySet<RequestKind> = new Set([
  'space',
  'effect',
  'tuning',
  'cleanup',
  'fade-gap',
  'metadata',
  'dynamics',
  'tone',
]);

const sameName: Readonly<Record<string, string>> = {
  'whole song': 'whole mix',
  'whole record': 'whole mix',
  master: 'whole mix',
  handclap: 'clap',
  'lead guitar': 'guitar solo',
  solo: 'guitar solo',
  ending: 'fade-out',
  'double bas': 'upright bas',
  'slap bas': 'bas',
};
/** A target's name as it is compared with another's. */
export const nameOf = (target: string) => {
  const name = target.trim().toLowerCase().replace(/s$/u, '');
  return sameName[name] ?? name;
};

const opposites: ReadonlySet<string> = new Set([
  'up down',
  'down up',
  'add remove',
  'remove add',
  'up remove',
  'remove up',
  'down add',
  'add down',
]);

/** Whether what pulls one way cannot be done together with what pulls the other way. */
export const areOpposite = (one: Direction, other: Direction) => opposites.has(`${one} ${other}`);

/** Numbers and the words that choose one among several, as one word each. */
export const numberWords: Readonly<Record<string, string>> = {
  one: '1', first: '1', '1st': '1', two: '2', second: '2', '2nd': '2', three: '3', third: '3', '3rd': '3', four: '4', fourth: '4', '4th': '4', five: '5', fifth: '5', '5th': '5', six: '6', sixth: '6', seven: '7', eight: '8', last: 'last', later: 'last', latest: 'last', final: 'last', earlier: 'early', early: 'early', original: 'early', old: 'early',
}; // biome-ignore format: pairs read as a line

/** The one choice among several that a request makes, where its kind is such a choice; `null` where its words name none. */
function choiceOf(request: PlacedRequest): string | null {
  const text = request.text.toLowerCase();
  if (request.kind === 'comp') {
    const word =
      /\btake (?:no\.? ?|number )?(\d+|one|two|three|four|five|six)\b/u.exec(text)?.[1] ??
      /\b(\w+) (?:take|pass)\b/u.exec(text)?.[1];
    return word ? (numberWords[word] ?? (/^\d+$/u.test(word) ? word : null)) : null;
  }
  if (request.kind === 'pan') {
    const sides = ['left', 'right', 'cent', 'middle'].filter((side) => text.includes(side));
    return sides.length === 1 ? sides[0]!.replace('middle', 'cent') : null;
  }
  if (request.kind === 'timing') {
    if (/\b(?:earlier|ahead|forward|sooner|push)/u.test(text)) return 'earlier';
    if (/\b(?:later|lay(?:ing)? ?back|laid ?back|behind|sit(?:ting)? back|relax)/u.test(text)) return 'later';
    if (/\b(?:human|feel|loose|looser|natural|off the grid|swing|un-?quanti[sz]e)/u.test(text))
      return 'loose';
    if (/\b(?:grid|quanti[sz]e|tight|tighten|lock|line|lining)/u.test(text)) return 'tight';
    return null;
  }
  if (request.kind === 'tempo-key') {
    const figure =
      /\b(\d{2,3}) ?bpm\b|\bkey of (\w+)\b|\bin ([a-g](?: ?(?:flat|sharp|minor|major|b|#))?)\b/u.exec(text);
    return figure ? figure[0] : null;
  }
  if (request.kind === 'lyric') {
    const quoted = [...text.matchAll(/['"“‘]([^'"”’]{1,40})['"”’]/gu)].map((match) => match[1]!);
    return quoted.length > 0 ? quoted[quoted.length - 1]! : null;
  }
  if (request.kind === 'tuning')
    return request.direction === 'add'
      ? 'styled'
      : request.direction === 'down' ||
          request.direction === 'remove' ||
          /\bnatural|untuned|raw\b/u.test(text)
        ? 'natural'
        : 'corrected';
  return null;
}

const exclusive: ReadonlySet<string> = new Set([
  'earlier later',
  'later earlier',
  'loose tight',
  'tight loose',
  'styled natural',
  'natural styled',
  'corrected natural',
  'natural corrected',
]);

/** Which part of the sound a wish for another tone is about; two wishes about different ends of it can both be met. */
function toneRegions(text: string): Set<string> {
  const reading = read(text, 'en');
  const regions = new Set<string>();
  for (const cue of reading?.cues ?? []) {
    if (['bright', 'dark', 'tone-excess', 'sibilance', 'lifeless', 'sharp'].includes(cue.concept.name))
      regions.add('top');
    if (['mud', 'body', 'warm'].includes(cue.concept.name)) regions.add('bottom');
    if (cue.concept.name === 'tone-lack') {
      const words = reading!.words.slice(cue.from, cue.to).map((word) => word.form);
      regions.add(
        words.some((word) =>
          /^(?:thin|tiny|small|weedy|skinny|hollow|weight|body|bottom|chest|puny)$/u.test(word),
        )
          ? 'bottom'
          : 'top',
      );
    }
  }
  return regions;
}

const said = (request: PlacedRequest) => `“${request.text.trim()}”`;

export type Contradicting = 'opposite' | 'keep-vs-change' | 'gone-vs-kept' | 'incompatible';

/** Why two requests cannot both be done, in words that name both. */
export const contradictionWords: Readonly<
  Record<Contradicting, (target: string, a: PlacedRequest, b: PlacedRequest) => string>
> = {
  opposite: (target, a, b) => `${said(a)} and ${said(b)} pull the ${target} in opposite directions.`,
  'keep-vs-change': (target, a, b) =>
    `One asks to leave the ${target} as it is, the other to change it: ${said(a)} against ${said(b)}.`,
  'gone-vs-kept': (target, a, b) =>
    `The ${target} cannot be taken out and worked on as well: ${said(a)} against ${said(b)}.`,
  incompatible: (target, a, b) =>
    `Only one of the two can be done on the ${target}: ${said(a)} against ${said(b)}.`,
};

/** The thing that two requests are about. */
export const sharedTarget = (a: PlacedRequest, b: PlacedRequest) => a.target ?? b.target ?? 'same thing';

/**
 * Whether two people's requests can both be done. Targets and stretches must meet, by more than a shared edge; then it is
 * opposite directions, leaving alone against changing, removing against working on, or choices that exclude each other.
 */
export function findContradiction(a: PlacedRequest, b: PlacedRequest): Comparison {
  const answer = (conflict: boolean, relation: Relation, why: string): Comparison => ({
    conflict,
    relation,
    why,
  });
  const keeps = (request: PlacedRequest) =>
    request.keeps !== undefined || (request.direction === null && !asksNothing.has(request.kind));
  if ([a, b].some((request) => asksNothing.has(request.kind) && !keeps(request)))
    return answer(false, 'compatible', 'One of the two asks for nothing.');
  if (!(a.start < b.end && b.start < a.end))
    return answer(false, 'no-overlap', 'They are about different places in the song.');
  const endings =
    [a, b].some((request) => request.kind === 'fade-gap') &&
    [a, b].some((request) => request.kind === 'arrangement');
  if (endings) {
    const [fade, form] = a.kind === 'fade-gap' ? [a, b] : [b, a];
    const cold = /\b(?:cold|dead|hard|abrupt|sudden|no fad|without (?:a )?fad|stop)/iu.test(form.text);
    if (cold && fade.direction !== 'remove' && /fade|fading/iu.test(fade.text))
      return answer(
        true,
        'incompatible',
        `A fade and a cold end cannot both close the song: ${said(a)} against ${said(b)}.`,
      );
  }
  const sameTarget =
    a.target === null || b.target === null
      ? controlOf(a.kind) === controlOf(b.kind)
      : nameOf(a.target) === nameOf(b.target);
  if (!sameTarget)
    return answer(
      false,
      'different-targets',
      `The ${a.target} and the ${b.target} are different things; both can be done.`,
    );
  const target = sharedTarget(a, b);
  const contradicts = (relation: Contradicting) =>
    answer(true, relation, contradictionWords[relation](target, a, b));
  const sameKind = controlOf(a.kind) === controlOf(b.kind);
  if (keeps(a) && keeps(b)) return answer(false, 'agreement', `Both want the ${target} left as it is.`);
  if (keeps(a) || keeps(b)) {
    const goes = [a, b].some((request) => request.direction === 'remove');
    return sameKind || goes || [a, b].some((request) => request.keeps === 'everything')
      ? contradicts('keep-vs-change')
      : answer(
          false,
          'compatible',
          `What is to stay on the ${target} and what is to change are different things.`,
        );
  }
  const directions = `${a.direction} ${b.direction}`;
  const gone = (request: PlacedRequest) =>
    request.direction === 'remove' && !handledInPlace.has(request.kind);
  if (gone(a) !== gone(b) && (!sameKind || !opposites.has(directions))) return contradicts('gone-vs-kept');
  if (!sameKind) {
    const roomAndEffect =
      ['room', 'effect'].includes(controlOf(a.kind)) && ['room', 'effect'].includes(controlOf(b.kind));
    if (
      roomAndEffect &&
      opposites.has(directions) &&
      ['delay', 'echo', 'reverb'].some((word) =>
        [a, b].every((request) => request.text.toLowerCase().includes(word)),
      )
    )
      return contradicts('opposite');
    return answer(false, 'compatible', `They are different work on the ${target}; both can be done.`);
  }
  if (a.kind === 'tone' && opposites.has(directions)) {
    const [here, there] = [toneRegions(a.text), toneRegions(b.text)];
    if (here.size > 0 && there.size > 0 && ![...here].some((region) => there.has(region)))
      return answer(
        false,
        'compatible',
        `They are about different ends of the ${target}'s sound; both can be done.`,
      );
  }
  if (opposites.has(directions)) return contradicts('opposite');
  const [first, second] = [choiceOf(a), choiceOf(b)];
  if (first && second && first !== second) {
    const differ =
      a.kind === 'timing' || a.kind === 'tuning' ? exclusive.has(`${first} ${second}`) : a.kind === b.kind;
    if (differ) return contradicts('incompatible');
  }
  return a.direction === b.direction
    ? answer(false, 'agreement', `Both ask for the same on the ${target}.`)
    : answer(false, 'compatible', `Both can be done on the ${target}.`);
}
