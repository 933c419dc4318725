import { describe, expect, it } from 'vitest';
import type { Figures } from '../../server/measurement/measurement.ts';
import { createMeter } from '../../server/measurement/meter.ts';
import { fromDb, measure, tones, whiteNoise } from './signal.ts';

/** Proves that a section's figures are those of exactly its frames, whatever lies around it. */
const rate = 48_000;

/** Twelve seconds of music's rough shape: noise in both channels, with a bass or without, at three levels. */
function song(bassDbfs = -14): Float32Array[] {
  const gains = [0, -9, -4].map(fromDb);
  const bass = tones({ hz: 55, peakDbfs: bassDbfs, seconds: 12 });
  return [21, 22].map((seed) =>
    whiteNoise(rate * 12, seed, 0.2).map(
      (sample, frame) => (sample + bass[frame]!) * gains[Math.min(2, Math.floor(frame / rate / 4))]!,
    ),
  );
}

const spans = [
  { name: 'intro', start: 0, end: 4 },
  { name: 'verse 1', start: 4, end: 8 },
  { name: 'chorus 1', start: 8, end: 12 },
  { name: 'across', start: 3.1234, end: 9.8765 },
  { name: 'short', start: 5.0071, end: 5.4071 },
];

const close = (one: number | null, other: number | null, within: number) => {
  if (one === null || other === null) expect(one).toBe(other);
  else expect(Math.abs(one - other)).toBeLessThanOrEqual(within);
};

describe('a section', () => {
  const channels = song();
  const { sections, ...whole } = measure(channels, rate, spans);

  it.each(spans.map((span, index) => ({ ...span, index })))(
    '$name: as the same frames measured alone',
    (span) => {
      // Without the bass: cut out of the song it would begin and end at once, and so spread over its neighbours.
      const channels = song(-Infinity);
      const section = measure(channels, rate, spans).sections[span.index]!;
      const [from, end] = [Math.round(span.start * rate), Math.round(span.end * rate)];
      const alone = measure(channels.map((channel) => channel.slice(from, end)));
      expect(section).toMatchObject({ name: span.name, start: span.start, end: span.end, problem: null });
      const exact: (keyof Figures)[] = [
        'samplePeakDbfs',
        'rmsDbfs',
        'rmsAes17Dbfs',
        'crestFactorDb',
        'correlation',
      ];
      for (const key of exact) close(section[key] as number, alone[key] as number, 1e-9);
      for (const channel of [0, 1]) close(section.dcOffset[channel]!, alone.dcOffset[channel]!, 1e-9);
      // Alone, the filters begin in silence; in the song they run on.
      close(section.integratedLoudnessLufs, alone.integratedLoudnessLufs, 0.02);
      close(section.maxMomentaryLoudnessLufs, alone.maxMomentaryLoudnessLufs, 0.05);
      close(section.maxShortTermLoudnessLufs, alone.maxShortTermLoudnessLufs, 0.02);
      close(section.truePeakDbtp, alone.truePeakDbtp, 0.1);
      close(section.monoFoldDownLossLu, alone.monoFoldDownLossLu, 0.05);
      for (const [index, band] of section.bands.entries()) {
        // The fewer values a band's power is averaged from, the more it depends on where the windows lie.
        const independent = (span.end - span.start) * band.nominalHz * 0.23;
        close(band.levelDb, alone.bands[index]!.levelDb, 0.15 + 8 / Math.sqrt(independent));
      }
    },
  );

  it('whose level changed alone shows the change, and the others stay within 0.02 LU and 0.000001 dB', () => {
    const gainDb = 1.4;
    const louder = channels.map((channel) =>
      channel.map((sample, frame) =>
        frame >= rate * 4 && frame < rate * 8 ? sample * fromDb(gainDb) : sample,
      ),
    );
    const after = measure(louder, rate, spans).sections;
    for (const [index, expected] of [0, gainDb, 0].entries()) {
      const [before, now] = [sections[index]!, after[index]!];
      close(now.integratedLoudnessLufs! - before.integratedLoudnessLufs!, expected, 0.02);
      close(now.rmsDbfs! - before.rmsDbfs!, expected, 1e-6);
      for (const [band, { levelDb }] of now.bands.entries()) {
        close(levelDb! - before.bands[band]!.levelDb!, expected, 1e-6);
      }
    }
  });

  it('sections that fill the file add up to its power and share its peak', () => {
    const powers = sections.slice(0, 3).map(({ rmsDbfs }) => 10 ** (rmsDbfs! / 10) * 4);
    close(10 * Math.log10(powers.reduce((sum, power) => sum + power, 0) / 12), whole.rmsDbfs, 1e-9);
    expect(Math.max(...sections.slice(0, 3).map(({ truePeakDbtp }) => truePeakDbtp!))).toBe(
      whole.truePeakDbtp,
    );
  });

  it('does not change the figures of the whole file', () => {
    const without = measure(channels);
    for (const key of ['integratedLoudnessLufs', 'loudnessRangeLu', 'truePeakDbtp', 'rmsDbfs'] as const) {
      close(without[key], whole[key], 1e-9);
    }
    for (const [index, { levelDb }] of without.bands.entries())
      close(levelDb, whole.bands[index]!.levelDb, 0.01);
  });

  it.each([
    ['beginning before the file', -1, 2, 'outside_file'],
    ['ending after it', 10, 12.1, 'outside_file'],
    ['lying behind it', 20, 30, 'outside_file'],
    ['that ends before it starts', 5, 4, 'outside_file'],
    ['under 400 ms', 4, 4.399, 'too_short'],
  ])('%s has no figures and says why', (_, start, end, problem) => {
    const section = measure(channels, rate, [{ name: 'odd', start, end }]).sections[0]!;
    expect(section.problem).toBe(problem);
    expect(section.integratedLoudnessLufs).toBeNull();
    expect(section.rmsDbfs).toBeNull();
    expect(section.truePeakDbtp).toBeNull();
    expect(section.bands.every(({ levelDb }) => levelDb === null)).toBe(true);
  });

  it('may end with the file by a clock of milliseconds', () => {
    const section = measure(channels, rate, [{ name: 'outro', start: 8, end: 12.0005 }]).sections[0]!;
    expect(section.problem).toBeNull();
    close(section.integratedLoudnessLufs, sections[2]!.integratedLoudnessLufs, 1e-9);
  });
});

describe('any cut into sections and blocks', () => {
  it('gives the same file the same loudness, level and peak', () => {
    const channels = song();
    const expected = measure(channels);
    for (const [count, blockFrames] of [
      [1, 1],
      [7, 480],
      [40, 100_000],
      [3, 7919],
    ] as const) {
      const sections = Array.from({ length: count }, (_, index) => ({
        name: `part ${index}`,
        start: (index * 12) / count,
        end: ((index + 1) * 12) / count,
      }));
      const meter = createMeter({ sampleRateHz: rate, channelCount: 2, sections });
      const frames = blockFrames === 1 ? rate : channels[0]!.length;
      for (let from = 0; from < frames; from += blockFrames) {
        const taken = Math.min(blockFrames, frames - from);
        meter.push(
          channels.map((channel) => channel.subarray(from, from + taken)),
          taken,
        );
      }
      if (blockFrames === 1)
        meter.push(
          channels.map((channel) => channel.subarray(rate)),
          channels[0]!.length - rate,
        );
      const measured = meter.finish();
      close(measured.integratedLoudnessLufs, expected.integratedLoudnessLufs, 1e-9);
      close(measured.rmsDbfs, expected.rmsDbfs, 1e-9);
      close(measured.truePeakDbtp, expected.truePeakDbtp, 1e-9);
      close(measured.correlation, expected.correlation, 1e-9);
    }
  });
});
