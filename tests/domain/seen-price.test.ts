import { describe, expect, it } from 'vitest';
import type { Command } from '../../server/domain/command.ts';
import { note, wish } from './record-under-test.ts';
import { mixUnder, storyAt, storySong } from './worked-story.ts';

/** Proves that the payer says yes to the price that they saw: where it was quoted anew in between, they are asked again. */
const song = storySong;

describe('the price that the payer saw', () => {
  it('of a round by the hour is the one that is agreed to', () => {
    const record = mixUnder({
      includedMixRounds: 0,
      roundFee: { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 1 },
    });
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    record.done('artist', { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: 7000 });
    const quote = (hours: number): Command => ({ type: 'quoteRound', song, gate: 'mix', number: 1, hours });
    const yes = (agreedFeeMinorUnits: number): Command => ({
      type: 'giveRoundGoAhead',
      song,
      gate: 'mix',
      number: 1,
      agreedFeeMinorUnits,
    });
    record.done('mixer', quote(2));
    record.done('mixer', quote(3));
    // 2 h at € 70.00 were € 140.00; 3 h are € 210.00.
    expect(record.decide('label', yes(14_000))).toMatchObject({
      refusal: { code: 'round_beyond_contract', feeMinorUnits: 21_000 },
    });
    expect(record.done('label', yes(21_000))).toEqual(['roundGoAheadGiven']);
  });

  it('of a change order is the one that is agreed to', () => {
    const record = storyAt(5);
    const price = (hours: number): Command => ({
      type: 'priceChange',
      song,
      number: 1,
      hours,
      words: 'a shaker, recorded',
    });
    const yes = (agreedFeeMinorUnits: number): Command => ({
      type: 'acceptChange',
      song,
      number: 1,
      agreedFeeMinorUnits,
    });
    record.done('producer', price(1));
    record.done('producer', price(2));
    // An hour is € 60.00 in the story.
    expect(record.decide('label', yes(6000))).toMatchObject({
      refusal: { code: 'change_not_priced', feeMinorUnits: 12_000 },
    });
    expect(record.done('label', yes(12_000))).toContain('changeAccepted');
  });
});
