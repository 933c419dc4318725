import type { LockBreak } from './change-order.ts';
import { openChanges } from './change-order.ts';
import type { Contract, ContractTerms, Gate, RoundGate } from './contract.ts';
import { gates, includedRounds, roundFeeClause, roundFeeMinorUnits } from './contract.ts';
import type { Explanation } from './explanation.ts';
import type { GateState } from './gate.ts';
import type { Contradiction, KeptApart, Note, Request } from './note.ts';
import { isClient, type Person, type PersonId, type Role } from './person.ts';
import { countingLevel, isSent, type Round, type RoundTerms, type SentRound } from './round.ts';
import type { SectionMap } from './section.ts';
import type { AttachedStems } from './stem.ts';
import type { Version } from './version.ts';

export type SongId = string;

/** A charge beyond the contract that the payer has agreed to. */
export interface Charge {
  kind: 'round' | 'change' | 'reopening';
  words: string;
  clause: string;
  amountMinorUnits: number;
  agreedBy: PersonId;
  agreedAt: string;
}

/** A part that was delivered with the production, or that somebody said is not there. */
export interface Part {
  name: string;
  delivered: boolean;
}

/** The longest list of parts. */
export const mostParts = 300;

export interface Song {
  id: SongId;
  title: string;
  sectionMap: SectionMap;
  parts: Part[];
  gates: Record<Gate, GateState>;
  versions: Version[];
  /** In the order in which they were attached; see `stemsOf` for those that hold. */
  attachedStems: AttachedStems[];
  /** What was said about changes that nobody had asked for, in the order in which it was said. */
  explanations: Explanation[];
  notes: Note[];
  requests: Request[];
  contradictions: Contradiction[];
  /** Taken back by making them one. */
  keptApart: KeptApart[];
  rounds: Round[];
  lockBreaks: LockBreak[];
  /** Charges for reopening; those of rounds and changes follow from their own states. */
  reopeningCharges: Charge[];
  /** The end of the days for notes where the engineer granted more; by gate. */
  noteDaysUntil: Partial<Record<Gate, string>>;
}

/** An album, EP or single: the songs of one contract. The fold of its ledger. */
export interface RecordState {
  id: string;
  title: string;
  /** The act's name. */
  act: string;
  /** The last entry's place in the ledger. */
  sequence: number;
  people: Record<PersonId, Person>;
  contract: Contract | null;
  songs: Record<SongId, Song>;
  songOrder: SongId[];
  /** Personal links under their ids. */
  links: Record<string, { personId: PersonId; revoked: boolean }>;
  /** Everybody whose name stands on the ledger for something they did. */
  acted: PersonId[];
}

export function rolesOf(record: RecordState, person: Person): Role[] {
  const spokesperson = record.contract?.terms.spokesperson === person.id;
  return spokesperson ? [...person.roles, 'spokesperson'] : [...person.roles];
}

/** The gate at which a song stands: the first that is open, or `null` when all are closed. */
export function currentGate(song: Song): Gate | null {
  return gates.find((gate) => song.gates[gate].status === 'open') ?? null;
}

export type ProductionLock =
  | { status: 'open' }
  | { status: 'locked'; versionId: string; sha256: string }
  | { status: 'open for changes'; changes: number[]; sha256: string };

/** The production lock: the approved production is frozen, but for the changes that the payer accepted. */
export function productionLock(song: Song): ProductionLock {
  const gate = song.gates.production;
  if (gate.status === 'open') return { status: 'open' };
  const changes = openChanges(song.lockBreaks);
  return changes.length
    ? { status: 'open for changes', changes, sha256: gate.sha256 }
    : { status: 'locked', versionId: gate.versionId, sha256: gate.sha256 };
}

export function newestVersion(song: Song, gate: Gate): Version | null {
  return song.versions.filter((version) => version.gate === gate).at(-1) ?? null;
}

/**
 * Whether a note is on a list that is not sent, or waits for the next one: what its requests set off is set off when
 * that is sent. A note on no list (at the production gate, after approval) has it set off at once.
 */
export function isOnOpenList(song: Song, { round }: Pick<Note, 'round'>): boolean {
  if (!round) return false;
  return !song.rounds.some(
    (each) => each.gate === round.gate && each.number === round.number && each.status !== 'open',
  );
}

/** Whether a master was made from the mix that is signed now, not from one that was signed before a reopening. */
export function isOfSignedMix({ gates }: Song, { postedAt }: Version): boolean {
  return gates.mix.status === 'closed' && Date.parse(postedAt) >= Date.parse(gates.mix.closedAt);
}

export function requestsOfRound(song: Song, round: Round): Request[] {
  if (isSent(round)) {
    const ids = new Set(round.requestIds);
    return song.requests.filter((request) => ids.has(request.id));
  }
  const noteIds = new Set(
    song.notes
      .filter(
        (note) => note.round?.gate === round.gate && note.round.number === round.number && !note.withdrawn,
      )
      .map((note) => note.id),
  );
  return song.requests.filter((request) => noteIds.has(request.noteId));
}

/** The requests of an open round that would be sent: not withdrawn, not left out, each of those made one once. */
export function standingRequests(song: Song, round: Round): Request[] {
  return requestsOfRound(song, round).filter((request) => !request.leftOut && request.mergedInto === null);
}

/** The requests that were made one with this one, which stands for them. */
export function mergedWith(song: Song, requestId: string): Request[] {
  return song.requests.filter((request) => request.mergedInto === requestId);
}

/** The request that stands for one on the list: itself, or the one that it was made one with. */
export function standingFor(song: Song, requestId: string): string {
  return song.requests.find((request) => request.id === requestId)?.mergedInto ?? requestId;
}

/** Whether two requests, or those made one with them, were said to be two wishes. */
export function areKeptApart(song: Song, one: string, other: string): boolean {
  return song.keptApart.some(({ requestIds }) => {
    const standing = requestIds.map((id) => standingFor(song, id));
    return standing.includes(one) && standing.includes(other);
  });
}

/** Contradictions between two standing requests of a round that nobody has settled. */
export function unsettledContradictions(song: Song, round: Round): Contradiction[] {
  const standing = new Map(standingRequests(song, round).map((request) => [request.id, request]));
  return song.contradictions.filter(
    (each) =>
      !each.settled &&
      each.requestIds
        .map((id) => standingFor(song, id))
        .every((id) => standing.has(id) && standing.get(id)?.level !== 'none'),
  );
}

/** Requests that make a round count: of the gate's level, by the client, and no mistake of the engineer's. */
export function countingRequests(record: RecordState, song: Song, round: Round): Request[] {
  const byClient = (request: Request) => {
    const author = song.notes.find((note) => note.id === request.noteId)?.by;
    const person = author === undefined ? undefined : record.people[author];
    return person !== undefined && isClient(person);
  };
  return standingRequests(song, round).filter(
    (request) =>
      request.level === countingLevel[round.gate] &&
      !request.ownMistake &&
      [request, ...mergedWith(song, request.id)].some(byClient),
  );
}

/**
 * Whether a sent list still asks for a version: it holds a request of the gate's level that was not answered “not
 * done”. A list of parked wishes and lock breaks asks for none.
 */
export function awaitsVersion(song: Song, round: SentRound): boolean {
  return standingRequests(song, round).some(
    (request) => request.level === countingLevel[round.gate] && request.answer?.kind !== 'not done',
  );
}

/** How a sent round stands against the contract. */
export interface RoundStanding {
  round: Round;
  counts: boolean;
  /** Its place among the rounds that count, from 1; `null` where it doesn't count. */
  position: number | null;
  /** Counts, and goes beyond the included rounds or came after the days for notes. */
  beyond: boolean;
  /** Beyond, and the payer has not said yes. */
  waitsForGoAhead: boolean;
}

/**
 * Every round of a gate against the contract, in order. What counts follows from the requests as they stand now, so
 * an own mistake or a re-sorting is reflected at once; what was included follows from the terms under which each round
 * was sent. An answered round can leave the count, but neither join it nor go beyond the contract afterwards: the
 * payer was not asked.
 */
export function roundStandings(record: RecordState, song: Song, gate: RoundGate): RoundStanding[] {
  let counted = 0;
  return song.rounds
    .filter((round) => round.gate === gate)
    .map((round) => {
      const stood = round.status === 'answered' ? round.stood : null;
      const counts =
        isSent(round) && stood?.counts !== false && countingRequests(record, song, round).length > 0;
      if (!counts || !isSent(round))
        return { round, counts: false, position: null, beyond: false, waitsForGoAhead: false };
      counted += 1;
      const beyond = stood?.beyond !== false && (round.terms.late || counted > round.terms.includedRounds);
      return {
        round,
        counts,
        position: counted,
        beyond,
        waitsForGoAhead: beyond && round.status === 'sent' && !round.goAhead,
      };
    });
}

export function countedRounds(record: RecordState, song: Song, gate: RoundGate): number {
  return roundStandings(record, song, gate).filter((standing) => standing.counts).length;
}

/**
 * When the days for notes on the newest version of a gate run out: counted from its posting or from the gate's
 * reopening, or later where more days were granted; `null` before there is a version.
 */
export function notesDueAt(song: Song, gate: Gate, terms: ContractTerms): string | null {
  const newest = newestVersion(song, gate);
  if (!newest) return null;
  const state = song.gates[gate];
  const reopenedAt = state.status === 'open' && state.reopenedAt ? Date.parse(state.reopenedAt) : 0;
  const from = Math.max(Date.parse(newest.postedAt), reopenedAt);
  const granted = Date.parse(song.noteDaysUntil[gate] ?? '') || 0;
  return new Date(Math.max(from + terms.noteDays * 86_400_000, granted)).toISOString();
}

/** What sending the open round now would mean: whether it counts, its place, and what it costs. */
export interface RoundForecast {
  counts: boolean;
  position: number;
  beyond: boolean;
  feeMinorUnits: number;
  terms: RoundTerms;
}

export function forecastRound(
  record: RecordState,
  song: Song,
  round: Round,
  terms: ContractTerms,
  at: string,
): RoundForecast {
  const counts = countingRequests(record, song, round).length > 0;
  const position = countedRounds(record, song, round.gate) + (counts ? 1 : 0);
  const due = notesDueAt(song, round.gate, terms);
  const late = due !== null && Date.parse(at) > Date.parse(due);
  const included = includedRounds(terms, round.gate);
  const beyond = counts && (late || position > included);
  const fee = terms.roundFee;
  const feeMinorUnits = roundFeeMinorUnits(fee);
  return {
    counts,
    position,
    beyond,
    feeMinorUnits: beyond ? feeMinorUnits : 0,
    terms: { includedRounds: included, feeMinorUnits, feeClause: roundFeeClause(terms), fee, late },
  };
}

/** Every charge beyond the contract that the payer has agreed to, in the order of agreement. */
export function charges(record: RecordState, song: Song): Charge[] {
  const found: Charge[] = [...song.reopeningCharges];
  for (const gate of ['mix', 'master'] as const)
    for (const { round, beyond } of roundStandings(record, song, gate))
      if (beyond && isSent(round) && round.goAhead)
        found.push({
          kind: 'round',
          words: `${gate === 'mix' ? 'Mix' : 'Master'} round ${round.number}`,
          clause: round.terms.feeClause,
          amountMinorUnits: round.goAhead.feeMinorUnits,
          agreedBy: round.goAhead.by,
          agreedAt: round.goAhead.at,
        });
  for (const each of song.lockBreaks)
    if (each.status === 'accepted' || each.status === 'delivered')
      found.push({
        kind: 'change',
        words: `Change order ${each.number}: ${each.price.words}`,
        clause: 'production changes by the hour',
        amountMinorUnits: each.price.amountMinorUnits,
        agreedBy: each.acceptedBy,
        agreedAt: each.acceptedAt,
      });
  return found.sort((a, b) => a.agreedAt.localeCompare(b.agreedAt));
}

export function beyondContractMinorUnits(record: RecordState, song: Song): number {
  return charges(record, song).reduce((sum, charge) => sum + charge.amountMinorUnits, 0);
}

/** Mastering-level requests kept for the master gate: the mastering brief. */
export function masteringBrief(song: Song): Request[] {
  return song.requests.filter((request) => request.parked);
}
