/** How two versions are brought to one loudness: the louder one is turned down, the quieter one stays as it is. */
export interface Matching {
  /** 0 or below. */
  newerGainDb: number;
  /** 0 or below. */
  olderGainDb: number;
}

export const unmatched: Matching = { newerGainDb: 0, olderGainDb: 0 };

/**
 * Matches by the difference of integrated loudness.
 *
 * @returns `null` where one of the two has no integrated loudness (not measured yet, or silence), so that nothing is
 * claimed.
 * @source ITU-R BS.1770-5: integrated loudness; a gain of x dB moves it by x LU.
 */
export function matchLoudness(newerLufs: number | null, olderLufs: number | null): Matching | null {
  if (newerLufs === null || olderLufs === null) return null;
  const difference = newerLufs - olderLufs;
  return { newerGainDb: Math.min(0, -difference), olderGainDb: Math.min(0, difference) };
}

/** The factor on samples that a gain in dB stands for. */
export function gainFactor(gainDb: number): number {
  return 10 ** (gainDb / 20);
}
