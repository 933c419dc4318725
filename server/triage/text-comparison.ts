import type { RequestKind } from '../domain/request-kind.ts';
import { defaultScopeSheet } from '../domain/scope-sheet.ts';
import { chanceOfYes } from './boosted-trees.ts';
import { closestPair, conflictThreshold, type MeetingPair, type WeighedRequest } from './conflict-chance.ts';
import {
  type Comparison,
  type Contradicting,
  contradictionWords,
  findContradiction,
  type PlacedRequest,
  sharedTarget,
} from './contradiction.ts';
import { featuresOf, loudestKind, within } from './features.ts';
import { read } from './reading.ts';
import { chancesOf, type Models, type SortContext, sortNote, trainedModels } from './sort-note.ts';

/** What one person wrote about a stretch of a song, in seconds. */
export interface PlacedText {
  text: string;
  start: number;
  end: number;
  /** The author's part in the band, where it is known: tells whose “my solo” is. */
  who?: string | null;
}

/** What a part in the band plays. */
const instrumentOf: Readonly<Record<string, string>> = {
  singer: 'lead vocal', vocalist: 'lead vocal', rapper: 'lead vocal', artist: 'lead vocal',
  drummer: 'drums', bassist: 'bass', guitarist: 'electric guitar', pianist: 'piano', keyboardist: 'keys', organist: 'organ',
  fiddler: 'fiddle', violinist: 'violin', cellist: 'cello', saxophonist: 'saxophone', trumpeter: 'trumpet', percussionist: 'percussion',
}; // biome-ignore format: pairs read as a line

const talksOfSelf = /\b(?:my(?:self)?|me|mine|i)\b/iu;

/** The requests and the wishes to keep something that a note holds, as they are compared with another person's. */
export function placedRequests(note: PlacedText, context: SortContext, models: Models): PlacedRequest[] {
  const { requests, protections } = sortNote(note.text, context, models);
  const instrument = note.who
    ? (instrumentOf[note.who.toLowerCase()] ?? note.who.toLowerCase().replace(/ player$/u, ''))
    : null;
  const own = (target: string | null, text: string) =>
    target === 'lead vocal' &&
    instrument &&
    instrument !== 'lead vocal' &&
    talksOfSelf.test(text) &&
    !/voice|vocal|vox|sing/iu.test(text)
      ? (read(instrument, 'en')?.targets.find((hit) => !hit.implied)?.target.name ?? target)
      : target;
  const placed = { start: note.start, end: note.end };
  const asked = (text: string, { requests }: ReturnType<typeof sortNote>): PlacedRequest[] =>
    requests.map((request) => ({
      text: request.text || text,
      kind: request.kind,
      target: own(request.target, request.text),
      direction: request.direction,
      ...placed,
    }));
  const whole = asked(note.text, { requests, protections } as ReturnType<typeof sortNote>);
  // “The breakdown is about the riff, growls back”: a clause with its own target counts even beside another wish.
  const clauses =
    (read(note.text, context.language ?? null)?.clauses.length ?? 0) > 1 ? wishfulClauses(note.text) : [];
  const known = new Set(whole.map((request) => request.target));
  return [
    ...whole,
    ...clauses
      .flatMap((text) => asked(text, sortNote(text, context, models)))
      .filter((request) => request.target && !known.has(request.target)),
    ...protections.map(({ text, target }): PlacedRequest => {
      const kind = keptKind(text);
      return {
        text,
        kind: kind ?? 'praise',
        target: own(target, text),
        direction: null,
        keeps: kind ? 'kind' : 'everything',
        ...placed,
      };
    }),
  ];
}

/** The clauses that name a part and pull it one way. */
function wishfulClauses(text: string): string[] {
  const reading = read(text, 'en');
  if (!reading) return [];
  return reading.clauses
    .filter((clause) => {
      const features = featuresOf(reading, clause, false);
      return (
        (features.has('wish:+') || features.has('wish:-')) &&
        reading.targets.some(
          (hit) => within(clause, hit) && !hit.implied && /^(?:voice|part)$/u.test(hit.target.class),
        )
      );
    })
    .map((clause) => text.slice(reading.words[clause.from]!.start, reading.words[clause.to - 1]!.end));
}

/** The control that a wish to keep something names; `null` where it names none and so means every one. */
function keptKind(text: string): RequestKind | null {
  const reading = read(text, 'en');
  if (!reading) return null;
  const { kind, strength } = loudestKind(
    featuresOf(reading, { from: 0, to: reading.words.length }, false),
    true,
  );
  return strength > 0.9 ? kind : null;
}

/** “My solo” is the solo that the other person speaks of. */
function meant(request: WeighedRequest, other: WeighedRequest, otherText: string): WeighedRequest {
  return request.target === 'solo' && /\bsolo\b/iu.test(otherText)
    ? { ...request, target: other.target }
    : request;
}

/** A request with what its words may mean; none where they are in no language that this server sorts. */
function weigh(request: PlacedRequest, words: string, beside: number, models: Models): WeighedRequest[] {
  const chances = chancesOf(words, models);
  return chances ? [{ ...request, chances, beside }] : [];
}

/** The two requests of two notes that meet most, with what tells whether both can be done; `null` where a note holds no words. */
export function meetingRequests(a: PlacedText, b: PlacedText, context: SortContext, models: Models) {
  const weighed = (note: PlacedText) => {
    const requests = placedRequests(note, context, models);
    return requests.flatMap((request) =>
      weigh(request, requests.length === 1 ? note.text : request.text, requests.length, models),
    );
  };
  const [ones, others] = [weighed(a), weighed(b)];
  return closestPair(
    ones.flatMap((one) =>
      others.map((other) => [meant(one, other, b.text), meant(other, one, a.text)] as const),
    ),
  );
}

/** What kind of contradiction two requests make that the rules don't see as one. */
function likeliestContradiction(features: ReadonlyMap<string, number>): Contradicting {
  const value = (name: string) => features.get(name) ?? 0;
  if (value('kept') > 0) return 'keep-vs-change';
  const [gone, opposed, choice] = [value('gone'), value('opposed&control'), value('choice&change')];
  return gone > Math.max(opposed, choice) ? 'gone-vs-kept' : opposed >= choice ? 'opposite' : 'incompatible';
}

/** The verdict of the rules on two requests, or of the model where it is surer than a threshold of the contrary. */
function judged({ pair, ruled, features }: MeetingPair, models: Models, threshold: number): Comparison {
  if (ruled.relation === 'no-overlap') return ruled;
  const conflict = chanceOfYes(models.conflict, features) > threshold;
  if (conflict === ruled.conflict) return ruled;
  if (!conflict) return { conflict, relation: 'compatible', why: 'Read as a whole, both can be done.' };
  const relation = likeliestContradiction(features);
  return { conflict, relation, why: contradictionWords[relation](sharedTarget(...pair), ...pair) };
}

/**
 * Whether what two people wrote can both be done. Stretches that don't meet settle it; else a model weighs targets,
 * controls, directions and the rules' own verdict on the two requests that meet most. It says nothing about words in a
 * language that this server doesn't sort.
 */
export function compareTexts(
  a: PlacedText,
  b: PlacedText,
  context: SortContext = { scopeSheet: defaultScopeSheet() },
  models: Models = trainedModels(),
): Comparison {
  const met = meetingRequests(a, b, context, models);
  if (!met) return { conflict: false, relation: 'compatible', why: 'One of the two asks for nothing.' };
  return judged(met, models, conflictThreshold);
}

/** What people settled about a request counts for more than its words: only a sure model sees more than the rules. */
const sureConflict = 0.65;

/**
 * Whether two requests as they were sorted or settled can both be done: by the rules, and where they see no contradiction on
 * what may be one target, by the words.
 */
export function compareRequests(a: PlacedRequest, b: PlacedRequest): Comparison {
  const ruled = findContradiction(a, b);
  if (ruled.conflict || ['no-overlap', 'different-targets'].includes(ruled.relation)) return ruled;
  const models = trainedModels();
  const [ones, others] = [a, b].map((request) => weigh(request, request.text, 1, models));
  const met = closestPair(ones!.flatMap((one) => others!.map((other) => [one, other] as const)));
  return met ? judged(met, models, sureConflict) : ruled;
}
