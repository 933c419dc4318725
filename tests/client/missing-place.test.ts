import { describe, expect, it } from 'vitest';
import type { Sorting } from '../../client/api/song-calls.ts';
import { lacksPlace } from '../../client/features/listen/missing-place.ts';

/** Proves when a place is offered for a wish. */
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
describe('a request without a place', () => {
  it('is one of the mix or the production with neither words nor a pin for it', () => {
    expect(lacksPlace(sorted('snare'))).toBe(true);
    expect(lacksPlace(sorted('snare', { place: 'chorus' }))).toBe(false);
    expect(lacksPlace(sorted('snare', { range: { startSeconds: 3, endSeconds: null } }))).toBe(false);
    expect(lacksPlace(sorted('whole mix', { level: 'mastering' }))).toBe(false);
    expect(lacksPlace(sorted(null, { level: 'none' }))).toBe(false);
  });
});
