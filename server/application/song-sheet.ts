import type { LockBreak } from '../domain/change-order.ts';
import type { CommandType } from '../domain/command.ts';
import type { ContractTerms, Gate, RoundGate } from '../domain/contract.ts';
import { gates, includedRounds, roundFeeClause } from '../domain/contract.ts';
import { formatMoney } from '../domain/money.ts';
import type { Contradiction, Note, Range, Request } from '../domain/note.ts';
import type { Person, PersonId, Role } from '../domain/person.ts';
import {
  beyondContractMinorUnits,
  type Charge,
  charges,
  countedRounds,
  countingRequests,
  currentGate,
  forecastRound,
  masteringBrief,
  mergedWith,
  newestVersion,
  notesDueAt,
  type Part,
  type ProductionLock,
  productionLock,
  type RecordState,
  rolesOf,
  roundStandings,
  type Song,
  standingRequests,
  unsettledContradictions,
} from '../domain/record.ts';
import { reopeningPrice } from '../domain/reopening-price.ts';
import { isSent } from '../domain/round.ts';
import type { SectionMap } from '../domain/section.ts';
import { stemsOf } from '../domain/stem.ts';
import type { Version, VersionWarning } from '../domain/version.ts';
import { type Agreement, agreements } from './agreement.ts';
import { entitlements } from './entitlements.ts';
import { type Turn, turnOf } from './turn.ts';

/** How far a version's measurement has come, and the few figures that every page shows. */
export interface AnalysisState {
  state: 'waiting' | 'running' | 'ready' | 'failed';
  /** 0 to 1. */
  progress: number;
  /** Why it failed, in plain words. */
  message: string | null;
  integratedLoudnessLufs: number | null;
  truePeakDbtp: number | null;
  /** How the listening copy relates to the file: the original itself, lossless, or declared. */
  listening: string | null;
}

export interface PersonName {
  id: PersonId;
  name: string;
}

export interface SignatureView {
  person: PersonName;
  versionId: string;
  versionName: string;
  sha256: string;
  at: string;
  statement: string;
}

export interface GateView {
  status: 'open' | 'closed';
  versionId: string | null;
  versionName: string | null;
  sha256: string | null;
  closedAt: string | null;
  signatures: SignatureView[];
  /** Required people who have not signed the newest file. */
  missing: PersonName[];
  /** Said when the required people signed different files. */
  disagreement: string | null;
  reopened: number;
  reopening: { reason: string; by: PersonName; feeMinorUnits: number; feeClause: string } | null;
  reopeningPrice: { feeMinorUnits: number; clause: string };
}

export interface VersionView extends Omit<Version, 'postedBy' | 'warnings'> {
  postedBy: PersonName;
  warnings: { code: VersionWarning; words: string }[];
  /** The newest at its gate. */
  newest: boolean;
  /** What its stems are called, where it has any; their files are for the engineer’s side alone. */
  stems: { names: string[]; at: string; by: PersonName } | null;
  analysis: AnalysisState;
}

export interface RequestView extends Request {
  author: PersonName;
  versionId: string;
  /** The decisions with names, for the record behind a tap. */
  decisionNames: string[];
  lockBreakStatus: LockBreak['status'] | null;
  /** What was made one with it, in the words of their authors. */
  merged: { id: string; text: string; author: PersonName; noteId: string; range: Range | null }[];
  /** The author of the request that stands for this one, where it was made one with that. */
  standsWith: PersonName | null;
}

export interface NoteView extends Omit<Note, 'by' | 'replies'> {
  by: PersonName;
  mine: boolean;
  versionName: string;
  /** Sent, so that it stays as it is. */
  sent: boolean;
  replies: { by: PersonName; at: string; text: string }[];
  requests: RequestView[];
}

export interface RoundView {
  gate: RoundGate;
  number: number;
  status: 'open' | 'sent' | 'answered';
  counts: boolean;
  position: number | null;
  beyond: boolean;
  late: boolean;
  waitsForGoAhead: boolean;
  /** Paid by the hour, and the engineer has not quoted the hours: there is no fee yet to say yes to. */
  waitsForQuote: boolean;
  feeMinorUnits: number | null;
  feeClause: string | null;
  sentAt: string | null;
  sentBy: PersonName | null;
  versionName: string | null;
  versionId: string | null;
  /** The version that answered it; the one it was sent on where nothing asked for another. */
  answeredBy: string | null;
  goAhead: { by: PersonName; at: string } | null;
  declined: { by: PersonName; reason: string } | null;
  requestIds: string[];
}

/** The list that is being gathered now, and what sending it would mean. */
export interface OpenRoundView {
  gate: RoundGate;
  number: number;
  requestIds: string[];
  counts: boolean;
  position: number;
  includedRounds: number;
  beyond: boolean;
  late: boolean;
  feeMinorUnits: number;
  feeClause: string;
  contradictions: Contradiction[];
  /** The same wish of several people, which the spokesperson may make one request of. */
  agreements: Agreement[];
  /** Requests on this list that look like one wish and were said to be two. */
  keptApart: { requestIds: [string, string]; by: PersonName }[];
  pointsCap: number | null;
  points: number;
  declined: { by: PersonName; reason: string } | null;
  /** What sending would mean, in one sentence. */
  words: string;
}

export type LockBreakView = LockBreak & {
  request: RequestView | null;
  /** When the payer accepted; for the page's own use. */
  amountMinorUnits: number | null;
};

export interface Reader {
  person: PersonName;
  roles: Role[];
  owner: boolean;
  payer: boolean;
  /** Gates at which the contract asks for this person's signature. */
  signs: Gate[];
  /** Commands that this person is entitled to give, whatever the state. */
  may: CommandType[];
}

/** Everything that a song's pages show one reader, from the ledger alone. */
export interface SongSheet {
  record: { id: string; title: string; act: string; sequence: number };
  reader: Reader;
  people: (PersonName & { roles: Role[] })[];
  song: { id: string; title: string; sectionMap: SectionMap; parts: Part[] };
  gate: Gate | null;
  lock: ProductionLock;
  gates: Record<Gate, GateView>;
  /** What is new and whose turn it is, in one sentence. */
  turn: Turn;
  notesDueAt: string | null;
  versions: VersionView[];
  notes: NoteView[];
  rounds: RoundView[];
  openRound: OpenRoundView | null;
  /** Rounds that count at the current gate, of the included ones. */
  counted: { gate: RoundGate; rounds: number; included: number } | null;
  contradictions: Contradiction[];
  lockBreaks: LockBreakView[];
  brief: RequestView[];
  charges: Charge[];
  beyondContractMinorUnits: number;
  currency: string;
  /** The clauses that the pages quote; `null` while there is no contract. */
  clauses: { roundFee: string; productionRateMinorUnits: number; noteDays: number; agreed: boolean } | null;
}

export const warningWords: Record<VersionWarning, string> = {
  mono: 'The file is mono; the page says so, and nothing is changed.',
  sample_rate_differs: 'The sample rate differs from the version before.',
  length_differs: 'The length differs from the version before: the form may have changed.',
  bit_depth_differs: 'The word length differs from the version before.',
  clipped: 'There are runs of full-scale samples: possible clipping, or the style.',
};

export function nameOf(record: RecordState, id: PersonId): PersonName {
  return { id, name: record.people[id]?.name ?? 'somebody no longer on the record' };
}

export function readerOf(record: RecordState, person: Person): Reader {
  const terms = record.contract?.terms;
  return {
    person: { id: person.id, name: person.name },
    roles: rolesOf(record, person),
    owner: person.owner,
    payer: terms?.payer === person.id,
    signs: gates.filter((gate) => terms?.signers[gate].includes(person.id)),
    may: entitlements(record, person),
  };
}

export function gateView(record: RecordState, song: Song, gate: Gate): GateView {
  const state = song.gates[gate];
  const versionName = (id: string) => song.versions.find((version) => version.id === id)?.name ?? 'a version';
  const newest = newestVersion(song, gate);
  const signers = record.contract?.terms.signers[gate] ?? [];
  const signed = new Map(state.signatures.map((signature) => [signature.personId, signature]));
  const files = new Set(state.signatures.map((signature) => signature.sha256));
  const price = gate === 'production' ? { feeMinorUnits: 0, clause: '' } : reopeningPrice(record, song, gate);
  const closed = state.status === 'closed' ? state : null;
  return {
    status: state.status,
    versionId: closed?.versionId ?? null,
    versionName: closed ? versionName(closed.versionId) : null,
    sha256: closed?.sha256 ?? null,
    closedAt: closed?.closedAt ?? null,
    signatures: state.signatures.map(({ personId, ...signature }) => ({
      ...signature,
      person: nameOf(record, personId),
      versionName: versionName(signature.versionId),
    })),
    missing: signers
      .filter((id) => newest && signed.get(id)?.versionId !== newest.id)
      .map((id) => nameOf(record, id)),
    disagreement:
      state.status === 'open' && files.size > 1
        ? `${state.signatures
            .map(
              ({ personId, versionId }) =>
                `${nameOf(record, personId).name} signed ${versionName(versionId)}`,
            )
            .join(', ')}: different files, so the gate stays open until the same one is signed.`
        : null,
    reopened: state.reopened,
    reopening: closed?.reopening
      ? {
          reason: closed.reopening.reason,
          by: nameOf(record, closed.reopening.by),
          feeMinorUnits: closed.reopening.feeMinorUnits,
          feeClause: closed.reopening.feeClause,
        }
      : null,
    reopeningPrice: { feeMinorUnits: price.feeMinorUnits, clause: price.clause },
  };
}

/** What became of the request that stands for this one became of this one too. */
function asItStands(song: Song, request: Request): Request {
  const lead = song.requests.find((each) => each.id === request.mergedInto);
  if (!lead) return request;
  const { level, kind, leftOut, ownMistake, answer, parked, lockBreak } = lead;
  return { ...request, level, kind, leftOut, ownMistake, answer, parked, lockBreak };
}

function requestView(record: RecordState, song: Song, own: Request): RequestView {
  const authorOf = ({ noteId }: Request) =>
    nameOf(record, song.notes.find((each) => each.id === noteId)?.by ?? '');
  const request = asItStands(song, own);
  const lead = song.requests.find((each) => each.id === request.mergedInto);
  const note = song.notes.find((each) => each.id === request.noteId);
  const status = song.lockBreaks.find((each) => each.number === request.lockBreak)?.status ?? null;
  return {
    ...request,
    author: authorOf(request),
    versionId: note?.versionId ?? '',
    decisionNames: request.decisions.map(
      ({ level, how, by, reason }) =>
        `${level === 'none' ? 'no request' : level}: ${
          how === 'proposed'
            ? 'proposed from the words'
            : `${how === 'author' ? 'chosen' : 're-sorted'} by ${nameOf(record, by).name}`
        }${reason ? ` (${reason})` : ''}`,
    ),
    lockBreakStatus: status,
    merged: mergedWith(song, request.id).map((each) => ({
      id: each.id,
      text: each.text,
      author: authorOf(each),
      noteId: each.noteId,
      range: each.range,
    })),
    standsWith: lead ? authorOf(lead) : null,
  };
}

function noteView(record: RecordState, song: Song, note: Note, reader: PersonId): NoteView {
  const round = song.rounds.find(
    (each) => each.gate === note.round?.gate && each.number === note.round.number,
  );
  return {
    ...note,
    by: nameOf(record, note.by),
    mine: note.by === reader,
    versionName: song.versions.find((version) => version.id === note.versionId)?.name ?? '',
    sent: !note.round || (round !== undefined && round.status !== 'open'),
    replies: note.replies.map(({ by, at, text }) => ({ by: nameOf(record, by), at, text })),
    requests: song.requests
      .filter((request) => request.noteId === note.id)
      .map((request) => requestView(record, song, request)),
  };
}

function roundViews(record: RecordState, song: Song): RoundView[] {
  const name = (id: string) => song.versions.find((version) => version.id === id)?.name ?? null;
  return (['mix', 'master'] as const).flatMap((gate) =>
    roundStandings(record, song, gate).map(({ round, ...standing }): RoundView => {
      const sent = isSent(round) ? round : null;
      return {
        ...standing,
        gate,
        number: round.number,
        status: round.status,
        late: sent?.terms.late ?? false,
        waitsForQuote:
          standing.waitsForGoAhead && sent?.terms.fee.basis === 'hourly' && sent.quotedHours === null,
        feeMinorUnits: sent ? (sent.goAhead?.feeMinorUnits ?? sent.terms.feeMinorUnits) : null,
        feeClause: sent?.terms.feeClause ?? null,
        sentAt: sent?.sentAt ?? null,
        sentBy: sent ? nameOf(record, sent.sentBy) : null,
        versionId: sent?.versionId ?? null,
        versionName: sent ? name(sent.versionId) : null,
        answeredBy: round.status === 'answered' ? name(round.answeredBy ?? round.versionId) : null,
        goAhead: sent?.goAhead ? { by: nameOf(record, sent.goAhead.by), at: sent.goAhead.at } : null,
        declined:
          round.status === 'open' && round.declined
            ? { by: nameOf(record, round.declined.by), reason: round.declined.reason }
            : null,
        requestIds: sent?.requestIds ?? standingRequests(song, round).map((request) => request.id),
      };
    }),
  );
}

function stemsView(record: RecordState, song: Song, versionId: string): VersionView['stems'] {
  const attached = stemsOf(song, versionId);
  return (
    attached && {
      names: attached.stems.map(({ name }) => name),
      at: attached.at,
      by: nameOf(record, attached.by),
    }
  );
}

/** What sending would mean, as the spokesperson reads it. */
function forecastWords(
  { counts, position, beyond, feeMinorUnits, terms }: ReturnType<typeof forecastRound>,
  currency: string,
): string {
  if (!counts) return 'Sending this counts no round: it holds no request that the contract counts.';
  if (!beyond) return `Sending this is round ${position} of ${terms.includedRounds}.`;
  const fee = formatMoney({ minorUnits: feeMinorUnits, currency });
  return terms.late
    ? `The days for notes have run out, so this round is beyond the contract, ${fee} (${terms.feeClause}). It waits for the payer's go-ahead.`
    : `This is beyond the contract, ${fee} (${terms.feeClause}). It waits for the payer's go-ahead.`;
}

function openRoundView(
  record: RecordState,
  song: Song,
  gate: RoundGate,
  terms: ContractTerms,
  at: string,
): OpenRoundView | null {
  const round = song.rounds.find((each) => each.gate === gate && each.status === 'open');
  if (round?.status !== 'open') return null;
  const forecast = forecastRound(record, song, round, terms, at);
  const standing = standingRequests(song, round);
  return {
    gate,
    number: round.number,
    requestIds: standing.map((request) => request.id),
    counts: forecast.counts,
    position: forecast.position,
    includedRounds: includedRounds(terms, gate),
    beyond: forecast.beyond,
    late: forecast.terms.late,
    feeMinorUnits: forecast.feeMinorUnits,
    feeClause: forecast.terms.feeClause,
    contradictions: unsettledContradictions(song, round),
    agreements: agreements(song, round),
    keptApart: song.keptApart
      .filter(({ requestIds }) => requestIds.every((id) => standing.some((request) => request.id === id)))
      .map(({ requestIds, by }) => ({ requestIds, by: nameOf(record, by) })),
    pointsCap: terms.pointsCap,
    points: countingRequests(record, song, round).length,
    declined: round.declined
      ? { by: nameOf(record, round.declined.by), reason: round.declined.reason }
      : null,
    words: standing.some((request) => request.level !== 'none')
      ? forecastWords(forecast, terms.currency)
      : 'There is no request on this list yet.',
  };
}

/**
 * One song as one reader sees it at a moment: a pure fold of the ledger, with the state of the measurements put in.
 */
export function songSheet(
  record: RecordState,
  song: Song,
  person: Person,
  at: string,
  analysisOf: (version: Version) => AnalysisState,
): SongSheet {
  const terms = record.contract?.terms ?? null;
  const gate = currentGate(song);
  const roundGate: RoundGate = gate === 'master' || gate === null ? 'master' : 'mix';
  const view = (request: Request) => requestView(record, song, request);
  return {
    record: { id: record.id, title: record.title, act: record.act, sequence: record.sequence },
    reader: readerOf(record, person),
    people: Object.values(record.people).map((each) => ({
      id: each.id,
      name: each.name,
      roles: rolesOf(record, each),
    })),
    song: { id: song.id, title: song.title, sectionMap: song.sectionMap, parts: song.parts },
    gate,
    lock: productionLock(song),
    gates: {
      production: gateView(record, song, 'production'),
      mix: gateView(record, song, 'mix'),
      master: gateView(record, song, 'master'),
    },
    turn: turnOf(record, song, person),
    notesDueAt: gate && terms ? notesDueAt(song, gate, terms) : null,
    versions: song.versions.map(({ postedBy, warnings, ...version }) => ({
      ...version,
      postedBy: nameOf(record, postedBy),
      warnings: warnings.map((code) => ({ code, words: warningWords[code] })),
      newest: newestVersion(song, version.gate)?.id === version.id,
      stems: stemsView(record, song, version.id),
      analysis: analysisOf({ ...version, postedBy, warnings }),
    })),
    notes: song.notes
      .filter((note) => !note.withdrawn)
      .map((note) => noteView(record, song, note, person.id)),
    rounds: roundViews(record, song),
    openRound: terms ? openRoundView(record, song, roundGate, terms, at) : null,
    counted: terms
      ? {
          gate: roundGate,
          rounds: countedRounds(record, song, roundGate),
          included: includedRounds(terms, roundGate),
        }
      : null,
    contradictions: song.contradictions,
    lockBreaks: song.lockBreaks.map((each) => {
      const request = song.requests.find(({ id }) => id === each.requestId);
      return {
        ...each,
        request: request ? view(request) : null,
        amountMinorUnits: 'price' in each ? each.price.amountMinorUnits : null,
      };
    }),
    brief: masteringBrief(song).map(view),
    charges: charges(record, song),
    beyondContractMinorUnits: beyondContractMinorUnits(record, song),
    currency: terms?.currency ?? 'EUR',
    clauses: terms
      ? {
          roundFee: roundFeeClause(terms),
          productionRateMinorUnits: terms.productionRateMinorUnits,
          noteDays: terms.noteDays,
          agreed: record.contract?.status === 'agreed',
        }
      : null,
  };
}
