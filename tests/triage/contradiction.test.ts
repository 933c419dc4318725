import { describe, expect, it } from 'vitest';
import { findContradiction, type PlacedRequest } from '../../server/triage/contradiction.ts';
import { compareTexts } from '../../server/triage/text-comparison.ts';
import { labelledPairs, pairScores } from '../bench/triage-scores.ts';

const request = (over: Partial<PlacedRequest>): PlacedRequest => ({
  text: '',
  kind: 'balance',
  target: 'snare',
  direction: 'up',
  start: 0,
  end: 100,
  ...over,
});

// Proves the conflict rules beside the labelled pairs: same target, overlapping places, and not both possible.
describe('two requests', () => {
  it.each<[string, Partial<PlacedRequest>, Partial<PlacedRequest>, boolean, string]>([
    ['opposite directions', {}, { direction: 'down' }, true, 'opposite'],
    ['touching edges do not overlap', { end: 50 }, { direction: 'down', start: 50 }, false, 'no-overlap'],
    ['other targets', {}, { target: 'kick', direction: 'down' }, false, 'different-targets'],
    [
      'one or many of a part are one target',
      { target: 'electric guitar' },
      { target: 'electric guitars', direction: 'down' },
      true,
      'opposite',
    ],
    ['agreement', {}, {}, false, 'agreement'],
    ['other controls of one target', {}, { kind: 'space', direction: 'down' }, false, 'compatible'],
    ['keep against change', { direction: null }, { direction: 'down' }, true, 'keep-vs-change'],
    [
      'keep one control against another',
      { direction: null, kind: 'tone' },
      { direction: 'down' },
      false,
      'compatible',
    ],
    ['gone against kept and changed', { kind: 'mute', direction: 'remove' }, {}, true, 'gone-vs-kept'],
    [
      'mute against unmute',
      { kind: 'mute', direction: 'remove' },
      { kind: 'mute', direction: 'add' },
      true,
      'opposite',
    ],
    [
      'a fader against a ride of the same thing',
      {},
      { kind: 'automation', direction: 'down' },
      true,
      'opposite',
    ],
    [
      'a question clashes with nothing',
      { kind: 'question', direction: null },
      { direction: 'down' },
      false,
      'compatible',
    ],
    [
      'two takes',
      { kind: 'comp', direction: 'change', text: 'use take 1' },
      { kind: 'comp', direction: 'change', text: 'take 3 please' },
      true,
      'incompatible',
    ],
    [
      'the same take',
      { kind: 'comp', direction: 'change', text: 'use take 3' },
      { kind: 'comp', direction: 'change', text: 'the third take' },
      false,
      'agreement',
    ],
    [
      'two sides',
      { kind: 'pan', direction: 'change', text: 'to the left' },
      { kind: 'pan', direction: 'change', text: 'more right' },
      true,
      'incompatible',
    ],
    [
      'two ends of the sound',
      { kind: 'tone', direction: 'up', text: 'more low end' },
      { kind: 'tone', direction: 'down', text: 'less harsh' },
      false,
      'compatible',
    ],
  ])('%s', (_, a, b, conflict, relation) => {
    for (const [one, other] of [
      [a, b],
      [b, a],
    ])
      expect(findContradiction(request(one!), request(other!))).toMatchObject({ conflict, relation });
  });
  it('says why in words that name both', () => {
    const { why } = findContradiction(
      request({ text: 'snare up' }),
      request({ text: 'snare down', direction: 'down' }),
    );
    expect(why).toContain('snare up');
    expect(why).toContain('snare down');
  });
});

describe('labelled pairs', () => {
  it('are told apart by their labels without a fault', () => {
    const scores = pairScores(
      labelledPairs('conflicts.jsonl'),
      ({ a, b }) => findContradiction(a, b).conflict,
    );
    expect(scores).toEqual({ precision: 1, recall: 1 });
  });
  // By hands that knew neither the lexicon nor the pairs that were learned from; the floor is what was reached.
  it.each([
    ['held-out-plain-conflicts.jsonl', 0.85, 0.85],
    ['held-out-far-conflicts.jsonl', 0.75, 0.75],
  ])('%s: told apart from their words', (file, precisionFloor, recallFloor) => {
    const { precision, recall } = pairScores(
      labelledPairs(file),
      ({ a, b }) => compareTexts({ ...a, who: null }, { ...b, who: null }).conflict,
    );
    expect(precision).toBeGreaterThanOrEqual(precisionFloor);
    expect(recall).toBeGreaterThanOrEqual(recallFloor);
  });
  it('whose authors are known resolve “me” to what they play', () => {
    const reel = { start: 30, end: 58 };
    const a = { text: 'I cannot hear myself in the reel at all', ...reel, who: 'fiddler' };
    const b = { text: 'all i hear in the reel is fiddle', ...reel };
    expect(compareTexts(a, b).conflict).toBe(true);
  });
});

describe('bad input', () => {
  it('of any kind finds nothing and throws nothing', () => {
    for (const text of ['', '🔥', 'гитара', '<script>', 'a'.repeat(5000)])
      expect(
        compareTexts({ text, start: 0, end: 10 }, { text: 'vocal up', start: 0, end: 10 }).conflict,
      ).toBe(false);
  });
});
