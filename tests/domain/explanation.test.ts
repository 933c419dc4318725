import { describe, expect, it } from 'vitest';
import { ledgerWords } from '../../server/application/ledger-words.ts';
import type { CommandOf } from '../../server/domain/command.ts';
import { samePlace } from '../../server/domain/explanation.ts';
import type { RecordUnderTest } from './record-under-test.ts';
import { storyAt, storySong } from './worked-story.ts';

/**
 * Proves who may explain a change that nobody asked for, that it must be about two versions in their order and a place
 * in the newer one, and that the last word about a place holds while the ledger keeps all of them.
 */
const song = storySong;
const explain = (more: Partial<CommandOf<'explainChange'>> = {}): CommandOf<'explainChange'> => ({
  type: 'explainChange',
  song,
  olderVersionId: 'mix-1',
  newerVersionId: 'mix-2',
  place: { startSeconds: 90, endSeconds: 105 },
  text: 'The bass went down with the drum bus.',
  ...more,
});
/** Mix v2 is posted. */
const given = (): RecordUnderTest => storyAt(9);

describe('an explanation', () => {
  it('is given by whoever may post at the gate of the newer version', () => {
    const record = given();
    const may = (by: string, command: CommandOf<'explainChange'>) => {
      const decision = record.decide(by, command);
      return decision.ok || decision.refusal.code;
    };
    expect(may('mixer', explain())).toBe(true);
    for (const by of ['artist', 'drummer', 'label', 'manager', 'producer', 'masterer'])
      expect([by, may(by, explain())]).toEqual([by, 'not_entitled']);
    const production = explain({ olderVersionId: 'rough-1', newerVersionId: 'rough-2' });
    expect(may('producer', production)).toBe(true);
    expect(may('masterer', production)).toBe('not_entitled');
  });

  it('names two versions in the order in which they were posted', () => {
    const record = given();
    for (const pair of [
      { olderVersionId: 'mix-2', newerVersionId: 'mix-1' },
      { olderVersionId: 'mix-2', newerVersionId: 'mix-2' },
    ])
      expect(record.decide('mixer', explain(pair))).toMatchObject({ refusal: { code: 'malformed' } });
    expect(record.decide('mixer', explain({ newerVersionId: 'mix-9' }))).toMatchObject({
      refusal: { code: 'version_unknown' },
    });
  });

  it('has words, and a place in the newer version or none', () => {
    const record = given();
    for (const more of [
      { text: '  ' },
      { place: { startSeconds: 20, endSeconds: 10 } },
      { place: { startSeconds: -1, endSeconds: null } },
      // The story's files last 210 s.
      { place: { startSeconds: 211, endSeconds: null } },
    ])
      expect(record.decide('mixer', explain(more))).toMatchObject({ refusal: { code: 'malformed' } });
    expect(record.decide('mixer', explain({ place: null })).ok).toBe(true);
  });

  it('is written once, and a later one about the place stands beside it', () => {
    const record = given();
    expect(record.done('mixer', explain())).toEqual(['changeExplained']);
    expect(record.done('mixer', explain())).toEqual([]);
    expect(record.done('mixer', explain({ text: 'It goes back in Mix v3.' }))).toEqual(['changeExplained']);
    expect(record.song(song).explanations).toMatchObject([
      { text: 'The bass went down with the drum bus.', by: 'mixer', newerVersionId: 'mix-2' },
      { text: 'It goes back in Mix v3.' },
    ]);
    expect(ledgerWords(record.record, record.entries.at(-1)!)).toBe(
      'explained what changed at 1:30 from Mix v1 to Mix v2: “It goes back in Mix v3.” · Lanterns',
    );
  });
});

describe('a place', () => {
  it('is the same to a hundredth of a second, and the whole song is none', () => {
    expect(samePlace(null, null)).toBe(true);
    expect(samePlace(null, { startSeconds: 0, endSeconds: null })).toBe(false);
    expect(samePlace({ startSeconds: 1, endSeconds: 2 }, { startSeconds: 1.004, endSeconds: 2 })).toBe(true);
    expect(samePlace({ startSeconds: 1, endSeconds: 2 }, { startSeconds: 1, endSeconds: null })).toBe(false);
  });
});
