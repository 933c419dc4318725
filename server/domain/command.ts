import type { ContractTerms, Gate, RoundGate } from './contract.ts';
import type { WrittenRequest } from './ledger-entry.ts';
import type { AnswerKind, Range } from './note.ts';
import type { Person, PersonId } from './person.ts';
import type { Part, SongId } from './record.ts';
import type { Level, RequestKind } from './request-kind.ts';
import type { Section } from './section.ts';
import type { Stem } from './stem.ts';
import type { VersionFile, VersionId, VersionWarning } from './version.ts';

/** What somebody asks for: an imperative. Ids are made by the caller. */
export type Command =
  | { type: 'openRecord'; recordId: string; title: string; act: string; owner: Person }
  | { type: 'renameRecord'; title: string; act: string }
  | { type: 'addPerson'; person: Person }
  | { type: 'changePerson'; person: Person }
  | { type: 'removePerson'; personId: PersonId }
  | { type: 'issueLink'; personId: PersonId; linkId: string }
  | { type: 'revokeLink'; personId: PersonId; linkId: string }
  | { type: 'draftContract'; terms: ContractTerms }
  | { type: 'agreeContract'; how: string }
  | { type: 'proposeAmendment'; terms: ContractTerms; reason: string }
  | { type: 'acceptAmendment'; number: number }
  | { type: 'declineAmendment'; number: number; reason: string }
  | { type: 'addSong'; song: SongId; title: string }
  | { type: 'renameSong'; song: SongId; title: string }
  | {
      type: 'nameSections';
      song: SongId;
      sections: Section[];
      tempoBpm: number | null;
      beatsPerBar: number | null;
      firstBarSeconds: number;
      basedOnRevision: number;
    }
  | { type: 'nameParts'; song: SongId; parts: Part[] }
  | { type: 'answerPartQuestion'; song: SongId; part: string; delivered: boolean }
  | {
      type: 'postVersion';
      song: SongId;
      gate: Gate;
      versionId: VersionId;
      file: VersionFile;
      printNotes: string;
      warnings: VersionWarning[];
      changes: number[];
    }
  | { type: 'attachStems'; song: SongId; versionId: VersionId; stems: Stem[]; reason: string }
  | {
      type: 'explainChange';
      song: SongId;
      olderVersionId: VersionId;
      newerVersionId: VersionId;
      place: Range | null;
      text: string;
    }
  | {
      type: 'writeNote';
      song: SongId;
      noteId: string;
      versionId: VersionId;
      range: Range | null;
      text: string;
      heardOn: string | null;
      protections: string[];
      requests: WrittenRequest[];
      contradictions: { requestId: string; otherRequestId: string; why: string }[];
    }
  | { type: 'withdrawNote'; song: SongId; noteId: string }
  | { type: 'replyToNote'; song: SongId; noteId: string; text: string }
  | { type: 'chooseLevel'; song: SongId; requestId: string; level: Level }
  | {
      type: 'resortRequest';
      song: SongId;
      requestId: string;
      level: Level;
      kind: RequestKind | null;
      reason: string;
    }
  | {
      type: 'settleContradiction';
      song: SongId;
      requestIds: [string, string];
      keep: string | null;
      reason: string;
    }
  | { type: 'leaveOutRequest'; song: SongId; requestId: string; reason: string }
  | { type: 'takeRequestBackIn'; song: SongId; requestId: string }
  | { type: 'mergeRequests'; song: SongId; into: string; others: string[] }
  | { type: 'unmergeRequests'; song: SongId; into: string }
  | { type: 'keepRequestsApart'; song: SongId; requestIds: string[] }
  | { type: 'sendRound'; song: SongId; gate: RoundGate; agreedFeeMinorUnits: number | null }
  | { type: 'quoteRound'; song: SongId; gate: RoundGate; number: number; hours: number }
  | {
      type: 'giveRoundGoAhead';
      song: SongId;
      gate: RoundGate;
      number: number;
      /** The fee that the payer saw; another one is asked about anew. */
      agreedFeeMinorUnits?: number;
    }
  | { type: 'declineRound'; song: SongId; gate: RoundGate; number: number; reason: string }
  | { type: 'extendNoteDays'; song: SongId; gate: Gate; until: string; reason: string }
  | { type: 'answerRequest'; song: SongId; requestId: string; answer: AnswerKind; text: string }
  | { type: 'markOwnMistake'; song: SongId; requestId: string; reason: string }
  | { type: 'declineChange'; song: SongId; number: number; reason: string }
  | { type: 'priceChange'; song: SongId; number: number; hours: number; words: string }
  | { type: 'acceptChange'; song: SongId; number: number; agreedFeeMinorUnits?: number }
  | { type: 'refuseChange'; song: SongId; number: number; reason: string }
  | { type: 'signOff'; song: SongId; gate: Gate; versionId: VersionId; sha256: string; statement: string }
  | { type: 'withdrawSignature'; song: SongId; gate: Gate; reason: string }
  | { type: 'reopenGate'; song: SongId; gate: RoundGate; reason: string; agreedFeeMinorUnits: number | null }
  | { type: 'giveReopeningGoAhead'; song: SongId; gate: RoundGate }
  | { type: 'declineReopening'; song: SongId; gate: RoundGate; reason: string };

export type CommandType = Command['type'];
export type CommandOf<T extends CommandType> = Extract<Command, { type: T }>;

/** A command with who gave it and when; the clock and the ids arrive from outside. */
export interface Act {
  at: string;
  by: PersonId;
  command: Command;
}
