import { describe, expect, it } from 'vitest';
import { decodeSeries, encodeSeries, levelsOf, seriesNames } from '../../server/measurement/series.ts';
import { inBoth, measure, tones } from './signal.ts';

describe('series over time', () => {
  const { series } = measure(inBoth(tones({ hz: 1000, peakDbfs: -20, seconds: 5 })));

  it('are undefined until the first window is full: 400 ms and 3 s (EBU Tech 3341, 2.2)', () => {
    const { momentaryLoudnessLufs, shortTermLoudnessLufs } = series.columns;
    expect(levelsOf(momentaryLoudnessLufs, 0, 3)).toEqual([null, null, null]);
    expect(levelsOf(momentaryLoudnessLufs, 3, 4)[0]).toBeCloseTo(-19.99, 2);
    expect(levelsOf(shortTermLoudnessLufs, 28, 29)).toEqual([null]);
    expect(levelsOf(shortTermLoudnessLufs, 29, 30)[0]).toBeCloseTo(-19.99, 2);
  });

  it('come back from their stored form as they went in', () => {
    expect(decodeSeries(encodeSeries(series))).toEqual(series);
  });

  it('take two bytes a value, ten times a second', () => {
    expect(encodeSeries(series)).toHaveLength(16 + 2 * 50 * seriesNames.length);
  });

  it('are refused when cut off', () => {
    expect(() => decodeSeries(encodeSeries(series).subarray(0, -1))).toThrow(RangeError);
  });
});
