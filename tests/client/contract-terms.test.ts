import { describe, expect, it } from 'vitest';
import type { ContractTerms, RecordSheet } from '../../client/api/types.ts';
import { amountText, parseAmount } from '../../client/elements/money-input.ts';
import { suggestedTerms, TermsFault, termsOf } from '../../client/features/set-up/contract-terms.ts';
import { changedClauses } from '../../client/features/set-up/contract-words.ts';
import { defaultTerms } from '../../server/domain/default-contract.ts';

type People = RecordSheet['people'];
const person = (id: string, given: People[number]['given'], owner = false): People[number] => ({
  id,
  name: id,
  given,
  roles: given,
  owner,
});
const people = [
  person('owner', ['mix engineer'], true),
  person('singer', ['artist']),
  person('house', ['label']),
];
const terms = suggestedTerms(defaultTerms(), people, 'The Act');

/** The terms as the form of the set-up page sends them, before anybody touches a field. */
function filledIn(from: ContractTerms): FormData {
  const fields = new FormData();
  const set = (name: string, value: unknown) => fields.set(name, String(value ?? ''));
  set('engineer', from.parties.engineer);
  set('client', from.parties.client);
  for (const name of [
    'currency',
    'includedMixRounds',
    'includedMasterRounds',
    'pointsCap',
    'noteDays',
  ] as const)
    set(name, from[name]);
  for (const name of ['spokesperson', 'payer', 'releaseCondition', 'retentionDays'] as const)
    set(name, from[name]);
  set('basis', from.roundFee.basis);
  if (from.roundFee.basis === 'flat')
    set('roundFee', amountText(from.roundFee.amountMinorUnits, from.currency));
  set('productionRate', amountText(from.productionRateMinorUnits, from.currency));
  set('newMixSurcharge', amountText(from.newMixSurchargeMinorUnits, from.currency));
  set('afterApproval', amountText(from.afterApprovalMinorUnits, from.currency));
  for (const gate of ['production', 'mix', 'master'] as const)
    for (const id of from.signers[gate]) fields.append(`signers ${gate}`, id);
  for (const [kind, line] of Object.entries(from.scopeSheet)) {
    set(`level ${kind}`, line.level);
    if (line.grey) set(`grey ${kind}`, 'on');
  }
  for (const name of ['sampleRateHz', 'bitDepth', 'truePeakCeilingDbtp', 'loudnessWishLufs'] as const)
    set(name, from.delivery[name]);
  for (const alternate of from.delivery.alternates) fields.append('alternates', alternate);
  return fields;
}

describe('amounts are read as people type them, in the minor units of their currency', () => {
  // Minor units: ISO 4217, EUR 2, JPY 0, TND 3.
  it.each([
    ['80', 'EUR', 8000],
    ['80.5', 'EUR', 8050],
    ['80,50', 'EUR', 8050],
    ['1 200.00', 'EUR', 120_000],
    ['0.07', 'EUR', 7],
    ['5000', 'JPY', 5000],
    ['1.250', 'TND', 1250],
    ['80.505', 'EUR', null],
    ['5000.5', 'JPY', null],
    ['-3', 'EUR', null],
    ['', 'EUR', null],
    ['a lot', 'EUR', null],
  ])('%s %s', (text, currency, minorUnits) => {
    expect(parseAmount(text, currency)).toBe(minorUnits);
  });

  it('and written back the same', () => {
    for (const [minorUnits, currency] of [
      [8050, 'EUR'],
      [5000, 'JPY'],
      [1250, 'TND'],
    ] as const)
      expect(parseAmount(amountText(minorUnits, currency), currency)).toBe(minorUnits);
  });
});

describe('the contract starts from what the trade usually agrees', () => {
  it('the artist speaks, the label pays, both sign', () => {
    expect([terms.spokesperson, terms.payer]).toEqual(['singer', 'house']);
    expect(terms.signers).toEqual({
      production: ['singer', 'house'],
      mix: ['singer', 'house'],
      master: ['singer', 'house'],
    });
  });

  it('an artist without a label does all of it', () => {
    const alone = suggestedTerms(defaultTerms(), people.slice(0, 2), 'The Act');
    expect([alone.spokesperson, alone.payer]).toEqual(['singer', 'singer']);
    expect(alone.signers.mix).toEqual(['singer']);
  });
});

describe('the form gives back the terms that it was filled in with', () => {
  it('untouched', () => {
    expect(termsOf(filledIn(terms))).toEqual(terms);
  });

  it('with a fee by the hour, a cap and a loudness wish', () => {
    const fields = filledIn(terms);
    fields.set('basis', 'hourly');
    fields.set('roundRate', '55,50');
    fields.set('minimumHours', '1.5');
    fields.set('pointsCap', '12');
    fields.set('loudnessWishLufs', '-14');
    expect(termsOf(fields)).toMatchObject({
      roundFee: { basis: 'hourly', rateMinorUnits: 5550, minimumHours: 1.5 },
      pointsCap: 12,
      delivery: { loudnessWishLufs: -14 },
    });
  });

  it('or says which field it can’t take', () => {
    const nobody = filledIn(terms);
    nobody.delete('signers mix');
    expect(() => termsOf(nobody)).toThrow(new TermsFault('Somebody must sign at the mix gate.'));
    const words = filledIn(terms);
    words.set('productionRate', 'dear');
    expect(() => termsOf(words)).toThrow(/rate for production changes is no amount of EUR/);
    const empty = filledIn(terms);
    empty.set('noteDays', '');
    expect(() => termsOf(empty)).toThrow(/days for notes is missing/);
  });
});

describe('an amendment is shown as what it changes', () => {
  it('clause by clause, with the words before and after', () => {
    const amended: ContractTerms = {
      ...terms,
      includedMixRounds: 4,
      roundFee: { basis: 'hourly', rateMinorUnits: 5000, minimumHours: 1 },
      scopeSheet: { ...terms.scopeSheet, tuning: { level: 'mix', grey: true } },
    };
    expect(changedClauses(terms, amended, (id) => id)).toEqual([
      { name: 'Mix rounds included', before: '3 a song', after: '4 a song' },
      { name: 'Each further round', before: '€ 80.00', after: '€ 50.00 an hour, at least 1 h' },
      { name: 'Scope sheet: tuning', before: 'production (grey area)', after: 'mix (grey area)' },
    ]);
  });

  it('and as nothing where nothing changes', () => {
    expect(changedClauses(terms, structuredClone(terms), (id) => id)).toEqual([]);
  });
});
