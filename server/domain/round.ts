import type { RoundFee, RoundGate } from './contract.ts';
import type { PersonId } from './person.ts';
import type { Level } from './request-kind.ts';
import type { VersionId } from './version.ts';

/** What was said about money when a round was sent; held to, whatever is amended later. */
export interface RoundTerms {
  includedRounds: number;
  feeMinorUnits: number;
  feeClause: string;
  /** What the fee is worked out from; by the hour it is quoted before the go-ahead. */
  fee: RoundFee;
  /** Sent after the days for notes had run out, so chargeable although rounds were left. */
  late: boolean;
}

export interface SentFacts {
  versionId: VersionId;
  requestIds: string[];
  sentAt: string;
  sentBy: PersonId;
  terms: RoundTerms;
  /** The hours that the engineer quoted, where the fee is by the hour. */
  quotedHours: number | null;
  goAhead: { by: PersonId; at: string; feeMinorUnits: number } | null;
}

/**
 * One list of notes at a gate, under its number in the song. A round whose go-ahead the payer declined is open again,
 * so that the list can be shortened, and says so.
 */
export type Round = { gate: RoundGate; number: number } & (
  | { status: 'open'; declined: { by: PersonId; at: string; reason: string } | null }
  | ({ status: 'sent' } & SentFacts)
  | ({
      status: 'answered';
      /** `null` where nothing on the list asked for a version of this gate. */
      answeredBy: VersionId | null;
      answeredAt: string;
      /** How it stood when it was answered: a later re-sorting can take it off the count, never put it on. */
      stood: { counts: boolean; beyond: boolean };
    } & SentFacts)
);

export type SentRound = Exclude<Round, { status: 'open' }>;

/** The level of request that makes a round of a gate count. */
export const countingLevel: Record<RoundGate, Level> = { mix: 'mix', master: 'mastering' };

export function isSent(round: Round): round is SentRound {
  return round.status !== 'open';
}
