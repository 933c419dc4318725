import type { Contract, Gate } from '../domain/contract.ts';
import { gates, includedRounds } from '../domain/contract.ts';
import type { Person, PersonId, Role } from '../domain/person.ts';
import {
  beyondContractMinorUnits,
  countedRounds,
  currentGate,
  newestVersion,
  type ProductionLock,
  productionLock,
  type RecordState,
  rolesOf,
  roundStandings,
  type Song,
} from '../domain/record.ts';
import { isSent } from '../domain/round.ts';
import { type GateView, gateView, nameOf, type PersonName, type Reader, readerOf } from './song-sheet.ts';
import { type Turn, turnOf } from './turn.ts';

/** One song as one line of the record. */
export interface SongLine {
  id: string;
  title: string;
  gate: Gate | null;
  gates: Record<Gate, GateView>;
  lock: ProductionLock;
  newest: { id: string; name: string; postedAt: string; sha256: string } | null;
  counted: { rounds: number; included: number } | null;
  openRequests: number;
  openChanges: number;
  waitsForGoAhead: { number: number; feeMinorUnits: number } | null;
  beyondContractMinorUnits: number;
  turn: Turn;
  turnNames: PersonName[];
}

/** Everything that the pages of a record show one reader. */
export interface RecordSheet {
  record: { id: string; title: string; act: string; sequence: number; demo: boolean };
  reader: Reader;
  people: (Omit<Person, 'roles'> & { roles: Role[]; given: Person['roles'] })[];
  contract: Contract | null;
  currency: string;
  songs: SongLine[];
  beyondContractMinorUnits: number;
  sentence: string;
}

function openRequests(song: Song): number {
  const sent = new Set(song.rounds.flatMap((round) => (round.status === 'sent' ? round.requestIds : [])));
  return song.requests.filter(
    (request) =>
      sent.has(request.id) &&
      request.level !== 'none' &&
      !request.answer &&
      !request.parked &&
      !request.lockBreak,
  ).length;
}

function songLine(record: RecordState, song: Song, reader: Person): SongLine {
  const gate = currentGate(song);
  const roundGate = gate === 'production' ? null : (gate ?? 'master');
  const newest = newestVersion(song, gate ?? 'master');
  const turn = turnOf(record, song, reader);
  const waiting = roundGate
    ? roundStandings(record, song, roundGate).find((standing) => standing.waitsForGoAhead)?.round
    : undefined;
  return {
    id: song.id,
    title: song.title,
    gate,
    gates: Object.fromEntries(gates.map((each) => [each, gateView(record, song, each)])) as Record<
      Gate,
      GateView
    >,
    lock: productionLock(song),
    newest: newest
      ? { id: newest.id, name: newest.name, postedAt: newest.postedAt, sha256: newest.file.sha256 }
      : null,
    counted:
      roundGate && record.contract
        ? {
            rounds: countedRounds(record, song, roundGate),
            included: includedRounds(record.contract.terms, roundGate),
          }
        : null,
    openRequests: openRequests(song),
    openChanges: song.lockBreaks.filter((each) => ['flagged', 'priced', 'accepted'].includes(each.status))
      .length,
    waitsForGoAhead:
      waiting && isSent(waiting)
        ? { number: waiting.number, feeMinorUnits: waiting.terms.feeMinorUnits }
        : null,
    beyondContractMinorUnits: beyondContractMinorUnits(record, song),
    turn,
    turnNames: turn.people.map((id: PersonId) => nameOf(record, id)),
  };
}

const numberWords = [
  'No',
  'One',
  'Two',
  'Three',
  'Four',
  'Five',
  'Six',
  'Seven',
  'Eight',
  'Nine',
  'Ten',
  'Eleven',
  'Twelve',
];
const numberWord = (count: number) => numberWords[count] ?? String(count);

function recordSentence(lines: readonly SongLine[]): string {
  const songs = `${numberWord(lines.length)} song${lines.length === 1 ? '' : 's'}.`;
  const mine = lines.filter((line) => line.turn.mine).map((line) => line.turn.step);
  const goAheads = mine.filter((step) => step === 'go-ahead' || step === 'accept change').length;
  const signatures = mine.filter((step) => step.startsWith('sign')).length;
  const waits = [
    { count: signatures, what: 'your signature' },
    { count: goAheads, what: 'your go-ahead' },
    { count: mine.length - goAheads - signatures, what: 'your next step' },
  ].filter(({ count }) => count > 0);
  if (!waits.length) return lines.length ? `${songs} None waits for you.` : 'No songs yet.';
  const words = waits.map(({ count, what }, index) =>
    index === 0
      ? `${numberWord(count)} wait${count === 1 ? 's' : ''} for ${what}`
      : `${numberWord(count).toLowerCase()} for ${what}`,
  );
  return `${songs} ${words.join(', ')}.`;
}

/** All songs of a record at a glance, as one reader sees them. */
export function recordSheet(record: RecordState, person: Person, demo: boolean): RecordSheet {
  const songs = record.songOrder.flatMap((id) => {
    const song = record.songs[id];
    return song ? [songLine(record, song, person)] : [];
  });
  return {
    record: { id: record.id, title: record.title, act: record.act, sequence: record.sequence, demo },
    reader: readerOf(record, person),
    people: Object.values(record.people).map((each) => ({
      ...each,
      roles: rolesOf(record, each),
      given: each.roles,
    })),
    contract: record.contract,
    currency: record.contract?.terms.currency ?? 'EUR',
    songs,
    beyondContractMinorUnits: songs.reduce((sum, song) => sum + song.beyondContractMinorUnits, 0),
    sentence: recordSentence(songs),
  };
}
