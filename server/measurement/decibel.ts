/** Ten times the logarithm of a power ratio; `null` for no power, since the logarithm is then undefined. */
export function powerDb(ratio: number): number | null {
  return ratio > 0 ? 10 * Math.log10(ratio) : null;
}

/** Twenty times the logarithm of an amplitude ratio; `null` for no amplitude. */
export function amplitudeDb(ratio: number): number | null {
  return ratio > 0 ? 20 * Math.log10(ratio) : null;
}

/** One level over another; `null` where either is undefined. */
export function levelDifferenceDb(upper: number | null, lower: number | null): number | null {
  return upper === null || lower === null ? null : upper - lower;
}
