import { formatMoney } from './money.ts';
import type { PersonId } from './person.ts';
import type { ScopeSheet } from './scope-sheet.ts';

export const gates = ['production', 'mix', 'master'] as const;
/** What a song passes in order, each closed by sign-off on one exact file. */
export type Gate = (typeof gates)[number];
/** The gates at which lists of notes are counted as rounds. */
export type RoundGate = Exclude<Gate, 'production'>;

/** What a round beyond the contract costs. */
export type RoundFee =
  | { basis: 'flat'; amountMinorUnits: number }
  | { basis: 'hourly'; rateMinorUnits: number; minimumHours: number };

export const alternates = ['instrumental', 'a cappella', 'TV track', 'clean', 'stems'] as const;
export type Alternate = (typeof alternates)[number];

/** What both sides agreed. Money is in minor units of `currency`; an hour is a working hour. */
export interface ContractTerms {
  parties: { engineer: string; client: string };
  includedMixRounds: number;
  includedMasterRounds: number;
  /** Most mix-level (or, at the master gate, mastering-level) requests in one round; `null` is no cap. */
  pointsCap: number | null;
  roundFee: RoundFee;
  productionRateMinorUnits: number;
  /** Surcharge when a new mix arrives after mastering has begun. */
  newMixSurchargeMinorUnits: number;
  /** Charge for reopening a gate after approval. */
  afterApprovalMinorUnits: number;
  currency: string;
  /** Days that the client has to send notes after a version is posted. */
  noteDays: number;
  spokesperson: PersonId;
  payer: PersonId;
  signers: Record<Gate, PersonId[]>;
  scopeSheet: ScopeSheet;
  releaseCondition: 'balance paid' | 'sign-off';
  retentionDays: number;
  delivery: {
    sampleRateHz: number;
    bitDepth: 16 | 24 | 32;
    truePeakCeilingDbtp: number;
    loudnessWishLufs: number | null;
    alternates: Alternate[];
  };
}

/** Terms under their number: 1 is the contract as first agreed, 2 the first amendment. */
export interface AgreedTerms {
  number: number;
  terms: ContractTerms;
  agreedAt: string;
  agreedBy: PersonId;
  /** How the agreement was given: in the product, or outside and written down here. */
  how: string;
}

export interface Amendment {
  number: number;
  terms: ContractTerms;
  reason: string;
  proposedBy: PersonId;
  side: 'engineer' | 'client';
}

export type Contract =
  | { status: 'drafted'; terms: ContractTerms }
  | { status: 'agreed'; terms: ContractTerms; history: AgreedTerms[]; amendment: Amendment | null };

/** The rounds that the contract includes at a gate. */
export function includedRounds(terms: ContractTerms, gate: RoundGate): number {
  return gate === 'mix' ? terms.includedMixRounds : terms.includedMasterRounds;
}

/** The fee of one round beyond the contract; by the hour it is the minimum unless `hours` were quoted. */
export function roundFeeMinorUnits(fee: RoundFee, hours: number | null = null): number {
  if (fee.basis === 'flat') return fee.amountMinorUnits;
  return Math.round(fee.rateMinorUnits * Math.max(fee.minimumHours, hours ?? 0));
}

/** The clause that a round's fee comes from, in words. */
export function roundFeeClause(terms: ContractTerms): string {
  const fee = terms.roundFee;
  const money = (minorUnits: number) => formatMoney({ minorUnits, currency: terms.currency });
  return fee.basis === 'flat'
    ? `each further round ${money(fee.amountMinorUnits)}`
    : `each further round ${money(fee.rateMinorUnits)} an hour, at least ${fee.minimumHours} h`;
}
