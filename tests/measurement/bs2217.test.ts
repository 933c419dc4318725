import { describe, expect, it } from 'vitest';
import { fromDb, measure, tones } from './signal.ts';

/**
 * Proves the expected values of Report ITU-R BS.2217's compliance files on tones rebuilt to be what the files' names say:
 * a tone, a channel layout and a loudness, ±0.1 LKFS, 48 kHz. The level of each tone follows from BS.1770-5's formulas
 * and the response of its published filters.
 */
const tolerance = 0.1;

/** Response of the published filters in dB, calculated with another program. */
const responseDb: Record<number, number> = {
  25: -10.3928,
  100: -1.1335,
  500: 0.0425,
  1000: 0.6977,
  2000: 3.0713,
  10000: 4.0419,
};

/** Peak level at which one channel of weight 1 reads `lkfs`: mean square of a sine is half its peak's square. */
const peakFor = (lkfs: number, hz: number, channels = 1) =>
  lkfs + 0.691 - responseDb[hz]! + 10 * Math.log10(2) - 10 * Math.log10(channels);

const near = (value: number | null, expected: number) => {
  expect(value).not.toBeNull();
  expect(Math.abs(value! - expected)).toBeLessThanOrEqual(tolerance);
};
const silence = (channel: Float32Array) => new Float32Array(channel.length);

describe('BS.2217, rebuilt', () => {
  const loudnesses = [-23, -24];

  describe.each(loudnesses)('%i LKFS', (lkfs) => {
    it.each([25, 100, 500, 1000, 2000, 10000])('%i Hz in two channels', (hz) => {
      const tone = tones({ hz, peakDbfs: peakFor(lkfs, hz, 2), seconds: 20 });
      near(measure([tone, tone]).integratedLoudnessLufs, lkfs);
    });

    it.each([
      ['left', 0, 1],
      ['right', 1, 1],
      ['centre', 2, 1],
      ['left surround', 4, 1.41],
      ['right surround', 5, 1.41],
    ])('channel check of 5.1, %s alone', (_, channel, weight) => {
      const peakDbfs = peakFor(lkfs, 1000) - 10 * Math.log10(weight);
      const tone = tones({ hz: 1000, peakDbfs, seconds: 20 });
      const channels = Array.from({ length: 6 }, (_unused, index) =>
        index === channel ? tone : silence(tone),
      );
      near(measure(channels).integratedLoudnessLufs, lkfs);
    });

    it('summing test of 5.1', () => {
      const tone = tones({
        hz: 1000,
        peakDbfs: peakFor(lkfs, 1000) - 10 * Math.log10(3 + 2 * 1.41),
        seconds: 20,
      });
      near(measure(Array.from({ length: 6 }, () => tone)).integratedLoudnessLufs, lkfs);
    });
  });

  it('channel check of 5.1, low-frequency effects alone: undefined', () => {
    const tone = tones({ hz: 1000, peakDbfs: peakFor(-23, 1000), seconds: 20 });
    const channels = Array.from({ length: 6 }, (_, index) => (index === 3 ? tone : silence(tone)));
    expect(measure(channels).integratedLoudnessLufs).toBeNull();
  });

  it('absolute gate: −69.5 beside something under −70 reads −69.5', () => {
    const part = (lkfs: number) => ({ hz: 1000, peakDbfs: peakFor(lkfs, 1000, 2), seconds: 10 });
    const signal = tones(part(-69.5), part(-72), part(-69.5));
    near(measure([signal, signal]).integratedLoudnessLufs, -69.5);
  });

  it('relative gate: −10 beside something more than 10 LU under the whole reads −10', () => {
    const part = (lkfs: number) => ({ hz: 1000, peakDbfs: peakFor(lkfs, 1000, 2), seconds: 10 });
    const signal = tones(part(-10), part(-24), part(-10));
    near(measure([signal, signal]).integratedLoudnessLufs, -10);
  });

  it('7.1: the pair behind 120° weighs 1 and the sides weigh 1.41 (BS.1770-5, Table 4)', () => {
    const tone = tones({ hz: 1000, peakDbfs: peakFor(-23, 1000), seconds: 5 });
    const quiet = tone.map((sample) => sample * fromDb(-10 * Math.log10(1.41)));
    const alone = (channel: number, signal: Float32Array) =>
      measure(
        Array.from({ length: 8 }, (_, index) => (index === channel ? signal : silence(tone))),
        48_000,
        [],
        0x63f,
      ).integratedLoudnessLufs;
    near(alone(4, tone), -23);
    near(alone(6, quiet), -23);
  });
});
