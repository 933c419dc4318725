import type { Request } from '../domain/note.ts';
import type { PersonId } from '../domain/person.ts';
import { areKeptApart, type Song, standingRequests } from '../domain/record.ts';
import type { RequestKind } from '../domain/request-kind.ts';
import type { Round } from '../domain/round.ts';
import { findContradiction } from '../triage/contradiction.ts';
import { placedIn } from './request-span.ts';

/** The same wish of several people: what it is of, earliest first, and how many people ask for it. */
export interface Agreement {
  requestIds: string[];
  people: number;
}

/** Kinds whose direction says all that is wished for; of the others only the words tell what is to become of the part. */
const saidByDirection: ReadonlySet<RequestKind> = new Set([
  'balance',
  'automation',
  'dynamics',
  'space',
  'mute',
  'new-part',
  'overall-loudness',
]);

const wordsOf = (request: Request): Set<string> => {
  const target = new Set((request.target ?? '').toLowerCase().match(/\p{L}+/gu));
  const words = request.text.toLowerCase().match(/\p{L}{4,}/gu) ?? [];
  return new Set(words.filter((word) => !target.has(word)));
};

const shareWords = (a: Request, b: Request): boolean => {
  const words = wordsOf(b);
  return [...wordsOf(a)].some((word) => words.has(word));
};

function sameWish(song: Song, a: Request, b: Request): boolean {
  if (a.level !== b.level || a.target === null || b.target === null || a.direction === null) return false;
  if (areKeptApart(song, a.id, b.id)) return false;
  const { relation } = findContradiction(placedIn(song, a), placedIn(song, b));
  return relation === 'agreement' && (saidByDirection.has(a.kind) || (a.kind === b.kind && shareWords(a, b)));
}

/**
 * Requests of an open list that wish the same of the same part, in the same direction and at places that meet, by two
 * people or more, but for those that the spokesperson has said are two wishes. Nothing is made one by it: it is shown to
 * the spokesperson, who decides.
 */
export function agreements(song: Song, round: Round): Agreement[] {
  const authorOf = (request: Request): PersonId =>
    song.notes.find((note) => note.id === request.noteId)?.by ?? '';
  const contradicted = new Set(song.contradictions.flatMap((each) => (each.settled ? [] : each.requestIds)));
  const left = standingRequests(song, round).filter(
    (request) =>
      request.level !== 'none' &&
      !contradicted.has(request.id) &&
      request.lockBreak === null &&
      !request.parked,
  );
  const found: Agreement[] = [];
  while (left.length) {
    const group = [left.shift()!];
    for (const request of [...left])
      if (group.every((each) => sameWish(song, each, request))) {
        group.push(request);
        left.splice(left.indexOf(request), 1);
      }
    const people = new Set(
      group.flatMap((request) => [
        authorOf(request),
        ...song.requests.filter((each) => each.mergedInto === request.id).map(authorOf),
      ]),
    ).size;
    if (group.length > 1 && people > 1) found.push({ requestIds: group.map(({ id }) => id), people });
  }
  return found;
}
