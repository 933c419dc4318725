import type { ChangePrice } from './change-order.ts';
import type { ContractTerms, Gate, RoundGate } from './contract.ts';
import type { AnswerKind, Range, RoundPlace } from './note.ts';
import type { Person, PersonId } from './person.ts';
import type { Part, SongId } from './record.ts';
import type { Direction, Level, RequestKind } from './request-kind.ts';
import type { RoundTerms } from './round.ts';
import type { Section } from './section.ts';
import type { Stem } from './stem.ts';
import type { Version, VersionId } from './version.ts';

/** A request as it was written down with its note. */
export interface WrittenRequest {
  id: string;
  text: string;
  kind: RequestKind;
  target: string | null;
  direction: Direction | null;
  place: string | null;
  range: Range | null;
  grey: boolean;
  why: string;
  /** What the words were sorted as. */
  proposedLevel: Level;
  /** What the author made of it; the same as proposed where they left it. */
  level: Level;
}

/** What happened: a fact, in the past tense. The ledger is a list of these. */
export type Fact =
  | { type: 'recordOpened'; recordId: string; title: string; act: string }
  | { type: 'recordRenamed'; title: string; act: string }
  | { type: 'personAdded'; person: Person }
  | { type: 'personChanged'; person: Person }
  | { type: 'personRemoved'; personId: PersonId }
  | { type: 'linkIssued'; personId: PersonId; linkId: string }
  | { type: 'linkRevoked'; personId: PersonId; linkId: string }
  | { type: 'contractDrafted'; terms: ContractTerms }
  | { type: 'contractAgreed'; how: string }
  | {
      type: 'amendmentProposed';
      number: number;
      terms: ContractTerms;
      reason: string;
      side: 'engineer' | 'client';
    }
  | { type: 'amendmentAccepted'; number: number }
  | { type: 'amendmentDeclined'; number: number; reason: string }
  | { type: 'songAdded'; song: SongId; title: string }
  | { type: 'songRenamed'; song: SongId; title: string }
  | {
      type: 'sectionsNamed';
      song: SongId;
      sections: Section[];
      tempoBpm: number | null;
      beatsPerBar: number | null;
      firstBarSeconds: number;
      revision: number;
    }
  | { type: 'partsNamed'; song: SongId; parts: Part[] }
  | { type: 'partAnswered'; song: SongId; part: Part }
  | { type: 'versionPosted'; song: SongId; version: Omit<Version, 'postedAt' | 'postedBy'> }
  | { type: 'stemsAttached'; song: SongId; versionId: VersionId; stems: Stem[]; reason: string }
  | {
      type: 'changeExplained';
      song: SongId;
      olderVersionId: VersionId;
      newerVersionId: VersionId;
      place: Range | null;
      text: string;
    }
  | {
      type: 'roundAnswered';
      song: SongId;
      gate: RoundGate;
      number: number;
      /** `null` where nothing on the list asked for a version of this gate. */
      versionId: VersionId | null;
      /** Whether it counted, and went beyond the contract, when it was answered. */
      counts: boolean;
      beyond: boolean;
    }
  | { type: 'roundOpened'; song: SongId; gate: RoundGate; number: number }
  | {
      type: 'noteWritten';
      song: SongId;
      noteId: string;
      versionId: VersionId;
      range: Range | null;
      text: string;
      heardOn: string | null;
      gate: Gate;
      round: RoundPlace | null;
      afterApproval: boolean;
      protections: string[];
      requests: WrittenRequest[];
    }
  | { type: 'noteWithdrawn'; song: SongId; noteId: string }
  | { type: 'noteReplied'; song: SongId; noteId: string; text: string }
  | { type: 'contradictionFound'; song: SongId; requestIds: [string, string]; why: string }
  | {
      type: 'contradictionSettled';
      song: SongId;
      requestIds: [string, string];
      kept: string | null;
      leftOut: string | null;
      reason: string;
    }
  | { type: 'requestLeftOut'; song: SongId; requestId: string; reason: string }
  | { type: 'requestTakenBackIn'; song: SongId; requestId: string }
  | { type: 'requestsMerged'; song: SongId; into: string; others: string[] }
  | { type: 'requestsUnmerged'; song: SongId; into: string }
  | { type: 'requestsKeptApart'; song: SongId; requestIds: string[] }
  | { type: 'levelChosen'; song: SongId; requestId: string; level: Level }
  | {
      type: 'requestResorted';
      song: SongId;
      requestId: string;
      level: Level;
      kind: RequestKind;
      reason: string;
    }
  | {
      type: 'roundSent';
      song: SongId;
      gate: RoundGate;
      number: number;
      versionId: VersionId;
      requestIds: string[];
      terms: RoundTerms;
    }
  | {
      type: 'roundQuoted';
      song: SongId;
      gate: RoundGate;
      number: number;
      hours: number;
      feeMinorUnits: number;
    }
  | { type: 'roundGoAheadGiven'; song: SongId; gate: RoundGate; number: number; feeMinorUnits: number }
  | { type: 'roundDeclined'; song: SongId; gate: RoundGate; number: number; reason: string }
  | { type: 'noteDaysExtended'; song: SongId; gate: Gate; until: string; reason: string }
  | { type: 'requestParked'; song: SongId; requestId: string }
  | { type: 'requestUnparked'; song: SongId; requestId: string }
  | { type: 'requestAnswered'; song: SongId; requestId: string; answer: AnswerKind; text: string }
  | { type: 'ownMistakeMarked'; song: SongId; requestId: string; reason: string }
  | { type: 'lockBroken'; song: SongId; number: number; requestId: string }
  | { type: 'lockBreakWithdrawn'; song: SongId; number: number }
  | { type: 'changeDeclined'; song: SongId; number: number; reason: string }
  | { type: 'changePriced'; song: SongId; number: number; price: Omit<ChangePrice, 'by' | 'at'> }
  | { type: 'changeAccepted'; song: SongId; number: number; amountMinorUnits: number }
  | { type: 'changeRefused'; song: SongId; number: number; reason: string }
  | { type: 'lockOpened'; song: SongId; changes: number[] }
  | { type: 'signedOff'; song: SongId; gate: Gate; versionId: VersionId; sha256: string; statement: string }
  | { type: 'signatureWithdrawn'; song: SongId; gate: Gate; reason: string }
  | { type: 'gateClosed'; song: SongId; gate: Gate; versionId: VersionId; sha256: string }
  | { type: 'productionLocked'; song: SongId; versionId: VersionId; sha256: string; changes: number[] }
  | {
      type: 'reopeningAsked';
      song: SongId;
      gate: RoundGate;
      reason: string;
      feeMinorUnits: number;
      feeClause: string;
    }
  | { type: 'reopeningDeclined'; song: SongId; gate: RoundGate; reason: string }
  | {
      type: 'gateReopened';
      song: SongId;
      gate: RoundGate;
      reason: string;
      feeMinorUnits: number;
      feeClause: string;
    };

export type FactType = Fact['type'];

/** A fact at its place in a record's ledger, chained to the entry before it. */
export interface LedgerEntry {
  /** From 1, without gaps. */
  sequence: number;
  /** ISO 8601, UTC. */
  at: string;
  by: PersonId;
  fact: Fact;
  /** SHA-256 of the entry before, hex; 64 zeros for the first. */
  previousHash: string;
  hash: string;
}
