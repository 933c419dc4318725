/** A second-order section, a0 = 1: y = b0·x0 + b1·x1 + b2·x2 − a1·y1 − a2·y2. */
export interface Biquad {
  b0: number;
  b1: number;
  b2: number;
  a1: number;
  a2: number;
}

/** The only rate for which the standard publishes coefficients. @source ITU-R BS.1770-5, Annex 1, Tables 1 and 2 */
const publishedRateHz = 48_000;
const published: { shelf: Biquad; highPass: Biquad } = {
  shelf: {
    b0: 1.53512485958697,
    b1: -2.69169618940638,
    b2: 1.19839281085285,
    a1: -1.69065929318241,
    a2: 0.73248077421585,
  },
  highPass: { b0: 1, b1: -2, b2: 1, a1: -1.99004745483398, a2: 0.99007225036621 },
};
/** Where the shelf's response at another rate is made to meet the published one: as fractions of the rate, and at most. */
const meetings = [
  { fraction: 0, highestHz: 0 },
  { fraction: 0.1, highestHz: 2_000 },
  { fraction: 0.4, highestHz: 20_000 },
] as const;
/** In the pass band, where the high-pass at another rate is given the published gain. */
const passBandHz = 1000;

/**
 * The two sections of K-weighting at a sample rate.
 *
 * The standard publishes coefficients for 48 kHz and asks other rates for the same response, without saying how. Here the
 * poles keep their frequencies and decay times, and the zeros are placed so that the power response meets the published
 * one at three frequencies. From 20 Hz to 20 kHz the response then stays within 0.002 dB at 44.1 kHz and above, and
 * within 0.03 dB to 0.45 of the rate down to 8 kHz.
 *
 * @source ITU-R BS.1770-5, Annex 1, Tables 1 and 2
 */
export function kWeighting(sampleRateHz: number): { shelf: Biquad; highPass: Biquad } {
  if (sampleRateHz === publishedRateHz) return published;
  return { shelf: shelfAt(sampleRateHz), highPass: highPassAt(sampleRateHz) };
}

/** |c0 + c1·z⁻¹ + c2·z⁻²|² on the unit circle. */
function power(c0: number, c1: number, c2: number, frequencyHz: number, sampleRateHz: number): number {
  const angle = (2 * Math.PI * frequencyHz) / sampleRateHz;
  const real = c0 + c1 * Math.cos(angle) + c2 * Math.cos(2 * angle);
  const imaginary = c1 * Math.sin(angle) + c2 * Math.sin(2 * angle);
  return real ** 2 + imaginary ** 2;
}

/** Power response of a section at a frequency. */
export function biquadPower(
  { b0, b1, b2, a1, a2 }: Biquad,
  frequencyHz: number,
  sampleRateHz: number,
): number {
  return power(b0, b1, b2, frequencyHz, sampleRateHz) / power(1, a1, a2, frequencyHz, sampleRateHz);
}

/** The denominator whose poles have, at another rate, the frequencies and decay times of a published section's. */
function polesAt({ a1, a2 }: Biquad, sampleRateHz: number): { a1: number; a2: number } {
  const exponent = publishedRateHz / sampleRateHz;
  const discriminant = (a1 / 2) ** 2 - a2;
  if (discriminant < 0) {
    const angle = Math.acos(-a1 / 2 / Math.sqrt(a2));
    const radius = Math.sqrt(a2) ** exponent;
    return { a1: -2 * radius * Math.cos(angle * exponent), a2: radius ** 2 };
  }
  const first = (-a1 / 2 + Math.sqrt(discriminant)) ** exponent;
  const second = (-a1 / 2 - Math.sqrt(discriminant)) ** exponent;
  return { a1: -(first + second), a2: first * second };
}

function highPassAt(sampleRateHz: number): Biquad {
  const unscaled = { b0: 1, b1: -2, b2: 1, ...polesAt(published.highPass, sampleRateHz) };
  const wanted = biquadPower(published.highPass, passBandHz, publishedRateHz);
  const scale = Math.sqrt(wanted / biquadPower(unscaled, passBandHz, sampleRateHz));
  return { ...unscaled, b0: scale, b1: -2 * scale, b2: scale };
}

/**
 * The numerator's power is r0 + 2·r1·cos ω + 2·r2·cos 2ω, linear in its autocorrelation: three meeting points give r0 to
 * r2, and these the coefficients with both zeros inside the unit circle.
 */
function shelfAt(sampleRateHz: number): Biquad {
  const { a1, a2 } = polesAt(published.shelf, sampleRateHz);
  const met = meetings.map(({ fraction, highestHz }) => {
    const frequencyHz = Math.min(fraction * sampleRateHz, highestHz);
    const cosine = Math.cos((2 * Math.PI * frequencyHz) / sampleRateHz);
    const wanted = biquadPower(published.shelf, frequencyHz, publishedRateHz);
    return { cosine, power: wanted * power(1, a1, a2, frequencyHz, sampleRateHz) };
  });
  // As a polynomial p0 + p1·c + p2·c² in the cosine, by Newton's divided differences.
  const [one, two, three] = met as [(typeof met)[0], (typeof met)[0], (typeof met)[0]];
  const slopeOne = (two.power - one.power) / (two.cosine - one.cosine);
  const slopeTwo = (three.power - two.power) / (three.cosine - two.cosine);
  const p2 = (slopeTwo - slopeOne) / (three.cosine - one.cosine);
  const p1 = slopeOne - p2 * (one.cosine + two.cosine);
  const p0 = one.power - slopeOne * one.cosine + p2 * one.cosine * two.cosine;
  // At cosines 1, −1 and 0 the power is (b0+b1+b2)², (b0−b1+b2)² and (b0−b2)² + b1².
  const atZeroHz = Math.sqrt(p0 + p1 + p2);
  const atHalfRate = Math.sqrt(p0 - p1 + p2);
  const b1 = (atZeroHz - atHalfRate) / 2;
  const outerSum = (atZeroHz + atHalfRate) / 2;
  const outerDifference = Math.sqrt(p0 - b1 ** 2);
  return { b0: (outerSum + outerDifference) / 2, b1, b2: (outerSum - outerDifference) / 2, a1, a2 };
}
