import { describe, expect, it } from 'vitest';
import { ledgerWords } from '../../server/application/ledger-words.ts';
import type { Command } from '../../server/domain/command.ts';
import { storyAt, storyPersons, storySong } from './worked-story.ts';

/**
 * Proves that anybody on the record can answer whether a part is in the recording, that the answer stands on the ledger
 * under their name, and that it never changes what the list of parts says already.
 */
const song = storySong;
const answer = (part: string, delivered: boolean): Command => ({
  type: 'answerPartQuestion',
  song,
  part,
  delivered,
});

describe('an answer about a part', () => {
  it('is open to everybody on the record', () => {
    const record = storyAt(2);
    for (const { id } of storyPersons)
      expect([id, record.decide(id, answer('tambourine', true)).ok]).toEqual([id, true]);
    expect(record.decide('nobody', answer('tambourine', true))).toMatchObject({
      refusal: { code: 'not_on_record' },
    });
  });

  it('adds a part that the list does not hold, under its author’s name', () => {
    const record = storyAt(2);
    record.done('mixer', { type: 'nameParts', song, parts: [{ name: 'cello', delivered: true }] });
    expect(record.done('drummer', answer(' tambourine ', false))).toEqual(['partAnswered']);
    expect(record.song(song).parts).toEqual([
      { name: 'cello', delivered: true },
      { name: 'tambourine', delivered: false },
    ]);
    const entry = record.entries.at(-1)!;
    expect(entry).toMatchObject({ by: 'drummer', at: record.at });
    expect(ledgerWords(record.record, entry)).toBe(
      'answered that tambourine is not in the recording · Lanterns',
    );
  });

  it('leaves what is listed as it is, whoever listed it', () => {
    const record = storyAt(2);
    record.done('mixer', { type: 'nameParts', song, parts: [{ name: 'Tambourine', delivered: true }] });
    expect(record.done('artist', answer('tambourine', false))).toEqual([]);
    record.done('artist', answer('shaker', true));
    expect(record.done('drummer', answer('Shaker', false))).toEqual([]);
    expect(record.song(song).parts).toEqual([
      { name: 'Tambourine', delivered: true },
      { name: 'shaker', delivered: true },
    ]);
  });

  it('gives way to the engineer’s list', () => {
    const record = storyAt(2);
    record.done('artist', answer('shaker', true));
    record.done('mixer', { type: 'nameParts', song, parts: [{ name: 'shaker', delivered: false }] });
    expect(record.song(song).parts).toEqual([{ name: 'shaker', delivered: false }]);
  });

  it('names a part, and ends where the list is full', () => {
    const record = storyAt(2);
    expect(record.decide('artist', answer('  ', true))).toMatchObject({ refusal: { code: 'malformed' } });
    // The list of parts that the engineer sends holds 300 at most.
    const parts = Array.from({ length: 300 }, (_, index) => ({ name: `part ${index}`, delivered: true }));
    record.done('mixer', { type: 'nameParts', song, parts });
    expect(record.decide('artist', answer('shaker', true))).toMatchObject({ refusal: { code: 'malformed' } });
  });
});
