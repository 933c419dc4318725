import { describe, expect, it } from 'vitest';
import { parseSeries } from '../../client/api/series.ts';
import type { Figures, Measurement } from '../../client/api/types.ts';
import { findingSentence, findingsOf } from '../../client/features/figures/finding.ts';
import { spotsOf } from '../../client/features/figures/over-list.ts';
import { undefinedReason } from '../../client/features/figures/undefined-reason.ts';
import { entryOf, figureEntries } from '../../client/features/glossary/figure-entries.ts';
import { tradeEntries } from '../../client/features/glossary/trade-entries.ts';
import { standards } from '../../server/measurement/engine.ts';
import { encodeSeries, seriesNames, undefinedLevel } from '../../server/measurement/series.ts';

const figures = {
  startSeconds: 0,
  endSeconds: 90,
  silent: false,
  integratedLoudnessLufs: -14,
  loudnessRangeLu: 5,
  loudnessRangeReliable: true,
  maxMomentaryLoudnessLufs: -10,
  maxShortTermLoudnessLufs: -12,
  truePeakDbtp: -1,
  samplePeakDbfs: -1.2,
  rmsDbfs: -17,
  rmsAes17Dbfs: -14,
  crestFactorDb: 15.8,
  plrDb: 13,
  dcOffset: [0, 0],
  clippedRuns: 0,
  correlation: 0.8,
  midSideBalanceDb: 9,
  monoFoldDownLossLu: 0.6,
  bands: [],
  tradeBands: [],
} satisfies Figures;

const measurement: Measurement = {
  ...figures,
  sampleRateHz: 48_000,
  channelCount: 2,
  frameCount: 4_320_000,
  durationSeconds: 90,
  headSilenceSeconds: 0,
  tailSilenceSeconds: 0,
  deadChannels: [],
  polaritySuspect: false,
  overs: [],
  oversCount: 0,
  clips: [],
  sections: [],
  engine: { name: 'countoff', version: '1' },
  standards: { ...standards },
};

/** Proves that the first sentence answers whether something is wrong, and that every kind of fault is named. */
describe('what is wrong with a file', () => {
  const found = (changed: Partial<Measurement>) =>
    findingsOf({ ...measurement, ...changed }).map(({ figure }) => figure);

  it('is nothing where a meter sees nothing', () => {
    expect(findingsOf(measurement)).toEqual([]);
    expect(findingSentence([])).toMatch(/nothing wrong/);
  });

  it('is each fault by itself', () => {
    expect(found({ oversCount: 3 })).toEqual(['oversCount']);
    expect(found({ clippedRuns: 1 })).toEqual(['clippedRuns']);
    expect(found({ deadChannels: [1] })).toEqual(['deadChannels']);
    expect(found({ polaritySuspect: true })).toEqual(['polaritySuspect']);
    expect(found({ dcOffset: [0.002, 0.0005] })).toEqual(['dcOffset']);
  });

  it('is silence alone where there is nothing else to measure', () => {
    expect(found({ silent: true, deadChannels: [0, 1], clippedRuns: null })).toEqual(['silent']);
  });

  it('is counted in the first sentence, and said in words', () => {
    const findings = findingsOf({ ...measurement, oversCount: 1, deadChannels: [0] });
    expect(findingSentence(findings)).toBe('Two things want a look.');
    expect(findings.map(({ words }) => words)).toEqual([
      'There is no sound in the left channel.',
      'The true peak passes full scale in one spot.',
    ]);
  });
});

describe('spots at full scale', () => {
  it('stand in the order in which they are heard, what falls within a tenth of a second together', () => {
    const spots = spotsOf({
      ...measurement,
      overs: [{ timeSeconds: 62.34, truePeakDbtp: 0.41 }],
      clips: [
        { timeSeconds: 4, frames: 5, channel: 1 },
        { timeSeconds: 62.31, frames: 3, channel: 0 },
        { timeSeconds: 62.33, frames: 7, channel: 1 },
      ],
    });
    expect(spots).toEqual([
      { seconds: 4, words: '5 samples at full scale, right' },
      {
        seconds: 62.31,
        words: 'true peak +0.41 dBTP; 2 runs of up to 7 samples at full scale, left and right',
      },
    ]);
  });
});

/**
 * Proves that a dash comes with its reason. A gating block lasts 400 ms (ITU-R BS.1770-5, Annex 1) and the short-term
 * window 3 s (EBU Tech 3341, 2.2).
 */
describe('why a figure is undefined', () => {
  const reason = (name: Parameters<typeof undefinedReason>[0], changed: object, channelCount = 2) =>
    undefinedReason(name, { ...figures, ...changed }, channelCount);

  it('is said of silence and of sections that can’t be measured', () => {
    expect(reason('truePeakDbtp', { silent: true })).toBe('silence');
    expect(reason('plrDb', { problem: 'outside_file' })).toBe('reaches outside the file');
    expect(reason('plrDb', { problem: 'too_short' })).toBe('shorter than 400 ms');
  });

  it('is said of stretches that are too short or too quiet', () => {
    expect(reason('integratedLoudnessLufs', { endSeconds: 0.3, integratedLoudnessLufs: null })).toBe(
      'shorter than 400 ms',
    );
    expect(reason('maxShortTermLoudnessLufs', { endSeconds: 2.9 })).toBe('shorter than 3 s');
    expect(reason('maxMomentaryLoudnessLufs', { endSeconds: 2.9, integratedLoudnessLufs: null })).toBe(
      'too quiet to be measured',
    );
  });

  it('is said of the image', () => {
    expect(reason('correlation', {}, 1)).toBe('mono');
    expect(reason('correlation', { correlation: null })).toBe('one channel is silent');
    expect(reason('midSideBalanceDb', { correlation: 1 })).toBe('left and right are the same');
    expect(reason('midSideBalanceDb', { correlation: -1 })).toBe('left and right are opposites');
    expect(reason('monoFoldDownLossLu', {})).toBe('nothing is left in mono');
  });
});

describe('series over time', () => {
  it('are read as the server wrote them', () => {
    const columns = Object.fromEntries(
      seriesNames.map((name, place) => [name, Int16Array.of(undefinedLevel, -1234 - place)]),
    ) as Parameters<typeof encodeSeries>[0]['columns'];
    const bytes = encodeSeries({ hopSeconds: 0.1, hopCount: 2, columns });
    const series = parseSeries(bytes.buffer as ArrayBuffer);
    expect(series.hopSeconds).toBe(0.1);
    expect(Object.keys(series.columns)).toEqual([...seriesNames]);
    expect(seriesNames.map((name) => series.columns[name])).toEqual(
      seriesNames.map((_name, place) => [null, (-1234 - place) / 100]),
    );
    expect(() => parseSeries(bytes.slice(0, -1).buffer)).toThrow(RangeError);
    expect(() => parseSeries(new ArrayBuffer(4))).toThrow(RangeError);
  });
});

/** Proves that nobody meets a figure that isn't explained, and that each explanation is short and has its standard. */
describe('the glossary', () => {
  const entries = { ...figureEntries, ...tradeEntries };

  it('has an entry for every figure, and every anchor once', () => {
    for (const name of Object.keys(figures)) expect(entries).toHaveProperty(entryOf[name as keyof Figures]);
    expect(Object.keys(figureEntries).filter((anchor) => anchor in tradeEntries)).toEqual([]);
    const explained = new Set<string>(Object.values(entryOf));
    expect(Object.keys(figureEntries).filter((anchor) => !explained.has(anchor))).toEqual([]);
  });

  it('explains each in two plain sentences', () => {
    for (const [anchor, { sentences }] of Object.entries(entries)) {
      const ends = sentences.map((sentence) => sentence.match(/[.!?](?=\s|$)/g)?.length);
      expect([anchor, ends]).toEqual([anchor, [1, 1]]);
      for (const sentence of sentences) expect(sentence).toMatch(/^[A-Z0-9].{10,130}\.$/);
    }
  });

  it('names the standards and editions that the engine measures by', () => {
    const named: [keyof typeof figureEntries, string][] = [
      ['integrated-loudness', standards.loudness],
      ['momentary-loudness', standards.meter],
      ['loudness-range', standards.loudnessRange],
      ['true-peak', standards.truePeak],
      ['third-octave-bands', standards.spectrum],
      ['rms', standards.rms],
    ];
    for (const [anchor, standard] of named) expect(standard).toContain(figureEntries[anchor].standard);
  });
});
