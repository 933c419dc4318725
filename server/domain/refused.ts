import type { LockBreak } from './change-order.ts';
import type { ContractTerms } from './contract.ts';
import { formatMoney } from './money.ts';
import type { Note, Request } from './note.ts';
import type { Person, Role } from './person.ts';
import { type RecordState, rolesOf, type Song } from './record.ts';
import type { Refusal, RefusalCode } from './refusal.ts';
import type { Version } from './version.ts';

/** Carries a refusal out of a rule to `decide`, which returns it; never leaves the domain. */
export class Refused extends Error {
  readonly refusal: Refusal;
  constructor(refusal: Refusal) {
    super(refusal.message);
    this.refusal = refusal;
  }
}

export function refuse(code: RefusalCode, message: string, more: Partial<Refusal> = {}): never {
  throw new Refused({ code, message, ...more });
}

export function songOf(record: RecordState, id: string): Song {
  return record.songs[id] ?? refuse('song_unknown', 'There is no such song on this record.');
}

export function versionOf(song: Song, id: string): Version {
  return (
    song.versions.find((version) => version.id === id) ??
    refuse('version_unknown', 'There is no such version of this song.')
  );
}

export function noteOf(song: Song, id: string): Note {
  return (
    song.notes.find((note) => note.id === id && !note.withdrawn) ??
    refuse('note_unknown', 'There is no such note on this song.')
  );
}

export function requestOf(song: Song, id: string): { request: Request; note: Note } {
  const request = song.requests.find((each) => each.id === id);
  if (!request) return refuse('request_unknown', 'There is no such request on this song.');
  const note = song.notes.find((each) => each.id === request.noteId);
  if (!note || note.withdrawn)
    return refuse('request_unknown', 'The note of this request was withdrawn by its author.');
  return { request, note };
}

/** Refuses what was made one with another request: that one stands for it. */
export function requireApart(request: Request): void {
  if (request.mergedInto !== null)
    refuse(
      'request_not_in_round',
      'This request was made one with another, which stands for it on the list. Do it there.',
    );
}

export function lockBreakOf(song: Song, number: number): LockBreak {
  return (
    song.lockBreaks.find((each) => each.number === number) ??
    refuse('lock_break_unknown', `This song has no lock break ${number}.`)
  );
}

/** Refuses people who hold none of the roles; the owner passes where `owner` is among them. */
export function requireRole(
  record: RecordState,
  person: Person,
  allowed: readonly (Role | 'owner' | 'payer')[],
  what: string,
): void {
  const held = rolesOf(record, person);
  const passes = allowed.some((role) =>
    role === 'owner'
      ? person.owner
      : role === 'payer'
        ? record.contract?.terms.payer === person.id
        : held.includes(role),
  );
  if (!passes)
    refuse('not_entitled', `${what} is for the ${allowed.join(' or the ')}. You can still read and listen.`);
}

/** The agreed terms; refused while there are none, since counting and signing need them. */
export function agreedTerms(record: RecordState): ContractTerms {
  if (!record.contract)
    return refuse('contract_missing', 'There is no contract yet. The owner writes it on the set-up page.');
  if (record.contract.status !== 'agreed')
    return refuse(
      'contract_not_agreed',
      'The contract is a draft. Once both sides have agreed to it, this can be done.',
    );
  return record.contract.terms;
}

export function requireReason(reason: string, what: string): void {
  if (!reason.trim()) refuse('reason_missing', `${what} needs a reason, which stays on the record.`);
}

export function money(terms: ContractTerms, minorUnits: number): string {
  return formatMoney({ minorUnits, currency: terms.currency });
}
