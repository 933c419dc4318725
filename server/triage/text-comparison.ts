import type { RequestKind } from '../domain/request-kind.ts';
import { defaultScopeSheet } from '../domain/scope-sheet.ts';
import { type Comparison, findContradiction, type PlacedRequest } from './contradiction.ts';
import { featuresOf, loudestKind, within } from './features.ts';
import { read } from './reading.ts';
import { type SortContext, sortNote } from './sort-note.ts';

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
export function placedRequests(note: PlacedText, context: SortContext): PlacedRequest[] {
  const { requests, protections } = sortNote(note.text, context);
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
      .flatMap((text) => asked(text, sortNote(text, context)))
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
function meant(request: PlacedRequest, other: PlacedRequest, otherText: string): PlacedRequest {
  return request.target === 'solo' && /\bsolo\b/iu.test(otherText)
    ? { ...request, target: other.target }
    : request;
}

/** Whether what two people wrote can both be done: the first pair of their requests that cannot, else how they relate. */
export function compareTexts(
  a: PlacedText,
  b: PlacedText,
  context: SortContext = { scopeSheet: defaultScopeSheet() },
): Comparison {
  const comparisons = placedRequests(a, context).flatMap((one) =>
    placedRequests(b, context).map((other) =>
      findContradiction(meant(one, other, b.text), meant(other, one, a.text)),
    ),
  );
  return comparisons.find(({ conflict }) => conflict) ?? comparisons[0]!;
}
