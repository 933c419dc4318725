import { describe, expect, it } from 'vitest';
import { hertzWords, largestBands, oneChangeWords } from '../../client/elements/comparison-words.ts';
import { difference, figure } from '../../client/elements/figures-table.ts';
import { hashGroups, shortHash } from '../../client/elements/file-hash.ts';
import { fileSizeWords, formatWords } from '../../client/elements/format-words.ts';
import { daysLeft } from '../../client/features/record/next-step.ts';
import { priceMinorUnits } from '../../client/features/scope/price.ts';

describe('figures are said with their unit, a real minus and never a bare zero with a sign', () => {
  it('levels and differences', () => {
    expect(figure(-14.04, 'LUFS')).toBe('−14.0 LUFS');
    expect(figure(null, 'LUFS')).toBe('–');
    expect(difference(1.44, 'LU')).toBe('+1.4 LU');
    expect(difference(-0.6, 'LU')).toBe('−0.6 LU');
    expect(difference(-0.02, 'LU')).toBe('±0.0 LU');
    expect(difference(null, 'LU')).toBe('–');
  });

  it('frequencies as they stand on meters', () => {
    expect([31.5, 315, 1000, 2500, 12_500].map(hertzWords)).toEqual([
      '31.5 Hz',
      '315 Hz',
      '1 kHz',
      '2.5 kHz',
      '12.5 kHz',
    ]);
  });
});

describe('a SHA-256 can be read aloud', () => {
  // SHA-256 of the empty message, FIPS 180-4 examples.
  const empty = 'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855';

  it('in sixteen groups of four', () => {
    expect(hashGroups(empty)).toBe(
      'e3b0 c442 98fc 1c14 9afb f4c8 996f b924 27ae 41e4 649b 934c a495 991b 7852 b855',
    );
    expect(shortHash(empty)).toBe('e3b0 c442 … b855');
  });
});

describe('what changed in a section is said shortly to an engineer', () => {
  const bands = [
    { nominalHz: 1000, differenceDb: 1.3, matchedDifferenceDb: 1.2 },
    { nominalHz: 2000, differenceDb: -2, matchedDifferenceDb: -2.1 },
    { nominalHz: 4000, differenceDb: 0.5, matchedDifferenceDb: 0.4 },
    { nominalHz: 20_000, differenceDb: null, matchedDifferenceDb: null },
  ];

  it('the largest bands first, what nobody notices left out', () => {
    expect(largestBands({ bands })).toEqual([
      { nominalHz: 2000, differenceDb: -2.1 },
      { nominalHz: 1000, differenceDb: 1.2 },
    ]);
  });

  it('what was heard, in which bands, and what a part’s own fader did', () => {
    const band = { lowestHz: 630, highestHz: 2500 };
    expect(oneChangeWords({ kind: 'up', band, confidence: 1, partGainDb: 1.9, towards: null })).toBe(
      'up, 630 Hz to 2.5 kHz, the part itself +1.9 dB if one part moved',
    );
  });
});

describe('files and days are said as people say them', () => {
  it('format and size', () => {
    expect(
      formatWords({
        container: 'wav',
        encoding: 'float',
        sampleRateHz: 44_100,
        channelCount: 2,
        bitDepth: 32,
        frameCount: 1,
        durationSeconds: 1,
      }),
    ).toBe('WAV, 32 bit float, 44.1 kHz, stereo');
    expect([7_761_644, 900, 2_500_000_000].map(fileSizeWords)).toEqual(['7.8 MB', '1 kB', '2.50 GB']);
  });

  it('how long there is for notes', () => {
    const now = Date.parse('2026-03-02T10:00:00Z');
    expect(daysLeft('2026-03-08T09:00:00Z', now)).toEqual({ words: '6 days left', overdue: false });
    expect(daysLeft('2026-03-02T18:00:00Z', now)).toEqual({ words: 'last day', overdue: false });
    expect(daysLeft('2026-03-02T09:59:00Z', now)).toEqual({ words: 'overdue', overdue: true });
    expect(daysLeft(null, now)).toBeNull();
  });
});

describe('a change order’s price is hours by the contract’s rate', () => {
  it('1.5 h at € 60.00 is € 90.00', () => {
    // The worked story: the producer prices 1.5 h, change order € 90.00.
    expect(priceMinorUnits(1.5, 6000)).toBe(9000);
    expect(priceMinorUnits(0, 6000)).toBeNull();
    expect(priceMinorUnits(Number.NaN, 6000)).toBeNull();
  });
});
