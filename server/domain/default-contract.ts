import type { ContractTerms } from './contract.ts';
import { defaultScopeSheet } from './scope-sheet.ts';

/** The terms of a contract that don't name people. */
export type TermsWithoutPeople = Omit<ContractTerms, 'spokesperson' | 'payer' | 'signers' | 'parties'>;

/**
 * What the trade usually agrees (*common practice*): three mix rounds and one master round, notes within seven days,
 * files kept for a year, final files on the balance paid. Rates are starting points to be changed.
 */
export function defaultTerms(): TermsWithoutPeople {
  return {
    includedMixRounds: 3,
    includedMasterRounds: 1,
    pointsCap: null,
    roundFee: { basis: 'flat', amountMinorUnits: 8000 },
    productionRateMinorUnits: 6000,
    newMixSurchargeMinorUnits: 6000,
    afterApprovalMinorUnits: 8000,
    currency: 'EUR',
    noteDays: 7,
    scopeSheet: defaultScopeSheet(),
    releaseCondition: 'balance paid',
    retentionDays: 365,
    delivery: {
      sampleRateHz: 48_000,
      bitDepth: 24,
      truePeakCeilingDbtp: -1,
      loudnessWishLufs: null,
      alternates: ['instrumental'],
    },
  };
}
