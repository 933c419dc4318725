import type { CommandOf } from '../domain/command.ts';
import {
  type Contract,
  includedRounds,
  type RoundGate,
  roundFeeClause,
  roundFeeMinorUnits,
} from '../domain/contract.ts';
import type { WrittenRequest } from '../domain/ledger-entry.ts';
import { formatMoney } from '../domain/money.ts';
import type { Range } from '../domain/note.ts';
import { isClient, type Person } from '../domain/person.ts';
import {
  countedRounds,
  countingRequests,
  currentGate,
  notesDueAt,
  type RecordState,
  type Song,
} from '../domain/record.ts';
import type { Level } from '../domain/request-kind.ts';
import type { Round } from '../domain/round.ts';
import { defaultScopeSheet } from '../domain/scope-sheet.ts';
import { type Clarification, type SortedNote, sortNote } from '../triage/sort-note.ts';
import { compareRequests } from '../triage/text-comparison.ts';
import { placedIn } from './request-span.ts';
import { sectionSpans } from './section-spans.ts';
import type { StudioExamples, TaughtExample } from './studio-examples.ts';

const usualScopeSheet = defaultScopeSheet();
const scopeSheetOf = (contract: Contract | null) => contract?.terms.scopeSheet ?? usualScopeSheet;

/**
 * Sorts a note's words into requests by the contract's scope sheet, what is known of the song, and what this studio
 * has taught the sorting.
 */
export function sortForSong(
  record: RecordState,
  song: Song,
  text: string,
  range: Range | null,
  taught: StudioExamples | null,
): SortedNote {
  const { tempoBpm, beatsPerBar } = song.sectionMap;
  const scopeSheet = scopeSheetOf(record.contract);
  const examples = taught?.under(scopeSheet) ?? [];
  const sorted = sortNote(text, {
    scopeSheet,
    parts: song.parts,
    sections: sectionSpans(song.sectionMap),
    tempoBpm,
    beatsPerBar,
    at: range,
    examples,
  });
  const foreign = examples.filter(
    (example) => example.recordId !== record.id && !text.includes(example.text),
  );
  return foreign.length ? withoutWordsOf(foreign, sorted) : sorted;
}

/** Why a request was sorted so may quote an example; the words of another record's people stay with them. */
function withoutWordsOf(foreign: readonly TaughtExample[], sorted: SortedNote): SortedNote {
  const cleared = (why: string) =>
    foreign.reduce((words, { text }) => words.replaceAll(`“${text}”`, 'such a request'), why);
  return {
    ...sorted,
    why: cleared(sorted.why),
    requests: sorted.requests.map((request) => ({ ...request, why: cleared(request.why) })),
  };
}

/** What the author is asked where the words don't decide; what the song's list of parts answers already isn't asked. */
export function questionOf(song: Song, { clarification, requests }: SortedNote): Clarification | null {
  if (!clarification) return null;
  const named = (name: string, words: string) => words.toLowerCase().includes(name.trim().toLowerCase());
  const { part, vague, requestIndex } = clarification;
  const wish = requests[requestIndex]?.text ?? '';
  const answered = song.parts.some(({ name }) =>
    part === null ? vague && named(name, wish) : name.trim().toLowerCase() === part.toLowerCase(),
  );
  return answered ? null : clarification;
}

/** A note that is being written: who writes it and when. */
export interface Author {
  person: Person;
  at: string;
}

const levelName: Record<RoundGate, string> = { mix: 'Mix', master: 'Mastering' };

/** Where so many new requests stand among the points of the list that they go on, and how many are too many. */
function pointsWords(record: RecordState, song: Song, gate: RoundGate, cap: number, added: number): string {
  const rounds = song.rounds.filter((round) => round.gate === gate);
  const open = rounds.find((round) => round.status === 'open');
  const list: Round = open ?? { gate, number: rounds.length + 1, status: 'open', declined: null };
  const before = countingRequests(record, song, list).length;
  const points = before + added;
  const place = added === 1 ? `Point ${points}` : `Points ${before + 1} to ${points}`;
  return points > cap
    ? `${place}, over the contract's cap of ${cap} by ${points - cap}: leave some out.`
    : `${place} of ${cap} in this round.`;
}

/** What requests that count at a gate mean for its rounds: which one of how many, how many points, and the fee. */
function roundWords(record: RecordState, song: Song, gate: RoundGate, added: number, author: Author): string {
  const terms = record.contract?.terms;
  const name = levelName[gate];
  if (!isClient(author.person))
    return `${name}: goes on this round's list; only what the client asks for counts.`;
  if (!terms) return `${name}: belongs to this round.`;
  const position = countedRounds(record, song, gate) + 1;
  const included = includedRounds(terms, gate);
  const due = notesDueAt(song, gate, terms);
  const late = due !== null && Date.parse(author.at) > Date.parse(due);
  const fee = formatMoney({ minorUnits: roundFeeMinorUnits(terms.roundFee), currency: terms.currency });
  const beyond = `${terms.roundFee.basis === 'hourly' ? 'at least ' : ''}${fee} (${roundFeeClause(terms)})`;
  const left = included - position;
  const round = late
    ? `${name}: the days for notes have run out, so this round goes beyond the contract, ${beyond}.`
    : left < 0
      ? `${name}: belongs to this round, which goes beyond the contract, ${beyond}.`
      : `${name}: belongs to this round (${position} of ${included}, ${left === 0 ? 'the last' : `${left} left after it`}).`;
  return terms.pointsCap === null
    ? round
    : `${round} ${pointsWords(record, song, gate, terms.pointsCap, added)}`;
}

/** What the proposed levels mean for the round, for time and for money, in few sentences. */
export function meaningOf(record: RecordState, song: Song, levels: readonly Level[], author: Author): string {
  const terms = record.contract?.terms;
  const has = (level: Level) => levels.includes(level);
  const count = (level: Level) => levels.filter((each) => each === level).length;
  if (!levels.length || levels.every((level) => level === 'none'))
    return 'No request: it is read and answered, and counts nowhere.';
  const gate = currentGate(song);
  const sentences: string[] = [];
  if (gate === 'mix' && has('mix')) sentences.push(roundWords(record, song, 'mix', count('mix'), author));
  else if (has('mix') && (gate === 'master' || gate === null))
    sentences.push(
      'Mix: the mix is signed; this is taken, stamped “after approval”, and priced before any work.',
    );
  else if (has('mix')) sentences.push('Mix: kept for the mix.');
  if (has('production')) {
    const rate = terms
      ? ` (${formatMoney({ minorUnits: terms.productionRateMinorUnits, currency: terms.currency })} an hour)`
      : '';
    sentences.push(
      gate === 'production'
        ? 'Production: still open, so the producer takes it up.'
        : `Production: breaks the production lock. The producer declines it or prices it${rate}; it counts in no mix round.`,
    );
  }
  if (has('mastering'))
    sentences.push(
      gate === 'master'
        ? roundWords(record, song, 'master', count('mastering'), author)
        : 'Mastering: parked on the mastering brief; it counts in no mix round.',
    );
  return sentences.join(' ');
}

/** The requests of a note as they go on the ledger, with the author's own choice of level where there is one. */
function writtenRequests(
  sorted: SortedNote,
  range: Range | null,
  chosen: readonly (Level | null)[],
  newId: () => string,
): WrittenRequest[] {
  return sorted.requests.map((request, index) => ({
    id: newId(),
    text: request.text,
    kind: request.kind,
    target: request.target,
    direction: request.direction,
    place: request.place,
    range: request.range ?? range,
    grey: request.grey,
    why: request.why,
    proposedLevel: request.level,
    level: chosen[index] ?? request.level,
  }));
}

/** The contradictions between new requests and those of other people on the same list. */
function contradictionsWith(
  song: Song,
  author: string,
  written: readonly WrittenRequest[],
): { requestId: string; otherRequestId: string; why: string }[] {
  const standing = song.requests.filter((request) => {
    const note = song.notes.find((each) => each.id === request.noteId);
    const round = song.rounds.find(
      (each) => each.gate === note?.round?.gate && each.number === note.round.number,
    );
    return (
      note !== undefined &&
      note.by !== author &&
      !note.withdrawn &&
      note.round !== null &&
      (round === undefined || round.status === 'open') &&
      !request.leftOut &&
      request.mergedInto === null &&
      request.level !== 'none'
    );
  });
  return written
    .filter((request) => request.level !== 'none')
    .flatMap((request) =>
      standing.flatMap((other) => {
        const found = compareRequests(placedIn(song, other), placedIn(song, request));
        return found.conflict ? [{ requestId: request.id, otherRequestId: other.id, why: found.why }] : [];
      }),
    );
}

/** What somebody wrote, before it is sorted. */
export interface Writing {
  noteId: string;
  versionId: string;
  range: Range | null;
  text: string;
  heardOn: string | null;
  /** The author's own choice of level for each proposed request; `null` leaves it as proposed. */
  levels: (Level | null)[];
}

/** The command that puts a note on the ledger: sorted, with the contradictions that it makes on the open list. */
export function noteCommand(
  record: RecordState,
  song: Song,
  author: string,
  { levels, ...note }: Writing,
  newId: () => string,
  taught: StudioExamples | null = null,
): CommandOf<'writeNote'> {
  const sorted = sortForSong(record, song, note.text, note.range, taught);
  const requests = writtenRequests(sorted, note.range, levels, newId);
  return {
    type: 'writeNote',
    song: song.id,
    ...note,
    protections: sorted.protections.map((each) => each.text),
    requests,
    contradictions: contradictionsWith(song, author, requests),
  };
}
