import { describe, expect, it } from 'vitest';
import type { Sorting } from '../../client/api/song-calls.ts';
import { lacksPlace, vagueQuestion } from '../../client/features/listen/vague-wish.ts';

/** Proves that a wish which names no part is asked back about, that one which does is not, and when a place is offered. */
const sorted = (target: string | null, more: Partial<Sorting['requests'][number]> = {}): Sorting => ({
  requests: [
    {
      text: '',
      start: 0,
      end: 0,
      level: 'mix',
      kind: 'dynamics',
      target,
      direction: 'up',
      place: null,
      range: null,
      grey: false,
      confidence: 1,
      why: '',
      ...more,
    },
  ],
  protections: [],
  question: null,
  meaning: '',
});
const parts = [{ name: 'Drums', delivered: true }];

describe('a vague wish', () => {
  it.each([
    ['more energy', null, 'What should have more energy?'],
    ['More life in the chorus', 'whole mix', 'What should have more life?'],
    ['make it pop', 'pop noise', 'What should stand out more?'],
    ['needs something', null, 'What is missing, or where?'],
    ['make it bigger', null, 'What should be bigger?'],
    ['I’m not feeling it', null, 'What would you change first?'],
  ])('%s is asked back about', (text, target, question) => {
    expect(vagueQuestion(text, sorted(target), parts)).toBe(question);
  });

  it.each([
    ['more energy in the drums', 'drums'],
    ['more energy in the drums', null],
    ['more energy for the whole song', 'whole mix'],
    ['vocal up', 'lead vocal'],
    ['kick louder', null],
  ])('%s says what it is about', (text, target) => {
    expect(vagueQuestion(text, sorted(target), parts)).toBeNull();
  });

  it('is left alone beside other wishes, and before anything is sorted', () => {
    const two = { ...sorted(null), requests: [...sorted(null).requests, ...sorted('snare').requests] };
    expect(vagueQuestion('more energy, and snare up', two, parts)).toBeNull();
    expect(vagueQuestion('more energy', null, parts)).toBeNull();
  });
});

describe('a request without a place', () => {
  it('is one of the mix or the production with neither words nor a pin for it', () => {
    expect(lacksPlace(sorted('snare'))).toBe(true);
    expect(lacksPlace(sorted('snare', { place: 'chorus' }))).toBe(false);
    expect(lacksPlace(sorted('snare', { range: { startSeconds: 3, endSeconds: null } }))).toBe(false);
    expect(lacksPlace(sorted('whole mix', { level: 'mastering' }))).toBe(false);
    expect(lacksPlace(sorted(null, { level: 'none' }))).toBe(false);
  });
});
