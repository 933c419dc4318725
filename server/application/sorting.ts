import type { CommandOf } from '../domain/command.ts';
import type { Contract } from '../domain/contract.ts';
import type { WrittenRequest } from '../domain/ledger-entry.ts';
import { formatMoney } from '../domain/money.ts';
import type { Range } from '../domain/note.ts';
import { countedRounds, currentGate, type RecordState, type Song } from '../domain/record.ts';
import type { Level } from '../domain/request-kind.ts';
import { defaultScopeSheet } from '../domain/scope-sheet.ts';
import { findContradiction } from '../triage/contradiction.ts';
import { askingThreshold, type SortedNote, sortNote } from '../triage/sort-note.ts';
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

/** A question to the author of a note that is being written. */
export interface NoteQuestion {
  words: string;
  /** The part that it is about: whether that is in the recording already, which goes on the song's list of parts. */
  part: string | null;
}

const asksForPart = /^(?:Is|Are) there .+ in the recording already\?$/u;

/** What the author is asked where the words don't decide; what the list of parts answers already isn't asked. */
export function questionOf(song: Song, { question, requests }: SortedNote): NoteQuestion | null {
  if (question === null) return null;
  const unsure = requests.find((request) => request.confidence < askingThreshold);
  const part = asksForPart.test(question) ? (unsure?.target ?? null) : null;
  if (part === null || part === 'whole mix' || !question.includes(part))
    return { words: question, part: null };
  const listed = song.parts.some((each) => each.name.trim().toLowerCase() === part.toLowerCase());
  return listed ? null : { words: question, part };
}

/** What the proposed levels mean for the round, for time and for money, in one sentence. */
export function meaningOf(record: RecordState, song: Song, levels: readonly Level[]): string {
  const terms = record.contract?.terms;
  const has = (level: Level) => levels.includes(level);
  if (!levels.length || levels.every((level) => level === 'none'))
    return 'No request: it is read and answered, and counts nowhere.';
  const gate = currentGate(song);
  const sentences: string[] = [];
  if (gate === 'mix' && song.gates.mix.status === 'open' && has('mix')) {
    const counted = countedRounds(record, song, 'mix');
    const included = terms?.includedMixRounds ?? 0;
    sentences.push(
      counted < included
        ? `Mix: belongs to this round (${counted + 1} of ${included}).`
        : 'Mix: belongs to this round, which goes beyond the contract; the fee is shown before it is sent.',
    );
  } else if (has('mix') && (gate === 'master' || gate === null))
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
        ? 'Mastering: belongs to this round.'
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
        const found = findContradiction(placedIn(song, other), placedIn(song, request));
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
