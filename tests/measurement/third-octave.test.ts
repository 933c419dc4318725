import FFT from 'fft.js';
import { describe, expect, it } from 'vitest';
import { thirdOctaveBands, tradeBands } from '../../server/measurement/third-octave.ts';
import { fromDb, inBoth, measure, tones, whiteNoise } from './signal.ts';

/**
 * Proves the spectrum by IEC 61260-1:2014, base ten: the bands' edges, the mid-band limits of class 1, and that the bands
 * together are the signal's power.
 */

/** Nominal, mid-band, lower edge, upper edge in Hz, calculated from IEC 61260-1, 5.3 and 5.4 with another program. */
const edges: [number, number, number, number][] = [
  [20, 19.9526, 17.7828, 22.3872],
  [25, 25.1189, 22.3872, 28.1838],
  [31.5, 31.6228, 28.1838, 35.4813],
  [40, 39.8107, 35.4813, 44.6684],
  [50, 50.1187, 44.6684, 56.2341],
  [63, 63.0957, 56.2341, 70.7946],
  [80, 79.4328, 70.7946, 89.1251],
  [100, 100.0, 89.1251, 112.2018],
  [125, 125.8925, 112.2018, 141.2538],
  [160, 158.4893, 141.2538, 177.8279],
  [200, 199.5262, 177.8279, 223.8721],
  [250, 251.1886, 223.8721, 281.8383],
  [315, 316.2278, 281.8383, 354.8134],
  [400, 398.1072, 354.8134, 446.6836],
  [500, 501.1872, 446.6836, 562.3413],
  [630, 630.9573, 562.3413, 707.9458],
  [800, 794.3282, 707.9458, 891.2509],
  [1000, 1000.0, 891.2509, 1122.0185],
  [1250, 1258.9254, 1122.0185, 1412.5375],
  [1600, 1584.8932, 1412.5375, 1778.2794],
  [2000, 1995.2623, 1778.2794, 2238.7211],
  [2500, 2511.8864, 2238.7211, 2818.3829],
  [3150, 3162.2777, 2818.3829, 3548.1339],
  [4000, 3981.0717, 3548.1339, 4466.8359],
  [5000, 5011.8723, 4466.8359, 5623.4133],
  [6300, 6309.5734, 5623.4133, 7079.4578],
  [8000, 7943.2823, 7079.4578, 8912.5094],
  [10000, 10000.0, 8912.5094, 11220.1845],
  [12500, 12589.2541, 11220.1845, 14125.3754],
  [16000, 15848.9319, 14125.3754, 17782.7941],
  [20000, 19952.6231, 17782.7941, 22387.2114],
];

const sumDb = (levels: (number | null)[]) =>
  10 * Math.log10(levels.reduce((sum: number, level) => sum + (level === null ? 0 : 10 ** (level / 10)), 0));

describe('the bands', () => {
  it('have the nominal, exact and edge frequencies of IEC 61260-1:2014', () => {
    expect(thirdOctaveBands).toHaveLength(edges.length);
    for (const [index, [nominalHz, midHz, lowerEdgeHz, upperEdgeHz]] of edges.entries()) {
      const band = thirdOctaveBands[index]!;
      expect(band.nominalHz).toBe(nominalHz);
      expect(band.midHz).toBeCloseTo(midHz, 3);
      expect(band.lowerEdgeHz).toBeCloseTo(lowerEdgeHz, 3);
      expect(band.upperEdgeHz).toBeCloseTo(upperEdgeHz, 3);
    }
  });

  it('are shared out to the trade bands without gap or overlap (*common practice*)', () => {
    expect(tradeBands.map(({ name }) => name)).toEqual([
      'sub',
      'bass',
      'low mids',
      'mids',
      'presence',
      'air',
    ]);
    expect(tradeBands[0]!.firstBand).toBe(0);
    expect(tradeBands.at(-1)!.endBand).toBe(thirdOctaveBands.length);
    for (const [index, band] of tradeBands.slice(1).entries())
      expect(band.firstBand).toBe(tradeBands[index]!.endBand);
  });
});

describe.each([44_100, 48_000, 96_000, 192_000])('at %i Hz', (sampleRateHz) => {
  /** One tone in the middle of each third band at a time, so that neighbours stand apart. */
  const everyThird = [0, 1, 2].map((first) => edges.filter((_, index) => index % 3 === first));

  it.each(everyThird)(
    'a tone in the middle of a band reads its level within ±0.4 dB (class 1)',
    (...bands) => {
      const usable = bands.filter(([, midHz]) => midHz < sampleRateHz * 0.45);
      const parts = usable.map(([, midHz]) => tones({ hz: midHz, peakDbfs: -20, seconds: 4, sampleRateHz }));
      const signal = parts[0]!.map((_, frame) => parts.reduce((sum, part) => sum + part[frame]!, 0));
      const measured = measure(inBoth(signal), sampleRateHz).bands;
      for (const [nominalHz] of usable) {
        const level = measured.find((band) => band.nominalHz === nominalHz)!.levelDb!;
        expect(Math.abs(level - (-20 - 10 * Math.log10(2)))).toBeLessThanOrEqual(0.4);
      }
    },
  );
});

describe('at 48 kHz', () => {
  /** Ratios and least attenuation outside the band. @source IEC 61260-1:2014, Table 1, one-third octave, class 1 */
  const skirts: [number, number][] = [
    [1.29437, 16.6],
    [0.77257, 16.6],
    [1.88173, 40.5],
    [0.53143, 40.5],
    [3.05365, 60],
    [0.32748, 60],
    [5.39195, 70],
    [0.18546, 70],
  ];
  it.each([
    [31.5, 31.6228],
    [100, 100],
    [500, 501.1872],
    [1000, 1000],
    [4000, 3981.0717],
  ])('the %i Hz band keeps tones out as class 1 asks', (nominalHz, midHz) => {
    for (const [ratio, leastDb] of skirts) {
      const hz = midHz * ratio;
      if (hz < 10 || hz > 21_000) continue;
      const tone = tones({ hz, peakDbfs: 0, seconds: 6 });
      // In and out over a second: a tone that starts at once isn't only a tone.
      const faded = tone.map((sample, frame) => {
        const edge = Math.min(1, frame / 48_000, (tone.length - 1 - frame) / 48_000);
        return sample * Math.sin((Math.PI / 2) * edge) ** 2;
      });
      const { bands, rmsDbfs } = measure([faded]);
      const level = bands.find((band) => band.nominalHz === nominalHz)!.levelDb;
      expect(level === null ? Infinity : rmsDbfs! - level).toBeGreaterThanOrEqual(leastDb);
    }
  });

  it('white noise rises by 1 dB a band (10·log10 G^(1/3) = 1.000), and its bands sum to its power', () => {
    const left = whiteNoise(48_000 * 20, 1, 0.25);
    const { bands, rmsDbfs } = measure([left, whiteNoise(left.length, 2, 0.25)]);
    // The share of 17.78 to 22387 Hz in all of 0 to 24 kHz.
    const share = (22_387.21 - 17.78) / 24_000;
    expect(
      Math.abs(sumDb(bands.map(({ levelDb }) => levelDb)) - (rmsDbfs! + 10 * Math.log10(share))),
    ).toBeLessThanOrEqual(0.1);
    for (let index = 14; index < 30; index++) {
      expect(Math.abs(bands[index + 1]!.levelDb! - bands[index]!.levelDb! - 1)).toBeLessThanOrEqual(0.3);
    }
    const overall = (bands[30]!.levelDb! - bands[4]!.levelDb!) / 26;
    expect(Math.abs(overall - 1)).toBeLessThanOrEqual(0.02);
  });

  it('pink noise has the same level in every band, and its bands sum to its power', () => {
    // A period of 2^18 frames whose spectrum is made by hand: power 1/f from 18 Hz to 22 kHz, phases at random.
    const frames = 2 ** 18;
    const fft = new FFT(frames);
    const spectrum = fft.createComplexArray() as number[];
    const phases = whiteNoise(frames / 2, 3);
    const binHz = 48_000 / frames;
    for (let bin = 1; bin < frames / 2; bin++) {
      if (bin * binHz < 18 || bin * binHz > 22_000) continue;
      const amplitude = 4 / Math.sqrt(bin);
      spectrum[2 * bin] = amplitude * Math.cos(Math.PI * phases[bin]!) * Math.sqrt(frames);
      spectrum[2 * bin + 1] = amplitude * Math.sin(Math.PI * phases[bin]!) * Math.sqrt(frames);
      spectrum[2 * (frames - bin)] = spectrum[2 * bin]!;
      spectrum[2 * (frames - bin) + 1] = -spectrum[2 * bin + 1]!;
    }
    const period = fft.createComplexArray() as number[];
    fft.inverseTransform(period, spectrum);
    const pink = Float32Array.from({ length: frames * 6 }, (_, frame) => period[2 * (frame % frames)]!);
    const { bands, rmsDbfs } = measure([pink]);
    const levels = bands.map(({ levelDb }) => levelDb!);
    expect(Math.abs(sumDb(levels) - rmsDbfs!)).toBeLessThanOrEqual(0.1);
    // The lowest and the highest band are cut short by where the noise ends.
    const whole = levels.slice(1, -1);
    const mean = whole.reduce((sum, level) => sum + level, 0) / whole.length;
    for (const level of whole) expect(Math.abs(level - mean)).toBeLessThanOrEqual(0.15);
  });

  it.each([405, 430, 446.7, 480, 520, 560, 600])(
    'a tone at %f Hz, where one transform takes over from the other, is counted once',
    (hz) => {
      const { bands, rmsDbfs } = measure([tones({ hz, peakDbfs: -10, seconds: 10 })]);
      expect(Math.abs(sumDb(bands.map(({ levelDb }) => levelDb)) - rmsDbfs!)).toBeLessThanOrEqual(0.1);
    },
  );

  it('leaves no band empty in a click, and no band full in silence', () => {
    const click = new Float32Array(48_000);
    click[24_000] = 1;
    for (const { levelDb } of measure([click]).bands) expect(levelDb).not.toBeNull();
    for (const { levelDb } of measure([new Float32Array(48_000)]).bands) expect(levelDb).toBeNull();
  });

  it('counts every frame once, wherever in the file the sound is', () => {
    const frames = 48_000 * 2;
    for (const at of [0, 100, 2399, 2400, 4799, 30_001, frames - 2400, frames - 300]) {
      const burst = new Float32Array(frames);
      for (let frame = 0; frame < 250 && at + frame < frames; frame++) {
        burst[at + frame] =
          Math.sin((2 * Math.PI * 3000 * frame) / 48_000) * Math.sin((Math.PI * frame) / 250) ** 2;
      }
      const { bands, rmsDbfs } = measure([burst]);
      expect(Math.abs(sumDb(bands.map(({ levelDb }) => levelDb)) - rmsDbfs!)).toBeLessThanOrEqual(0.1);
    }
  });
});

describe('near half the rate', () => {
  it('the 20 kHz band is cut at 44.1 kHz and says so, and bands above it are empty', () => {
    const at = (rate: number) => measure([whiteNoise(rate, 4, fromDb(-10))], rate).bands;
    expect(
      at(44_100)
        .filter((band) => band.cutAtHalfRate)
        .map((band) => band.nominalHz),
    ).toEqual([20_000]);
    expect(at(48_000).some((band) => band.cutAtHalfRate)).toBe(false);
    const slow = at(16_000);
    expect(slow.find((band) => band.nominalHz === 10_000)!.levelDb).toBeNull();
    expect(slow.find((band) => band.nominalHz === 8_000)!.cutAtHalfRate).toBe(true);
  });
});
