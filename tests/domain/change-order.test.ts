import { describe, expect, it } from 'vitest';
import { beyondContractMinorUnits, charges, productionLock } from '../../server/domain/record.ts';
import { note, post, type RecordUnderTest, sign, wish } from './record-under-test.ts';
import { mixUnder, storyAt, storySong } from './worked-story.ts';

/**
 * Proves what happens to production-level requests at a locked production: flagged, declined or priced by the
 * producer, accepted or refused by the payer, delivered and locked again; the lock opens for nothing else.
 */
const song = storySong;
const price = (number: number, hours: number, words = 'recorded and edited') =>
  ({ type: 'priceChange', song, number, hours, words }) as const;
const accept = (number: number) => ({ type: 'acceptChange', song, number }) as const;
const refuseIt = (number: number) => ({ type: 'refuseChange', song, number, reason: 'too dear' }) as const;
const decline = (number: number) =>
  ({ type: 'declineChange', song, number, reason: 'it would crowd the verse' }) as const;
const codeOf = (record: RecordUnderTest, ...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = record.decide(...given);
  return decision.ok ? null : decision.refusal.code;
};
const lock = (record: RecordUnderTest) => productionLock(record.song(song));
const signBoth = (record: RecordUnderTest, versionId: string) => {
  record.done('artist', sign(song, 'production', versionId));
  return record.done('label', sign(song, 'production', versionId));
};

/** Two production-level requests that were sent with a round: lock breaks 1 and 2. */
function twoBreaks() {
  const record = mixUnder({});
  record.done('artist', note(song, 'mix-1', [wish('shaker', 'production'), wish('choir', 'production')]));
  record.done('artist', { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: null });
  return record;
}

describe('a lock break', () => {
  it('is declined or priced by the producer alone', () => {
    const record = twoBreaks();
    expect(codeOf(record, 'mixer', price(1, 1))).toBe('not_entitled');
    expect(codeOf(record, 'label', decline(1))).toBe('not_entitled');
    expect(record.done('producer', decline(1))).toEqual(['changeDeclined']);
    expect(codeOf(record, 'producer', decline(1))).toBe('change_already_decided');
    expect(codeOf(record, 'producer', price(1, 1))).toBe('change_already_decided');
    expect(lock(record).status).toBe('locked');
  });

  it('is priced in hours at the contract’s rate, exact to the cent', () => {
    const record = twoBreaks();
    // 0.35 h at € 60.00 is € 21.00; 1/3 h is € 20.00.
    record.done('producer', price(1, 0.35));
    expect(record.song(song).lockBreaks[0]).toMatchObject({ price: { amountMinorUnits: 2100 } });
    record.done('producer', price(1, 1 / 3));
    expect(record.song(song).lockBreaks[0]).toMatchObject({ price: { amountMinorUnits: 2000 } });
    expect(record.done('producer', price(1, 1 / 3))).toEqual([]);
    expect(codeOf(record, 'producer', price(1, 0))).toBe('malformed');
    expect(codeOf(record, 'producer', price(1, 2, ''))).toBe('reason_missing');
  });

  it('opens nothing before the payer accepts its price', () => {
    const record = twoBreaks();
    expect(codeOf(record, 'label', accept(1))).toBe('change_not_priced');
    record.done('producer', price(1, 1));
    expect(codeOf(record, 'producer', accept(1))).toBe('not_entitled');
    expect(codeOf(record, 'producer', post(song, 'production', 'rough-2', [1]))).toBe('production_locked');
    expect(record.done('label', accept(1))).toEqual(['changeAccepted', 'lockOpened']);
    expect(record.done('label', accept(1))).toEqual([]);
    expect(codeOf(record, 'label', refuseIt(1))).toBe('change_already_decided');
    expect(codeOf(record, 'producer', price(1, 5))).toBe('change_already_decided');
  });

  it('that the payer refused can be priced anew', () => {
    const record = twoBreaks();
    record.done('producer', price(1, 3));
    record.done('label', refuseIt(1));
    expect(codeOf(record, 'label', accept(1))).toBe('change_already_decided');
    record.done('producer', price(1, 1));
    record.done('label', accept(1));
    expect(beyondContractMinorUnits(record.record, record.song(song))).toBe(6000);
  });
});

describe('the lock', () => {
  it('stands open for the accepted changes only, and each is delivered in a signed production', () => {
    const record = twoBreaks();
    record.done('producer', price(1, 1, 'a shaker'));
    record.done('producer', price(2, 2, 'a choir'));
    record.done('label', accept(1));
    record.done('label', accept(2));
    expect(lock(record)).toMatchObject({ status: 'open for changes', changes: [1, 2] });
    expect(codeOf(record, 'producer', post(song, 'production', 'rough-2'))).toBe('malformed');
    expect(codeOf(record, 'producer', post(song, 'production', 'rough-2', [3]))).toBe('malformed');
    record.done('producer', post(song, 'production', 'rough-2', [1]));
    expect(signBoth(record, 'rough-2')).toEqual(['signedOff', 'gateClosed', 'productionLocked']);
    expect(lock(record)).toMatchObject({ status: 'open for changes', changes: [2] });
    expect(codeOf(record, 'artist', sign(song, 'production', 'rough-1'))).toBe('wrong_file');
    record.done('producer', post(song, 'production', 'rough-3', [2]));
    signBoth(record, 'rough-3');
    expect(lock(record)).toMatchObject({ status: 'locked', versionId: 'rough-3' });
    expect(
      charges(record.record, record.song(song)).map(({ words, amountMinorUnits }) => [
        words,
        amountMinorUnits,
      ]),
    ).toEqual([
      ['Change order 1: a shaker', 6000],
      ['Change order 2: a choir', 12_000],
    ]);
  });

  it('asks for every signature again when another change is accepted meanwhile', () => {
    const record = twoBreaks();
    record.done('producer', price(1, 1));
    record.done('label', accept(1));
    record.done('producer', post(song, 'production', 'rough-2', [1]));
    record.done('artist', sign(song, 'production', 'rough-2'));
    record.done('producer', price(2, 1));
    record.done('label', accept(2));
    expect(record.song(song).gates.production.signatures).toEqual([]);
    record.done('label', sign(song, 'production', 'rough-2'));
    record.done('label', {
      type: 'withdrawSignature',
      song,
      gate: 'production',
      reason: 'both changes in one production, please',
    });
    expect(lock(record)).toMatchObject({ status: 'open for changes', changes: [1, 2] });
  });

  it('lets mixes go on while it is open, and signs none', () => {
    const record = twoBreaks();
    record.done('producer', price(1, 1));
    record.done('label', accept(1));
    record.done('mixer', post(song, 'mix', 'mix-2'));
    expect(codeOf(record, 'artist', sign(song, 'mix', 'mix-2'))).toBe('change_in_progress');
  });

  it('is not opened under a signed mix: the mix gate is reopened first, at its price', () => {
    const record = storyAt(14);
    record.done('artist', note(song, 'mix-5', [wish('choir', 'production')]));
    record.done('producer', price(2, 1));
    const refusal = record.decide('label', accept(2));
    expect(refusal).toMatchObject({
      refusal: { code: 'gate_closed', message: expect.stringContaining('€ 80.00') },
    });
    record.done('label', {
      type: 'reopenGate',
      song,
      gate: 'mix',
      reason: 'the choir',
      agreedFeeMinorUnits: 8000,
    });
    expect(record.done('label', accept(2))).toEqual(['changeAccepted', 'lockOpened']);
  });

  it('does not exist before the production is signed: a production-level wish breaks nothing', () => {
    const record = storyAt(0);
    record.done('producer', post(song, 'production', 'rough-1'));
    expect(record.done('artist', note(song, 'rough-1', [wish('shaker', 'production')]))).toEqual([
      'noteWritten',
    ]);
    expect(codeOf(record, 'producer', post(song, 'production', 'rough-2', [1]))).toBe('malformed');
    expect(record.done('producer', post(song, 'production', 'rough-2'))).toEqual(['versionPosted']);
  });
});
