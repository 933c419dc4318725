import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { barAndBeat, barCount, parseTimeCode, rangeCode, timeCode } from '../../client/elements/time-code.ts';

/** Proves that times read as counters show them and that what is typed is understood. */
describe('a time as people read and type it', () => {
  it('is minutes and seconds, with tenths where asked', () => {
    expect(timeCode(74.29)).toBe('1:14');
    expect(timeCode(74.29, { tenths: true })).toBe('1:14.2');
    expect(timeCode(0)).toBe('0:00');
    expect(timeCode(3599.99)).toBe('59:59');
    expect(rangeCode({ startSeconds: 28, endSeconds: 36 })).toBe('0:28–0:36');
  });

  it('is read in the ways people type it', () => {
    expect(parseTimeCode('1:14.2')).toBeCloseTo(74.2, 9);
    expect(parseTimeCode(' 1:14,2 ')).toBeCloseTo(74.2, 9);
    expect(parseTimeCode('74')).toBe(74);
    expect(parseTimeCode('1:02:03')).toBe(3723);
  });

  it('is refused where it is none', () => {
    for (const text of ['', 'chorus', '1:75', '1:', ':30', '-3', '1:2:3:4'])
      expect(parseTimeCode(text)).toBeNull();
  });

  it('comes back within a tenth', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 5000, noNaN: true }), (seconds) => {
        const back = parseTimeCode(timeCode(seconds, { tenths: true }))!;
        expect(Math.abs(back - seconds)).toBeLessThan(0.1 + 1e-6);
      }),
    );
  });
});

/** Proves the arithmetic of bars: at 120 beats a minute a beat is 0.5 s, four of them a bar of 2 s. */
describe('bars and beats', () => {
  const grid = { tempoBpm: 120, beatsPerBar: 4, firstBarSeconds: 1 };

  it('count from one at the first bar', () => {
    expect(barAndBeat(1, grid)).toEqual({ bar: 1, beat: 1 });
    expect(barAndBeat(2.5, grid)).toEqual({ bar: 1, beat: 4 });
    expect(barAndBeat(3, grid)).toEqual({ bar: 2, beat: 1 });
    expect(barCount(1, 33, grid)).toBe(16);
  });

  it('are not claimed before bar one or without a tempo', () => {
    expect(barAndBeat(0.5, grid)).toBeNull();
    expect(barAndBeat(5, { ...grid, tempoBpm: null })).toBeNull();
    expect(barCount(0, 8, { ...grid, beatsPerBar: null })).toBeNull();
  });
});
