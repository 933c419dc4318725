import { describe, expect, it } from 'vitest';
import { meaningOf } from '../../server/application/sorting.ts';
import type { Level } from '../../server/domain/request-kind.ts';
import { hour, note, type RecordUnderTest, wish } from '../domain/record-under-test.ts';
import { mixUnder, storySong } from '../domain/worked-story.ts';

/**
 * Proves that whoever writes a note reads at once what the contract makes of it: the round of those included, the points
 * of those that it takes, and the fee beyond it. The figures are counted by hand from the contract and the notes above
 * each of them.
 */
const song = storySong;
const meaning = (record: RecordUnderTest, levels: Level[], by = 'artist', at = record.at) =>
  meaningOf(record.record, record.song(song), levels, { person: record.record.people[by]!, at });

describe('what a note means while it is written', () => {
  it('is which round of how many, and how many are left after it', () => {
    expect(meaning(mixUnder({ includedMixRounds: 3 }), ['mix'])).toBe(
      'Mix: belongs to this round (1 of 3, 2 left after it).',
    );
    expect(meaning(mixUnder({ includedMixRounds: 1 }), ['mix'])).toBe(
      'Mix: belongs to this round (1 of 1, the last).',
    );
  });

  it('is the fee where the round goes beyond the contract, or comes late', () => {
    const flat = { basis: 'flat', amountMinorUnits: 8000 } as const;
    expect(meaning(mixUnder({ includedMixRounds: 0, roundFee: flat }), ['mix'])).toBe(
      'Mix: belongs to this round, which goes beyond the contract, € 80.00 (each further round € 80.00).',
    );
    // 2 h at € 70.00 at the least are € 140.00.
    const hourly = { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 2 } as const;
    expect(meaning(mixUnder({ includedMixRounds: 0, roundFee: hourly }), ['mix'])).toContain(
      'beyond the contract, at least € 140.00 (each further round € 70.00 an hour, at least 2 h).',
    );
    // Mix v1 is posted at hour 25 and notes are taken for two days: until hour 73.
    const record = mixUnder({ includedMixRounds: 3, noteDays: 2, roundFee: flat });
    expect(meaning(record, ['mix'], 'artist', hour(72))).toContain('(1 of 3');
    expect(meaning(record, ['mix'], 'artist', hour(74))).toBe(
      'Mix: the days for notes have run out, so this round goes beyond the contract, € 80.00 (each further round € 80.00).',
    );
  });

  it('is the points where the contract caps them, by what stands on the list', () => {
    const record = mixUnder({ includedMixRounds: 3, pointsCap: 4 });
    expect(meaning(record, ['mix'])).toContain('Point 1 of 4 in this round.');
    record.done('artist', note(song, 'mix-1', [wish('a', 'mix'), wish('b', 'mix'), wish('c', 'none')]));
    expect(meaning(record, ['mix', 'mix', 'none'])).toContain('Points 3 to 4 of 4 in this round.');
    record.done('drummer', note(song, 'mix-1', [wish('d', 'mix'), wish('e', 'mix')]));
    expect(meaning(record, ['mix', 'mix'])).toContain(
      "Points 5 to 6, over the contract's cap of 4 by 2: leave some out.",
    );
    record.done('artist', { type: 'leaveOutRequest', song, requestId: 'a', reason: 'later' });
    record.done('artist', { type: 'mergeRequests', song, into: 'b', others: ['d'] });
    expect(meaning(record, ['mix'])).toContain('Point 3 of 4 in this round.');
    record.done('artist', { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: null });
    // What is written now goes on the next list, which is empty.
    expect(meaning(record, ['mix'])).toBe(
      'Mix: belongs to this round (2 of 3, 1 left after it). Point 1 of 4 in this round.',
    );
  });

  it('is no count where it is not the client who asks', () => {
    expect(meaning(mixUnder({ pointsCap: 4 }), ['mix'], 'producer')).toBe(
      "Mix: goes on this round's list; only what the client asks for counts.",
    );
  });
});
