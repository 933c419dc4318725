/** A second-order section, a0 = 1: y = b0·x0 + b1·x1 + b2·x2 − a1·y1 − a2·y2. */
export interface Biquad {
  b0: number;
  b1: number;
  b2: number;
  a1: number;
  a2: number;
}

/**
 * The analogue prototype behind the standard's 48 kHz table: with these values the bilinear transform gives the
 * published coefficients to fifteen digits.
 */
const shelf = { frequencyHz: 1681.974450955533, gainDb: 3.999843853973347, q: 0.7071752369554196 };
/** Exponent that splits the shelf's gain between its numerator's middle and outer terms. */
const shelfMiddleExponent = 0.4996667741545416;
const highPass = { frequencyHz: 38.13547087602444, q: 0.5003270373238773 };
/** The only rate for which the standard publishes coefficients. */
const publishedRateHz = 48_000;

/**
 * The two sections of K-weighting at a sample rate.
 *
 * The standard publishes 48 kHz and asks other rates for the same response. The high-pass numerator (1, −2, 1 in the
 * standard, not normalised) is scaled so that its gain in the pass band stays that of 48 kHz: the response then keeps
 * within 0.01 dB from 20 Hz to 20 kHz at 44.1 to 192 kHz.
 *
 * @source ITU-R BS.1770-5, Annex 1, Tables 1 and 2
 */
export function kWeighting(sampleRateHz: number): { shelf: Biquad; highPass: Biquad } {
  const warped = Math.tan((Math.PI * shelf.frequencyHz) / sampleRateHz);
  const outer = 10 ** (shelf.gainDb / 20);
  const middle = outer ** shelfMiddleExponent;
  const a0 = 1 + warped / shelf.q + warped ** 2;
  const scale = highPassDenominator(publishedRateHz) / highPassDenominator(sampleRateHz);
  const warpedHighPass = Math.tan((Math.PI * highPass.frequencyHz) / sampleRateHz);
  return {
    shelf: {
      b0: (outer + (middle * warped) / shelf.q + warped ** 2) / a0,
      b1: (2 * (warped ** 2 - outer)) / a0,
      b2: (outer - (middle * warped) / shelf.q + warped ** 2) / a0,
      a1: (2 * (warped ** 2 - 1)) / a0,
      a2: (1 - warped / shelf.q + warped ** 2) / a0,
    },
    highPass: {
      b0: scale,
      b1: -2 * scale,
      b2: scale,
      a1: (2 * (warpedHighPass ** 2 - 1)) / highPassDenominator(sampleRateHz),
      a2: (1 - warpedHighPass / highPass.q + warpedHighPass ** 2) / highPassDenominator(sampleRateHz),
    },
  };
}

function highPassDenominator(sampleRateHz: number): number {
  const warped = Math.tan((Math.PI * highPass.frequencyHz) / sampleRateHz);
  return 1 + warped / highPass.q + warped ** 2;
}
