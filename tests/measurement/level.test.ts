import { describe, expect, it } from 'vitest';
import { MeasurementError } from '../../server/measurement/measurement-error.ts';
import { createMeter } from '../../server/measurement/meter.ts';
import { levelsOf, undefinedLevel } from '../../server/measurement/series.ts';
import { fromDb, inBoth, measure, tones, whiteNoise } from './signal.ts';

/** Proves the unweighted figures by their definitions, worked out by hand or in another way than the meter does. */
const rate = 48_000;

describe('RMS, peak and crest', () => {
  it('a full-scale 997 Hz sine: RMS −3.01, AES17 0 (AES17-2020), crest 3.01, sample peak 0', () => {
    const { rmsDbfs, rmsAes17Dbfs, crestFactorDb, samplePeakDbfs } = measure([
      tones({ hz: 997, peakDbfs: 0, seconds: 2 }),
    ]);
    expect(rmsDbfs).toBeCloseTo(-3.0103, 3);
    expect(rmsAes17Dbfs).toBeCloseTo(0, 3);
    expect(crestFactorDb).toBeCloseTo(3.0103, 3);
    expect(samplePeakDbfs).toBeCloseTo(0, 3);
  });

  it('a full-scale square: RMS 0, AES17 +3.01, crest 0', () => {
    const square = Float32Array.from({ length: rate }, (_, frame) => (frame % 96 < 48 ? 1 : -1));
    const { rmsDbfs, rmsAes17Dbfs, crestFactorDb } = measure(inBoth(square));
    expect(rmsDbfs).toBeCloseTo(0, 6);
    expect(rmsAes17Dbfs).toBeCloseTo(3.0103, 3);
    expect(crestFactorDb).toBeCloseTo(0, 6);
  });

  it('is the mean square over all channels and frames', () => {
    const channels = [1, 2, 3].map((seed) => whiteNoise(30_011, seed, seed / 10));
    let squares = 0;
    let peak = 0;
    for (const channel of channels) {
      for (const sample of channel) {
        squares += sample ** 2;
        peak = Math.max(peak, Math.abs(sample));
      }
    }
    const { rmsDbfs, samplePeakDbfs } = measure(channels);
    expect(rmsDbfs).toBeCloseTo(10 * Math.log10(squares / (3 * 30_011)), 9);
    expect(samplePeakDbfs).toBeCloseTo(20 * Math.log10(peak), 9);
  });

  it('PLR is true peak over integrated loudness', () => {
    const { plrDb, truePeakDbtp, integratedLoudnessLufs } = measure([whiteNoise(rate * 3, 9, 0.3)]);
    expect(plrDb).toBe(truePeakDbtp! - integratedLoudnessLufs!);
  });

  it('PSR over time is the true peak of the last 3 s over short-term loudness', () => {
    const { series } = measure(
      inBoth(tones({ hz: 1000, peakDbfs: -12, seconds: 2 }, { hz: 1000, peakDbfs: -6, seconds: 4 })),
    );
    const { truePeakDbtp, psrDb, shortTermLoudnessLufs } = series.columns;
    for (let index = 29; index < 60; index++) {
      const peaks = levelsOf(truePeakDbtp, index - 29, index + 1).map((peak) => peak!);
      const [shortTerm] = levelsOf(shortTermLoudnessLufs, index, index + 1);
      expect(levelsOf(psrDb, index, index + 1)[0]).toBeCloseTo(Math.max(...peaks) - shortTerm!, 1);
    }
    expect(psrDb[28]).toBe(undefinedLevel);
  });
});

describe('DC, clipping, silence', () => {
  it('the mean of each channel', () => {
    const tone = tones({ hz: 100, peakDbfs: -20, seconds: 2 });
    const { dcOffset } = measure([tone.map((sample) => sample + 0.01), tone.map((sample) => sample - 0.002)]);
    expect(dcOffset[0]).toBeCloseTo(0.01, 5);
    expect(dcOffset[1]).toBeCloseTo(-0.002, 5);
  });

  it('runs of three and more equal samples next to full scale (*common practice*)', () => {
    const channel = whiteNoise(rate, 5, 0.5);
    channel.fill(1, 1000, 1003); // three: clipped
    channel.fill(1, 2000, 2002); // two: not
    channel.fill(-1, 4798, 4806); // across the edge of a tenth of a second
    channel.fill(0.9, 9000, 9010); // flat, and under −0.1 dBFS
    channel.set([1, 1, 1, -1, -1, -1], 20_000); // two runs
    channel.fill(1, rate - 4, rate); // to the very end
    const { clippedRuns, clips } = measure([new Float32Array(rate), channel]);
    expect(clippedRuns).toBe(5);
    expect(
      clips.map(({ timeSeconds, frames, channel: index }) => [Math.round(timeSeconds * rate), frames, index]),
    ).toEqual([
      [1000, 3, 1],
      [4798, 8, 1],
      [20_000, 3, 1],
      [20_003, 3, 1],
      [rate - 4, 4, 1],
    ]);
  });

  it('first and last sound over −60 dBFS (*common practice*)', () => {
    const channel = new Float32Array(rate * 3);
    channel.fill(fromDb(-61));
    channel[12_345] = 0.5;
    channel[rate * 2 + 7] = fromDb(-59);
    const { headSilenceSeconds, tailSilenceSeconds } = measure([new Float32Array(channel.length), channel]);
    expect(headSilenceSeconds! * rate).toBeCloseTo(12_345, 6);
    expect(tailSilenceSeconds! * rate).toBeCloseTo(rate - 8, 6);
  });

  it('silence gives undefined figures, no error, and says so', () => {
    const measurement = measure(inBoth(new Float32Array(rate * 5)), rate, [
      { name: 'all', start: 0, end: 5 },
    ]);
    for (const figures of [measurement, measurement.sections[0]!]) {
      expect(figures.silent).toBe(true);
      expect(figures.integratedLoudnessLufs).toBeNull();
      expect(figures.maxMomentaryLoudnessLufs).toBeNull();
      expect(figures.maxShortTermLoudnessLufs).toBeNull();
      expect(figures.loudnessRangeLu).toBeNull();
      expect(figures.truePeakDbtp).toBeNull();
      expect(figures.samplePeakDbfs).toBeNull();
      expect(figures.rmsDbfs).toBeNull();
      expect(figures.rmsAes17Dbfs).toBeNull();
      expect(figures.crestFactorDb).toBeNull();
      expect(figures.plrDb).toBeNull();
      expect(figures.correlation).toBeNull();
      expect(figures.bands.every(({ levelDb }) => levelDb === null)).toBe(true);
    }
    expect(measurement.headSilenceSeconds).toBeNull();
    expect(measurement.deadChannels).toEqual([]);
  });

  it('dither under −60 dBFS is silence too', () => {
    expect(measure([whiteNoise(rate * 2, 6, 2 ** -15)]).silent).toBe(true);
  });

  it('a channel without sound beside one with sound is dead', () => {
    const tone = tones({ hz: 500, peakDbfs: -12, seconds: 1 });
    expect(measure([tone, new Float32Array(tone.length)]).deadChannels).toEqual([1]);
    expect(measure(inBoth(tone)).deadChannels).toEqual([]);
  });

  it('DC alone has a level and no loudness once the filter has settled', () => {
    const { samplePeakDbfs, rmsDbfs, bands } = measure([new Float32Array(rate * 4).fill(0.5)]);
    expect(samplePeakDbfs).toBeCloseTo(-6.0206, 3);
    expect(rmsDbfs).toBeCloseTo(-6.0206, 3);
    // What is left in the lowest bands is the step at the start and the end of the file.
    for (const { levelDb } of bands) expect(levelDb ?? -Infinity).toBeLessThan(-40);
  });
});

describe('stereo image', () => {
  const left = whiteNoise(rate * 4, 11, 0.2);
  const right = whiteNoise(rate * 4, 12, 0.2);
  const add = (one: Float32Array, other: Float32Array, gain: number) =>
    one.map((sample, frame) => sample + gain * other[frame]!);

  it('mono: correlation 1, no side, nothing lost', () => {
    const { correlation, midSideBalanceDb, monoFoldDownLossLu, polaritySuspect } = measure(inBoth(left));
    expect(correlation).toBeCloseTo(1, 9);
    expect(midSideBalanceDb).toBeNull();
    expect(monoFoldDownLossLu).toBeCloseTo(0, 6);
    expect(polaritySuspect).toBe(false);
  });

  it('two unrelated channels: correlation 0, mid as strong as side, 3.01 LU lost', () => {
    const { correlation, midSideBalanceDb, monoFoldDownLossLu, bands } = measure([left, right]);
    expect(Math.abs(correlation!)).toBeLessThan(0.02);
    expect(Math.abs(midSideBalanceDb!)).toBeLessThan(0.1);
    expect(Math.abs(monoFoldDownLossLu! - 3.01)).toBeLessThan(0.1);
    for (const band of bands.slice(12)) expect(Math.abs(band.correlation!)).toBeLessThan(0.2);
  });

  it('one channel turned over: correlation −1, nothing left in mono, and a suspicion', () => {
    const { correlation, monoFoldDownLossLu, polaritySuspect } = measure([
      left,
      left.map((sample) => -sample),
    ]);
    expect(correlation).toBeCloseTo(-1, 9);
    expect(monoFoldDownLossLu).toBeNull();
    expect(polaritySuspect).toBe(true);
  });

  it('a mid and a side of known powers: balance and correlation by their definitions', () => {
    // L = M + S and R = M − S with the side 10 dB under the mid: correlation (M² − S²) / (M² + S²).
    const gain = fromDb(-10);
    const { correlation, midSideBalanceDb } = measure([add(left, right, gain), add(left, right, -gain)]);
    expect(Math.abs(midSideBalanceDb! - 10)).toBeLessThan(0.1);
    expect(Math.abs(correlation! - (1 - 0.1) / (1 + 0.1))).toBeLessThan(0.01);
  });

  it('each band has its own correlation', () => {
    const low = tones({ hz: 100, peakDbfs: -12, seconds: 4 });
    const high = tones({ hz: 5011.87, peakDbfs: -12, seconds: 4 });
    const { bands } = measure([add(low, high, 1), add(low, high, -1)]);
    expect(bands.find(({ nominalHz }) => nominalHz === 100)!.correlation).toBeCloseTo(1, 3);
    expect(bands.find(({ nominalHz }) => nominalHz === 5000)!.correlation).toBeCloseTo(-1, 3);
  });
});

describe('samples that have no level', () => {
  it.each([
    ['nan_sample', Number.NaN],
    ['infinite_sample', Infinity],
    ['infinite_sample', -Infinity],
  ])('%s is refused with its time', (code, value) => {
    const channel = whiteNoise(rate * 2, 7, 0.3);
    channel[72_000] = value;
    const refused = () => measure([new Float32Array(channel.length), channel]);
    expect(refused).toThrow(MeasurementError);
    expect(refused).toThrow(expect.objectContaining({ code, message: expect.stringContaining('1.500 s') }));
  });

  it('no frames at all are refused', () => {
    expect(() => createMeter({ sampleRateHz: rate, channelCount: 2 }).finish()).toThrow(
      expect.objectContaining({ code: 'no_frames' }),
    );
  });

  it.each([1, 2, 31, 32, 33, 100, 479, 481, 4799, 4801])('%i frames are measured', (frames) => {
    const { rmsDbfs, integratedLoudnessLufs, frameCount, samplePeakDbfs } = measure([
      new Float32Array(frames).fill(0.5),
    ]);
    expect(frameCount).toBe(frames);
    expect(rmsDbfs).toBeCloseTo(-6.0206, 3);
    expect(samplePeakDbfs).toBeCloseTo(-6.0206, 3);
    expect(integratedLoudnessLufs).toBeNull();
  });
});
