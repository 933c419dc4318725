import { describe, expect, it } from 'vitest';
import { type ChangeMap, undefinedCell } from '../../client/api/change.ts';
import type { ChangeFigures } from '../../client/api/types.ts';
import { mapScaleDb, strongestCell } from '../../client/features/changed/map-picture.ts';
import { changeAloneWords } from '../../client/features/listen/change-alone.ts';

/** Proves that a picture with fewer columns than the map has hops loses no change, and colours nothing that is none. */
describe('the picture of a map', () => {
  // Quarters of a decibel by hand: +6, +0.25, −12 dB, nothing, no value; residuals in dB.
  const map: ChangeMap = {
    hopSeconds: 0.25,
    hopCount: 5,
    nominalHz: [1000],
    limited: false,
    difference: [Int8Array.of(24, 1, -48, 0, undefinedCell)],
    residual: [Int8Array.of(-6, -10, -1, undefinedCell, undefinedCell)],
  };

  it('shows the strongest of several hops, whichever way it went', () => {
    expect(strongestCell(map, 0, 0, 2)).toEqual({ sign: 'up', differenceDb: 6, residualDb: -6 });
    expect(strongestCell(map, 0, 0, 5)).toMatchObject({ sign: 'down', differenceDb: -12 });
  });

  it('tells what differs without being louder from what did not change, and that from what has no value', () => {
    expect(strongestCell(map, 0, 1, 2).sign).toBe('as loud');
    expect(strongestCell(map, 0, 3, 5)).toEqual({ sign: 'still', differenceDb: 0, residualDb: null });
    expect(strongestCell(map, 0, 4, 5).sign).toBe('undefined');
  });

  it('is scaled by what is in it, one outlier in a hundred left aside', () => {
    expect(mapScaleDb(map)).toBe(6);
    const row = new Int8Array(100).fill(8);
    row[50] = -127;
    expect(mapScaleDb({ difference: [row] })).toBe(3);
    expect(mapScaleDb({ difference: [Int8Array.of(0, 1, undefinedCell)] })).toBeNull();
  });
});

/** Proves that a listener is told what is heard and what was done to its level, whatever that was. */
describe('what is said of the change alone', () => {
  const figures: ChangeFigures = {
    gainDb: 8.25,
    gainLimit: 'loudness',
    silent: false,
    integratedLoudnessLufs: -24,
    truePeakDbtp: -10,
    mixIntegratedLoudnessLufs: -14,
    unmatchedSeconds: 0,
  };
  const words = (part: Partial<ChangeFigures>) =>
    changeAloneWords({ ...figures, ...part }, 'Mix v3', 'Mix v2');

  it.each([
    [{}, /Mix v3 less Mix v2, matched; silent where nothing changed\. It is turned up 8\.3 dB/],
    [{ gainDb: -3.1 }, /turned down 3\.1 dB to stay under the mix/],
    [{ gainDb: -3.1, gainLimit: 'true peak' as const }, /turned down 3\.1 dB to stay under −1 dBTP/],
    [{ gainDb: 0.01 }, /at its own level/],
    [{ gainDb: 0, gainLimit: 'no loudness' as const }, /left at its own level.*dither/],
    [{ silent: true }, /^Nothing will be heard: .*not a sample differs/],
    [{ unmatchedSeconds: 4 }, /What only the newer one has \(4\.0 s\) is left out/],
  ])('%o', (part, said) => {
    expect(words(part)).toMatch(said);
  });
});
