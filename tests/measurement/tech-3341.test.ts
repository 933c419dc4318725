import { describe, expect, it } from 'vitest';
import type { Figures } from '../../server/measurement/measurement.ts';
import { levelsOf } from '../../server/measurement/series.ts';
import { fromDb, inBoth, measure, steps, tones } from './signal.ts';

/**
 * Proves that an EBU Mode meter's readings come out: the signals of EBU Tech 3341 v4, Table 1, made from their
 * descriptions, with the table's expected values and tolerances. Levels are peak dBFS per channel, 1 kHz stereo in
 * phase at 48 kHz unless stated. Cases 7 and 8 are programmes and can't be made.
 */
const tolerance = 0.1;
const near = (value: number | null, expected: number, within = tolerance) => {
  expect(value).not.toBeNull();
  expect(Math.abs(value! - expected)).toBeLessThanOrEqual(within);
};

describe('EBU Tech 3341 v4, Table 1: loudness', () => {
  const cases: [string, [number, number][], number, (keyof Figures)[]][] = [
    [
      '1',
      [[20, -23]],
      -23,
      ['integratedLoudnessLufs', 'maxMomentaryLoudnessLufs', 'maxShortTermLoudnessLufs'],
    ],
    [
      '2',
      [[20, -33]],
      -33,
      ['integratedLoudnessLufs', 'maxMomentaryLoudnessLufs', 'maxShortTermLoudnessLufs'],
    ],
    [
      '3',
      [
        [10, -36],
        [60, -23],
        [10, -36],
      ],
      -23,
      ['integratedLoudnessLufs'],
    ],
    [
      '4',
      [
        [10, -72],
        [10, -36],
        [60, -23],
        [10, -36],
        [10, -72],
      ],
      -23,
      ['integratedLoudnessLufs'],
    ],
    [
      '5',
      [
        [20, -26],
        [20.1, -20],
        [20, -26],
      ],
      -23,
      ['integratedLoudnessLufs'],
    ],
  ];
  it.each(cases)('case %s', (_, parts, expected, keys) => {
    const measurement = measure(inBoth(steps(...parts)));
    for (const key of keys) near(measurement[key] as number, expected);
  });

  it('case 1 reads −22.9933, since the calibration is at 997 Hz (calculated from the published coefficients)', () => {
    near(measure(inBoth(steps([20, -23]))).integratedLoudnessLufs, -22.9933, 0.002);
  });

  it('case 6: 5.0 channels, L and R −28, C −24, Ls and Rs −30', () => {
    const [front, centre, surround] = [-28, -24, -30].map((level) => steps([20, level]));
    near(measure([front!, front!, centre!, surround!, surround!]).integratedLoudnessLufs, -23);
  });

  it('case 9: short-term is −23.0, constant after 3 s', () => {
    const pattern = Array.from({ length: 5 }, (): [number, number][] => [
      [1.34, -20],
      [1.66, -30],
    ]).flat();
    const { series, maxShortTermLoudnessLufs } = measure(inBoth(steps(...pattern)));
    near(maxShortTermLoudnessLufs, -23);
    const after = levelsOf(series.columns.shortTermLoudnessLufs, 29);
    expect(after).toHaveLength(121);
    for (const value of after) near(value, -23);
  });

  it('case 12: momentary is −23.0, constant after 1 s', () => {
    const pattern = Array.from({ length: 25 }, (): [number, number][] => [
      [0.18, -20],
      [0.22, -30],
    ]).flat();
    const { series, maxMomentaryLoudnessLufs } = measure(inBoth(steps(...pattern)));
    near(maxMomentaryLoudnessLufs, -23);
    for (const value of levelsOf(series.columns.momentaryLoudnessLufs, 9)) near(value, -23);
  });

  const twenty = Array.from({ length: 20 }, (_, index) => index);
  it.each(twenty)('case 10, file %i: maximum short-term −23.0', (index) => {
    const signal = steps([index * 0.15, -Infinity], [3, -23], [1, -Infinity]);
    near(measure(inBoth(signal)).maxShortTermLoudnessLufs, -23);
  });

  it.each(twenty)('case 13, file %i: maximum momentary −23.0', (index) => {
    const signal = steps([index * 0.02, -Infinity], [0.4, -23], [1, -Infinity]);
    near(measure(inBoth(signal)).maxMomentaryLoudnessLufs, -23);
  });

  it('case 11: live, maximum short-term −38, −37, … −19 of twenty segments of 6 s', () => {
    const signal = steps(
      ...twenty.flatMap((index): [number, number][] => [
        [index * 0.15, -Infinity],
        [3, -38 + index],
        [3 - index * 0.15, -Infinity],
      ]),
    );
    const spans = twenty.map((index) => ({ name: `segment ${index}`, start: 6 * index, end: 6 * index + 6 }));
    const { sections } = measure(inBoth(signal), 48_000, spans);
    for (const index of twenty) near(sections[index]!.maxShortTermLoudnessLufs, -38 + index);
  });

  it('case 14: live, maximum momentary −38, −37, … −19 of twenty segments of 0.8 s', () => {
    const signal = steps(
      ...twenty.flatMap((index): [number, number][] => [
        [index * 0.02, -Infinity],
        [0.4, -38 + index],
        [0.4 - index * 0.02, -Infinity],
      ]),
    );
    const spans = twenty.map((index) => ({
      name: `segment ${index}`,
      start: 0.8 * index,
      end: 0.8 * index + 0.8,
    }));
    const { sections } = measure(inBoth(signal), 48_000, spans);
    for (const index of twenty) near(sections[index]!.maxMomentaryLoudnessLufs, -38 + index);
  });
});

describe('EBU Tech 3341 v4, Table 1: true peak, +0.2/−0.4 dB', () => {
  const within = (value: number | null, expected: number) => {
    expect(value).toBeLessThanOrEqual(expected + 0.2);
    expect(value).toBeGreaterThanOrEqual(expected - 0.4);
  };
  /** Ten milliseconds in and out, in a straight line. */
  const faded = (samples: Float32Array) =>
    samples.map((sample, frame) => sample * Math.min(1, frame / 480, (samples.length - 1 - frame) / 480));

  const cases: [string, number, number, number, number][] = [
    ['15', 4, 0.5, 0, -6],
    ['16', 4, 0.5, 45, -6],
    ['17', 6, 0.5, 60, -6],
    ['18', 8, 0.5, 67.5, -6],
    ['19', 4, 1.41, 45, 3],
  ];
  it.each(cases)(
    'case %s: a tone at a fraction of the rate',
    (_, divisor, amplitude, phaseDegrees, expected) => {
      const peakDbfs = 20 * Math.log10(amplitude);
      const signal = faded(tones({ hz: 48_000 / divisor, peakDbfs, seconds: 1, phaseDegrees }));
      within(measure(inBoth(signal)).truePeakDbtp, expected);
    },
  );

  /**
   * The table describes them so far: a tone of fs/6 at 0.50 in which one period is replaced by one of fs/4 at 1.00,
   * continuous in phase, made at four times the rate, low-passed, and decimated beginning with the first to the fourth
   * sample. The filter isn't given; here it is a windowed sinc of 257 taps that ends at half the lower rate.
   */
  it.each([
    ['20', 0],
    ['21', 1],
    ['22', 2],
    ['23', 3],
  ])('case %s, rebuilt: an inter-sample peak of 0.0 dBTP', (_, offset) => {
    const periodsAround = 100;
    const oversampled: number[] = [];
    const period = (frames: number, amplitude: number) => {
      for (let frame = 0; frame < frames; frame++) {
        oversampled.push(amplitude * Math.sin((2 * Math.PI * frame) / frames));
      }
    };
    for (let count = 0; count < periodsAround; count++) period(24, 0.5);
    period(16, 1);
    for (let count = 0; count < periodsAround; count++) period(24, 0.5);
    const half = 128;
    const taps = Array.from({ length: 2 * half + 1 }, (_, tap) => {
      const place = (tap - half) / 4;
      const sinc = place === 0 ? 1 : Math.sin(Math.PI * place) / (Math.PI * place);
      return (sinc * (0.5 + 0.5 * Math.cos((Math.PI * (tap - half)) / (half + 1)))) / 4;
    });
    const decimated = new Float32Array(Math.floor(oversampled.length / 4));
    for (let frame = 0; frame < decimated.length; frame++) {
      let value = 0;
      for (let tap = 0; tap <= 2 * half; tap++) {
        value += taps[tap]! * (oversampled[frame * 4 + offset + tap - half] ?? 0);
      }
      decimated[frame] = value;
    }
    const fade = decimated.map(
      (sample, frame) => sample * Math.min(1, frame / 100, (decimated.length - 1 - frame) / 100),
    );
    within(measure(inBoth(fade)).truePeakDbtp, 0);
  });
});

describe('BS.1770-5, Annex 1: what the numbers mean', () => {
  const fullScale = tones({ hz: 997, peakDbfs: 0, seconds: 5 });
  const silence = new Float32Array(fullScale.length);

  it('a full-scale 997 Hz sine in one front channel is −3.01 LKFS', () => {
    for (const channels of [[fullScale], [fullScale, silence], [silence, silence, fullScale]]) {
      near(measure(channels).integratedLoudnessLufs, -3.01, 0.005);
    }
  });

  it.each([8_000, 11_025, 22_050, 44_100, 88_200, 96_000, 176_400, 192_000, 384_000])(
    '… at %i Hz too',
    (rate) => {
      const tone = tones({ hz: 997, peakDbfs: 0, seconds: 5, sampleRateHz: rate });
      near(measure([tone], rate).integratedLoudnessLufs, -3.01, 0.01);
    },
  );

  it('in both channels it is 0.0, and so it is in antiphase: energies are added, not signals', () => {
    near(measure(inBoth(fullScale)).integratedLoudnessLufs, 0, 0.005);
    near(measure([fullScale, fullScale.map((sample) => -sample)]).integratedLoudnessLufs, 0, 0.005);
  });

  it('399 ms hold no gating block, 400 ms hold one', () => {
    expect(measure(inBoth(steps([0.399, -20]))).integratedLoudnessLufs).toBeNull();
    near(measure(inBoth(steps([0.4, -20]))).integratedLoudnessLufs, -19.9936, 0.002);
  });

  it('nothing is clipped above full scale', () => {
    const loud = tones({ hz: 997, peakDbfs: 6, seconds: 5 });
    near(measure([loud]).integratedLoudnessLufs, 2.99, 0.005);
  });

  it('a gain moves the reading by itself', () => {
    const quiet = fullScale.map((sample) => sample * fromDb(-17.3));
    near(measure([quiet]).integratedLoudnessLufs, -3.01 - 17.3, 0.005);
  });
});
