import type { Gate } from '../domain/contract.ts';
import type { Answer, Range, Request } from '../domain/note.ts';
import type { Person } from '../domain/person.ts';
import { mergedWith, type RecordState, requestsOfRound, type Song } from '../domain/record.ts';
import type { Direction, RequestKind } from '../domain/request-kind.ts';
import type { SentRound } from '../domain/round.ts';
import type { Version } from '../domain/version.ts';
import type { Comparison } from '../measurement/comparison.ts';
import type { StemComparison } from '../measurement/stem-comparison.ts';
import { type ComparedFiles, movePlace, stepsBetween } from '../measurement/timeline-position.ts';
import { clockTime } from './clock-time.ts';
import { postsAt } from './entitlements.ts';
import { type AskedPlace, askedPlace, type Stretch } from './request-place.ts';
import { type RequestVerdict, requestVerdict, verdictOverPlaces } from './request-verdict.ts';
import { nameOf, type PersonName } from './song-sheet.ts';
import { explanationOf, type UnaskedChange, unaskedChanges } from './unasked-change.ts';

/** One request beside what was measured. */
export interface AskedView {
  requestId: string;
  text: string;
  author: PersonName;
  /** What was made one with it, in the words of their authors; the verdict is on all of their places. */
  merged: { text: string; author: PersonName }[];
  kind: RequestKind;
  target: string | null;
  direction: Direction | null;
  /** The round that it stood in; `null` at the production gate, which counts none. */
  round: { gate: Gate; number: number } | null;
  answer: Answer['kind'] | null;
  verdict: RequestVerdict;
  figure: string;
  /** Where it is in the newer version; empty where it is about the whole song or its place is gone. */
  where: string;
  /** From where to play it, in seconds of the newer version. */
  playSeconds: number;
}

/** A change that nobody asked for, with what the engineer says about it. */
export interface UnaskedView extends UnaskedChange {
  explanation: { text: string; by: PersonName; at: string } | null;
}

/** What was asked between two versions, and what changed beside it. */
export interface AskedAndChanged {
  olderVersionId: string;
  newerVersionId: string;
  /** The rounds that the newer version answers, and those before it since the older one. */
  rounds: { gate: Gate; number: number }[];
  /**
   * Whether anything could be asked for: a round was answered, or notes stood at the production gate. Where none could,
   * as with the first version of a gate, changes are listed and need no explanation.
   */
  answersList: boolean;
  asked: AskedView[];
  /** Empty while the two can't be compared. */
  unasked: UnaskedView[];
  /** Why they can't be compared. */
  fault: string | null;
  /** Whether stems have had their say: `pending` while they are compared, `null` where neither version has any. */
  stems: 'told' | 'pending' | 'failed' | null;
  /** Whether the reader may explain a change at the gate of the newer version. */
  mayExplain: boolean;
}

/** The rounds that were answered after one version, up to and with another. */
export function roundsBetween(song: Song, older: Version, newer: Version): SentRound[] {
  const from = song.versions.indexOf(older);
  const to = song.versions.indexOf(newer);
  return song.rounds.filter((round): round is SentRound => {
    if (round.status !== 'answered' || round.answeredBy === null) return false;
    const at = song.versions.findIndex((version) => version.id === round.answeredBy);
    return at > from && at <= to;
  });
}

/** Notes at the production gate count no rounds: those on the versions from the older one on are what was asked. */
function productionRequests(song: Song, older: Version, newer: Version): Request[] {
  if (newer.gate !== 'production') return [];
  const from = song.versions.indexOf(older);
  const to = song.versions.includes(newer) ? song.versions.indexOf(newer) : song.versions.length;
  const heard = new Set(song.versions.slice(Math.max(0, from), to).map(({ id }) => id));
  const notes = new Set(
    song.notes
      .filter((note) => note.gate === 'production' && !note.withdrawn && heard.has(note.versionId))
      .map(({ id }) => id),
  );
  return song.requests.filter((request) => notes.has(request.noteId));
}

/** What the new version was to answer: no talk, nothing parked, and of the production only what was delivered. */
function isForVersion(song: Song, request: Request): boolean {
  if (request.level === 'none' || request.leftOut || request.parked) return false;
  if (request.lockBreak === null) return true;
  return song.lockBreaks.some(
    ({ number, status }) =>
      number === request.lockBreak && (status === 'delivered' || status === 'withdrawn'),
  );
}

export interface AskedBetween {
  record: RecordState;
  song: Song;
  reader: Person;
  older: Version;
  /** Posted, or about to be. */
  newer: Version;
  rounds: readonly SentRound[];
  /** `null` where the two can't be compared; `fault` says why. */
  comparison: Comparison | null;
  fault: string | null;
  /** What the stems tell; how far that has come where they don't yet. */
  stems?: StemComparison | 'pending' | 'failed' | null;
  /** What else is compared among the song's files, for places of notes on versions before the older one. */
  compared: readonly ComparedFiles[];
}

/** A moment before a stretch, so that the ear comes in before what changed. */
const leadInSeconds = 1;

/**
 * Holds what was asked against what was measured between two versions: each request with its verdict and figure, and
 * what changed that no request covers. Pure.
 */
export function askedAndChanged(given: AskedBetween): AskedAndChanged {
  const { record, song, reader, older, newer, rounds, comparison, fault } = given;
  const stems = typeof given.stems === 'object' ? given.stems : null;
  const compared: ComparedFiles[] = comparison
    ? [
        { older: older.file.sha256, newer: newer.file.sha256, pieces: comparison.alignment.pieces },
        ...given.compared,
      ]
    : [...given.compared];
  const roundOf = new Map<string, SentRound>();
  for (const round of rounds) for (const { id } of requestsOfRound(song, round)) roundOf.set(id, round);
  const requests = [
    ...song.requests.filter(({ id }) => roundOf.has(id)),
    ...productionRequests(song, older, newer),
  ].filter((request) => isForVersion(song, request));
  const authorOf = ({ noteId }: Request) =>
    nameOf(record, song.notes.find(({ id }) => id === noteId)?.by ?? '');
  const place = (request: Request) =>
    comparison ? placeIn(song, request, newer, compared, comparison) : nowhere;
  const meant = requests.map((request): Meant => {
    const merged = mergedWith(song, request.id);
    return { request, merged, places: [place(request), ...merged.map(place)] };
  });
  const placed = meant.flatMap(({ request, places }) => places.map((each) => ({ request, place: each })));
  const asked = meant.map(({ request, merged, places }): AskedView => {
    const rivals = placed.filter((other) => other.request !== request);
    const verdictAt = (each: AskedPlace) => requestVerdict(request, each, comparison, rivals, fault, stems);
    const [first, ...rest] = places;
    const { verdict, figure } = verdictOverPlaces([verdictAt(first), ...rest.map(verdictAt)]);
    const round = roundOf.get(request.id);
    const stretch = comparison && stretchOf(first, comparison);
    return {
      requestId: request.id,
      text: request.text,
      author: authorOf(request),
      merged: merged.map((each) => ({ text: each.text, author: authorOf(each) })),
      kind: request.kind,
      target: request.target,
      direction: request.direction,
      round: round ? { gate: round.gate, number: round.number } : null,
      answer: request.answer?.kind ?? null,
      verdict,
      figure,
      where: comparison ? whereOfAll(places, comparison) : (request.place ?? ''),
      playSeconds: Math.max(0, (stretch?.startSeconds ?? 0) - leadInSeconds),
    };
  });
  const said = song.explanations.filter(
    (each) => each.olderVersionId === older.id && each.newerVersionId === newer.id,
  );
  return {
    olderVersionId: older.id,
    newerVersionId: newer.id,
    rounds: rounds.map(({ gate, number }) => ({ gate, number })),
    answersList: rounds.length > 0 || productionRequests(song, older, newer).length > 0,
    asked,
    unasked: comparison
      ? unaskedChanges(comparison, placed, stems).map((change): UnaskedView => {
          const explanation = explanationOf(change, said);
          return {
            ...change,
            explanation: explanation && {
              text: explanation.text,
              by: nameOf(record, explanation.by),
              at: explanation.at,
            },
          };
        })
      : [],
    fault,
    stems: typeof given.stems === 'string' ? given.stems : stems && 'told',
    mayExplain: postsAt(record, reader, newer.gate),
  };
}

/** A request with those that were made one with it, and where each of their authors means it; its own place first. */
interface Meant {
  request: Request;
  merged: Request[];
  places: [AskedPlace, ...AskedPlace[]];
}

const nowhere: AskedPlace = { sections: [], narrower: null, named: true, left: 'unknown' };

function placeIn(
  song: Song,
  request: Request,
  newer: Version,
  compared: readonly ComparedFiles[],
  comparison: Comparison,
): AskedPlace {
  const note = song.notes.find(({ id }) => id === request.noteId);
  const heard = song.versions.find(({ id }) => id === note?.versionId);
  const steps = heard ? stepsBetween(heard.file.sha256, newer.file.sha256, compared) : null;
  const range: Range | null = spotOf(note?.range ?? null, request.range);
  const moved = range && steps ? movePlace(range, steps) : null;
  return askedPlace({ place: request.place, range }, moved, comparison.sections);
}

/** The words say where, and the pin says it closer: where it lies inside what the words name, it is the spot. */
function spotOf(pinned: Range | null, worded: Range | null): Range | null {
  if (!pinned || !worded || worded.endSeconds === null) return worded ?? pinned;
  const end = pinned.endSeconds ?? pinned.startSeconds;
  return pinned.startSeconds >= worded.startSeconds && end <= worded.endSeconds ? pinned : worded;
}

function stretchOf({ narrower, sections }: AskedPlace, comparison: Comparison): Stretch | null {
  const first = comparison.sections[sections[0] ?? -1];
  return narrower ?? (first ? { startSeconds: first.start, endSeconds: first.end } : null);
}

function whereOf({ named, sections, narrower }: AskedPlace, comparison: Comparison): string {
  if (!named) return '';
  const names = sections.map((index) => comparison.sections[index]!.name);
  if (narrower) {
    return `${names[0]}, ${clockTime(narrower.startSeconds)}–${clockTime(narrower.endSeconds)}`;
  }
  return names.length > 2 ? `${names[0]} to ${names.at(-1)}` : names.join(' and ');
}

function whereOfAll(places: readonly AskedPlace[], comparison: Comparison): string {
  const names = places.map((place) => whereOf(place, comparison)).filter(Boolean);
  return [...new Set(names)].join(', ');
}
