import type { ContractTerms, Gate, RequestKind, RoundFee } from '../../api/types.ts';
import { listWords } from '../../elements/count-words.ts';
import { levelWord } from '../../elements/level-mark.ts';
import { money } from '../../elements/money.ts';
import { kindWord } from '../../elements/request-words.ts';

/** A clause of the contract, in words. */
export interface Clause {
  name: string;
  words: string;
}

type NameOf = (personId: string) => string;

function feeWords(fee: RoundFee, currency: string): string {
  return fee.basis === 'flat'
    ? money(fee.amountMinorUnits, currency)
    : `${money(fee.rateMinorUnits, currency)} an hour, at least ${fee.minimumHours} h`;
}

const days = (count: number) => `${count} day${count === 1 ? '' : 's'}`;

/** The clauses of a contract but for its scope sheet, in the order in which one reads them. */
export function clauses(terms: ContractTerms, nameOf: NameOf): Clause[] {
  const { currency, delivery } = terms;
  const amount = (minorUnits: number) => (minorUnits ? money(minorUnits, currency) : 'no charge');
  const signers = (gate: Gate) => listWords(terms.signers[gate].map(nameOf));
  return [
    { name: 'Engineer’s side', words: terms.parties.engineer || '–' },
    { name: 'Client’s side', words: terms.parties.client || '–' },
    { name: 'Spokesperson, who sends the rounds', words: nameOf(terms.spokesperson) },
    { name: 'Who pays', words: nameOf(terms.payer) },
    { name: 'Signs the production', words: signers('production') },
    { name: 'Signs the mix', words: signers('mix') },
    { name: 'Signs the master', words: signers('master') },
    { name: 'Mix rounds included', words: `${terms.includedMixRounds} a song` },
    { name: 'Master rounds included', words: `${terms.includedMasterRounds} a song` },
    {
      name: 'Points in a round',
      words: terms.pointsCap === null ? 'any number' : `${terms.pointsCap} at most`,
    },
    { name: 'Days for notes after a version', words: days(terms.noteDays) },
    { name: 'Each further round', words: feeWords(terms.roundFee, currency) },
    { name: 'Production changes', words: `${amount(terms.productionRateMinorUnits)} an hour` },
    { name: 'Reopening a gate after approval', words: amount(terms.afterApprovalMinorUnits) },
    { name: 'New mix after mastering began', words: amount(terms.newMixSurchargeMinorUnits) },
    {
      name: 'Final files are released on',
      words: terms.releaseCondition === 'sign-off' ? 'sign-off' : 'the balance paid',
    },
    { name: 'Files are kept for', words: days(terms.retentionDays) },
    {
      name: 'Delivery',
      words: `${delivery.sampleRateHz / 1000} kHz, ${delivery.bitDepth} bit, true peak at most ${String(delivery.truePeakCeilingDbtp).replace('-', '−')} dBTP${
        delivery.loudnessWishLufs === null
          ? ''
          : `, loudness wish ${String(delivery.loudnessWishLufs).replace('-', '−')} LUFS`
      }`,
    },
    {
      name: 'Alternates included',
      words: delivery.alternates.length ? delivery.alternates.join(', ') : 'none',
    },
  ];
}

/** The lines of a scope sheet, in words. */
export function scopeClauses(terms: ContractTerms): Clause[] {
  return (Object.keys(kindWord) as RequestKind[]).map((kind) => {
    const { level, grey } = terms.scopeSheet[kind];
    return { name: kindWord[kind], words: `${levelWord[level].toLowerCase()}${grey ? ' (grey area)' : ''}` };
  });
}

/** What an amendment changes: each clause with its words before and after. */
export function changedClauses(
  before: ContractTerms,
  after: ContractTerms,
  nameOf: NameOf,
): { name: string; before: string; after: string }[] {
  const all = (terms: ContractTerms) => [
    ...clauses(terms, nameOf),
    ...scopeClauses(terms).map(({ name, words }) => ({ name: `Scope sheet: ${name}`, words })),
  ];
  const old = all(before);
  return all(after).flatMap((clause, index) => {
    const words = old[index]!.words;
    return words === clause.words ? [] : [{ name: clause.name, before: words, after: clause.words }];
  });
}
