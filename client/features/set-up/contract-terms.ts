import type { ContractAnswer } from '../../api/record-calls.ts';
import type { Alternate, ContractTerms, Gate, Level, RecordSheet, RequestKind } from '../../api/types.ts';
import { gateOrder } from '../../elements/gate-words.ts';
import { parseAmount } from '../../elements/money-input.ts';
import { kindWord } from '../../elements/request-words.ts';

type People = RecordSheet['people'];

/**
 * The contract as the trade usually has it, with people put in by their roles: the artist speaks, the label or the
 * manager pays, and both sign; where a role is missing, another takes its place.
 */
export function suggestedTerms(
  defaults: ContractAnswer['defaults'],
  people: People,
  act: string,
): ContractTerms {
  const holder = (...roles: string[]) =>
    roles.map((role) => people.find((person) => (person.given as string[]).includes(role))).find(Boolean)?.id;
  const owner = people.find((person) => person.owner);
  const spokesperson = holder('artist', 'manager', 'label') ?? owner?.id ?? '';
  const payer = holder('label', 'manager', 'artist') ?? owner?.id ?? '';
  const both = [...new Set([spokesperson, payer])];
  return {
    ...defaults,
    parties: { engineer: owner?.name ?? '', client: act },
    spokesperson,
    payer,
    signers: { production: both, mix: both, master: both },
  };
}

/** A form that can't be taken as a contract, with the sentence to show. */
export class TermsFault extends Error {}

/**
 * Reads the contract out of its form.
 *
 * @throws TermsFault where a field holds nothing that can be agreed on.
 */
export function termsOf(fields: FormData): ContractTerms {
  const text = (name: string) => String(fields.get(name) ?? '').trim();
  const currency = text('currency').toUpperCase();
  if (!/^[A-Z]{3}$/.test(currency)) throw new TermsFault('The currency is a three-letter code such as EUR.');
  const number = (name: string, what: string) => {
    const value = Number(text(name).replace(',', '.'));
    if (!text(name) || !Number.isFinite(value)) throw new TermsFault(`${what} is missing.`);
    return value;
  };
  const optional = (name: string, what: string) => (text(name) ? number(name, what) : null);
  const amount = (name: string, what: string) => {
    const minorUnits = parseAmount(text(name) || '0', currency);
    if (minorUnits === null) throw new TermsFault(`${what} is no amount of ${currency}.`);
    return minorUnits;
  };
  const signers = Object.fromEntries(
    gateOrder.map((gate) => {
      const people = fields.getAll(`signers ${gate}`).map(String);
      if (!people.length) throw new TermsFault(`Somebody must sign at the ${gate} gate.`);
      return [gate, people];
    }),
  ) as Record<Gate, string[]>;
  return {
    parties: { engineer: text('engineer'), client: text('client') },
    includedMixRounds: number('includedMixRounds', 'The number of mix rounds'),
    includedMasterRounds: number('includedMasterRounds', 'The number of master rounds'),
    pointsCap: optional('pointsCap', 'The cap on points'),
    roundFee:
      text('basis') === 'hourly'
        ? {
            basis: 'hourly',
            rateMinorUnits: amount('roundRate', 'The rate of a further round'),
            minimumHours: number('minimumHours', 'The least number of hours'),
          }
        : { basis: 'flat', amountMinorUnits: amount('roundFee', 'The fee of a further round') },
    productionRateMinorUnits: amount('productionRate', 'The rate for production changes'),
    newMixSurchargeMinorUnits: amount('newMixSurcharge', 'The surcharge for a new mix'),
    afterApprovalMinorUnits: amount('afterApproval', 'The charge after approval'),
    currency,
    noteDays: number('noteDays', 'The number of days for notes'),
    spokesperson: text('spokesperson'),
    payer: text('payer'),
    signers,
    scopeSheet: Object.fromEntries(
      (Object.keys(kindWord) as RequestKind[]).map((kind) => [
        kind,
        { level: text(`level ${kind}`) as Level, grey: fields.has(`grey ${kind}`) },
      ]),
    ) as ContractTerms['scopeSheet'],
    releaseCondition: text('releaseCondition') === 'sign-off' ? 'sign-off' : 'balance paid',
    retentionDays: number('retentionDays', 'How long files are kept'),
    delivery: {
      sampleRateHz: number('sampleRateHz', 'The sample rate'),
      bitDepth: number('bitDepth', 'The bit depth') as 16 | 24 | 32,
      truePeakCeilingDbtp: number('truePeakCeilingDbtp', 'The true-peak ceiling'),
      loudnessWishLufs: optional('loudnessWishLufs', 'The loudness wish'),
      alternates: fields.getAll('alternates').map(String) as Alternate[],
    },
  };
}
