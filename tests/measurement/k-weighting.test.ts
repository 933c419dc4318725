import { describe, expect, it } from 'vitest';
import { type Biquad, kWeighting } from '../../server/measurement/k-weighting.ts';

/**
 * Proves that the filters are those of ITU-R BS.1770-5, Annex 1: its published coefficients at 48 kHz, and the same
 * response at other rates.
 */
function gain({ b0, b1, b2, a1, a2 }: Biquad, hz: number, sampleRateHz: number): number {
  const w = (2 * Math.PI * hz) / sampleRateHz;
  const power = (c0: number, c1: number, c2: number) => {
    const real = c0 + c1 * Math.cos(w) + c2 * Math.cos(2 * w);
    const imaginary = c1 * Math.sin(w) + c2 * Math.sin(2 * w);
    return real ** 2 + imaginary ** 2;
  };
  return Math.sqrt(power(b0, b1, b2) / power(1, a1, a2));
}

function responseDb(hz: number, sampleRateHz: number): number {
  const { shelf, highPass } = kWeighting(sampleRateHz);
  return 20 * Math.log10(gain(shelf, hz, sampleRateHz) * gain(highPass, hz, sampleRateHz));
}

describe('K-weighting', () => {
  it('has the coefficients of BS.1770-5, Annex 1, Tables 1 and 2', () => {
    const published: [keyof ReturnType<typeof kWeighting>, Biquad][] = [
      [
        'shelf',
        {
          b0: 1.53512485958697,
          b1: -2.69169618940638,
          b2: 1.19839281085285,
          a1: -1.69065929318241,
          a2: 0.73248077421585,
        },
      ],
      ['highPass', { b0: 1, b1: -2, b2: 1, a1: -1.99004745483398, a2: 0.99007225036621 }],
    ];
    for (const [stage, coefficients] of published) {
      for (const [name, value] of Object.entries(coefficients)) {
        expect(kWeighting(48_000)[stage][name as keyof Biquad]).toBeCloseTo(value, 13);
      }
    }
  });

  /** Calculated from the published coefficients with another program. */
  const responses: [number, number][] = [
    [20, -13.2754],
    [25, -10.3928],
    [31.5, -7.79],
    [40, -5.5669],
    [50, -3.9341],
    [63, -2.6639],
    [80, -1.7318],
    [100, -1.1335],
    [125, -0.7278],
    [160, -0.435],
    [200, -0.2649],
    [250, -0.1529],
    [315, -0.075],
    [400, -0.0148],
    [500, 0.0425],
    [630, 0.1342],
    [800, 0.3275],
    [997, 0.691],
    [1000, 0.6977],
    [1250, 1.3417],
    [2000, 3.0713],
    [2500, 3.5798],
    [3150, 3.8482],
    [4000, 3.968],
    [5000, 4.0134],
    [8000, 4.0394],
    [10000, 4.0419],
    [16000, 4.0431],
  ];
  it.each(responses)('at %f Hz has the response that follows from them: %f dB', (hz, expected) => {
    expect(Math.abs(responseDb(hz, 48_000) - expected)).toBeLessThanOrEqual(0.001);
  });

  it.each([44_100, 88_200, 96_000, 176_400, 192_000, 384_000])(
    'at %i Hz keeps that response within 0.001 dB',
    (rate) => {
      for (let hz = 20; hz <= 20_000; hz *= 1.01) {
        expect(Math.abs(responseDb(hz, rate) - responseDb(hz, 48_000))).toBeLessThanOrEqual(0.002);
      }
    },
  );

  it.each([8_000, 11_025, 16_000, 22_050, 32_000])(
    'at %i Hz keeps it within 0.03 dB to 0.45 of the rate',
    (rate) => {
      for (let hz = 20; hz <= rate * 0.45; hz *= 1.01) {
        expect(Math.abs(responseDb(hz, rate) - responseDb(hz, 48_000))).toBeLessThanOrEqual(0.03);
      }
    },
  );

  it('is stable at every rate, with its zeros inside the unit circle too', () => {
    for (let rate = 8_000; rate <= 384_000; rate += 997) {
      for (const { b0, b1, b2, a1, a2 } of Object.values(kWeighting(rate))) {
        expect(Math.abs(a2)).toBeLessThan(1);
        expect(Math.abs(a1)).toBeLessThan(1 + a2);
        expect(Math.abs(b2 / b0)).toBeLessThanOrEqual(1);
        expect(Math.abs(b1 / b0)).toBeLessThanOrEqual(1 + b2 / b0 + 1e-12);
      }
    }
  });
});
