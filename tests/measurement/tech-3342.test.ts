import { describe, expect, it } from 'vitest';
import { inBoth, measure, steps } from './signal.ts';

/**
 * Proves loudness range by EBU Tech 3342 v4, Table 1: 20 s of 1 kHz stereo at each level, tolerance ±1 LU. Cases 5 and 6
 * are programmes. Two outside meters read cases 1 to 4 within 0.001 of the nominal value.
 */
describe('EBU Tech 3342 v4, Table 1', () => {
  it.each([
    ['1', [-20, -30], 10],
    ['2', [-20, -15], 5],
    ['3', [-40, -20], 20],
    ['4', [-50, -35, -20, -35, -50], 15],
  ])('case %s', (_, levels, expected) => {
    const { loudnessRangeLu } = measure(
      inBoth(steps(...levels.map((level): [number, number] => [20, level]))),
    );
    expect(Math.abs(loudnessRangeLu! - expected)).toBeLessThanOrEqual(0.01);
  });

  it('is flagged under 60 s, and undefined under 3 s and in silence', () => {
    expect(measure(inBoth(steps([59.9, -20]))).loudnessRangeReliable).toBe(false);
    expect(measure(inBoth(steps([60, -20]))).loudnessRangeReliable).toBe(true);
    expect(measure(inBoth(steps([2.9, -20]))).loudnessRangeLu).toBeNull();
    expect(measure(inBoth(steps([5, -Infinity]))).loudnessRangeLu).toBeNull();
  });
});
