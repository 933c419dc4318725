import type { Gate, RoundGate } from './contract.ts';
import type { PersonId } from './person.ts';
import type { Direction, Level, RequestKind } from './request-kind.ts';
import type { VersionId } from './version.ts';

/** A moment (`endSeconds` null) or a stretch of a version. */
export interface Range {
  startSeconds: number;
  endSeconds: number | null;
}

export interface Reply {
  by: PersonId;
  at: string;
  text: string;
}

/** What one person wrote about a version, at a moment, over a range, or about the whole song (`range` null). */
export interface Note {
  id: string;
  versionId: VersionId;
  range: Range | null;
  text: string;
  /** What the author listened on, if said. */
  heardOn: string | null;
  by: PersonId;
  at: string;
  gate: Gate;
  /** The list that it belongs to; `null` at the production gate, which counts no rounds, and after approval. */
  round: RoundPlace | null;
  afterApproval: boolean;
  withdrawn: boolean;
  replies: Reply[];
  /** Words to leave something as it is, which the engineer sees beside the request. */
  protections: string[];
}

export interface RoundPlace {
  gate: RoundGate;
  number: number;
}

/** One decision about a request's level; the last one holds, all stay on the record. */
export interface LevelDecision {
  level: Level;
  kind: RequestKind;
  how: 'proposed' | 'author' | 'engineer';
  by: PersonId;
  at: string;
  reason: string | null;
}

export const answerKinds = ['done', 'not done', 'question'] as const;
export type AnswerKind = (typeof answerKinds)[number];

export interface Answer {
  kind: AnswerKind;
  text: string;
  by: PersonId;
  at: string;
}

/** One wish inside a note. */
export interface Request {
  id: string;
  noteId: string;
  /** The words of the note that it came from, verbatim. */
  text: string;
  kind: RequestKind;
  target: string | null;
  direction: Direction | null;
  place: string | null;
  range: Range | null;
  /** The contract's scope sheet settles this kind; parties read it differently elsewhere. */
  grey: boolean;
  why: string;
  level: Level;
  decisions: LevelDecision[];
  leftOut: { by: PersonId; at: string; reason: string } | null;
  /** The request that it was made one with, since both ask for the same: that one stands for it on the list. */
  mergedInto: string | null;
  ownMistake: { by: PersonId; at: string; reason: string } | null;
  answer: Answer | null;
  /** Kept for the master gate. */
  parked: boolean;
  /** The number of the lock break that it caused. */
  lockBreak: number | null;
}

/** Two requests that look like one wish and, as the spokesperson said, are two. */
export interface KeptApart {
  requestIds: [string, string];
  by: PersonId;
  at: string;
}

/** Two requests that cannot both be done, as shown to the spokesperson. */
export interface Contradiction {
  requestIds: [string, string];
  why: string;
  settled: { by: PersonId; at: string; kept: string | null; reason: string } | null;
}
