import { describe, expect, it } from 'vitest';
import { MarkedSpan } from '../../client/features/listen/marked-span.ts';

/** Proves that an edge in the hand isn't taken away: what did not change stays the very same. */
describe('the marked range in the close-up', () => {
  it('is the same array until the range changes, and empty for a moment or nothing', () => {
    const marked = new MarkedSpan();
    const first = marked.of({ startSeconds: 3, endSeconds: 8 });
    expect(first).toMatchObject([{ startSeconds: 3, endSeconds: 8, editable: true }]);
    expect(marked.of({ startSeconds: 3, endSeconds: 8 })).toBe(first);
    expect(marked.of({ startSeconds: 3, endSeconds: 9 })).not.toBe(first);
    expect(marked.of({ startSeconds: 3, endSeconds: null })).toEqual([]);
    expect(marked.of(null)).toEqual([]);
  });
});
