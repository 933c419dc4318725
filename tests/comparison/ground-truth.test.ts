import { describe, expect, it } from 'vitest';
import { compareSounds } from '../../server/measurement/comparison.ts';
import { synthesiseSong } from './synthetic-song.ts';
import { faderCases, otherCases, type TruthCase } from './truth-case.ts';
import { scoreOf, type TruthScore } from './truth-score.ts';

/**
 * Proves that the comparison finds what was done to a mix whose parts are known: expectations are worked out from the
 * parts by BS.1770's, RMS's and IEC 61260-1's definitions, in `truth.ts`, or are what was done itself.
 */
const song = synthesiseSong({ bars: 12, barsInSection: 2 });
const chorus = 2;

function score(truth: TruthCase): TruthScore {
  const comparison = compareSounds(
    { channels: truth.a, sampleRateHz: song.sampleRateHz },
    { channels: truth.b, sampleRateHz: truth.sampleRateHzB },
    song.sections,
  );
  return scoreOf(song, truth, comparison);
}

describe('one of each kind of change', () => {
  for (const truth of otherCases(song, chorus)) {
    it(truth.name, () => {
      const found = score(truth);
      expect(found.offsetErrorFrames).toBeLessThanOrEqual(Number.isInteger(truth.offsetFrames) ? 0 : 0.02);
      expect(found.gainErrorDb).toBeLessThan(0.02);
      expect(found.polarityRight).toBe(true);
      expect(found.cutErrorSeconds ?? 0).toBeLessThan(0.02);
      expect(found.calmCalledChanged).toBe(0);
      expect(found.found ?? true).toBe(true);
      expect(found.kindRight ?? true).toBe(true);
      expect(found.partGainErrorDb ?? 0).toBeLessThan(0.1);
    });
  }
});

describe('a fader moved in one section', () => {
  for (const truth of faderCases(song, [chorus], [0.5, -1])) {
    it(truth.name, () => {
      const found = score(truth);
      expect(found.gainErrorDb).toBeLessThan(0.02);
      expect(found.found).toBe(true);
      expect(found.kindRight).toBe(true);
      expect(found.calmCalledChanged).toBe(0);
      expect(found.loudnessErrorLu).toBeLessThan(0.05);
      expect(found.rmsErrorDb).toBeLessThan(0.02);
      expect(found.bandErrorDb).toBeLessThan(0.2);
    });
  }
});
