import { defaultScopeSheet } from '../domain/scope-sheet.ts';
import { type Comparison, findContradiction, type PlacedRequest } from './contradiction.ts';
import { featuresOf, loudestKind } from './features.ts';
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
  return [
    ...requests.map(({ text, kind, target, direction }) => ({
      text,
      kind,
      target: own(target, text),
      direction,
      ...placed,
    })),
    ...protections.map(({ text, target }) => {
      const reading = read(text, 'en');
      const kind = reading
        ? loudestKind(featuresOf(reading, { from: 0, to: reading.words.length }, false)).kind
        : 'chat';
      return { text, kind, target: own(target, text), direction: null, ...placed };
    }),
  ];
}

/** Whether what two people wrote can both be done: the first pair of their requests that cannot, else how they relate. */
export function compareTexts(
  a: PlacedText,
  b: PlacedText,
  context: SortContext = { scopeSheet: defaultScopeSheet() },
): Comparison {
  const comparisons = placedRequests(a, context).flatMap((one) =>
    placedRequests(b, context).map((other) => findContradiction(one, other)),
  );
  return comparisons.find(({ conflict }) => conflict) ?? comparisons[0]!;
}
