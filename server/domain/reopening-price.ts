import type { RoundGate } from './contract.ts';
import { formatMoney } from './money.ts';
import type { RecordState, Song } from './record.ts';

/** What reopening a closed gate costs by the contract, the clause that says so, and both in words. */
export interface ReopeningPrice {
  feeMinorUnits: number;
  clause: string;
  words: string;
}

/**
 * The price of reopening: the charge after approval, and at the mix gate the surcharge for a new mix once mastering
 * has begun.
 */
export function reopeningPrice(record: RecordState, song: Song, gate: RoundGate): ReopeningPrice {
  const terms = record.contract?.terms;
  if (!terms) return { feeMinorUnits: 0, clause: 'no contract', words: '' };
  const money = (minorUnits: number) => formatMoney({ minorUnits, currency: terms.currency });
  const mastered = gate === 'mix' && song.versions.some((version) => version.gate === 'master');
  const surcharge = mastered ? terms.newMixSurchargeMinorUnits : 0;
  const feeMinorUnits = terms.afterApprovalMinorUnits + surcharge;
  const clause = `charge after approval ${money(terms.afterApprovalMinorUnits)}${
    mastered ? `, new mix after mastering began ${money(surcharge)}` : ''
  }`;
  return { feeMinorUnits, clause, words: feeMinorUnits ? ` (${money(feeMinorUnits)}: ${clause})` : '' };
}
