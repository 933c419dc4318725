import type { TradeBandName } from './measurement.ts';

/** The octave ratio of the base-ten system. @source IEC 61260-1:2014, 5.2 */
const octaveRatio = 10 ** 0.3;
const referenceHz = 1000;
const bandsInOctave = 3;

export interface ThirdOctaveBand {
  nominalHz: number;
  midHz: number;
  lowerEdgeHz: number;
  upperEdgeHz: number;
}

/** Nominal mid-band frequencies from 20 Hz to 20 kHz. @source IEC 61260-1:2014, Annex E */
const nominalFrequenciesHz = [
  20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000,
  2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000,
];

/**
 * The thirty-one third-octave bands of the audible range; each upper edge is the next one's lower edge.
 *
 * @source IEC 61260-1:2014, 5.3 and 5.4: f_m = f_r · G^(x/b), edges f_m · G^(∓1/2b)
 */
export const thirdOctaveBands: readonly ThirdOctaveBand[] = nominalFrequenciesHz.map((nominalHz, index) => {
  const steps = index - nominalFrequenciesHz.indexOf(referenceHz);
  return {
    nominalHz,
    midHz: referenceHz * octaveRatio ** (steps / bandsInOctave),
    lowerEdgeHz: referenceHz * octaveRatio ** ((steps - 0.5) / bandsInOctave),
    upperEdgeHz: referenceHz * octaveRatio ** ((steps + 0.5) / bandsInOctave),
  };
});

/** The first and last third-octave band of each of the trade's bands (*common practice*; the names vary, the edges too). */
const tradeBandNominals: readonly [TradeBandName, number, number][] = [
  ['sub', 20, 50],
  ['bass', 63, 200],
  ['low mids', 250, 500],
  ['mids', 630, 2000],
  ['presence', 2500, 6300],
  ['air', 8000, 20000],
];

export interface TradeBand {
  name: TradeBandName;
  /** Places in `thirdOctaveBands`; `endBand` is the first that no longer belongs. */
  firstBand: number;
  endBand: number;
  lowerEdgeHz: number;
  upperEdgeHz: number;
}

export const tradeBands: readonly TradeBand[] = tradeBandNominals.map(([name, lowest, highest]) => {
  const firstBand = nominalFrequenciesHz.indexOf(lowest);
  const lastBand = nominalFrequenciesHz.indexOf(highest);
  return {
    name,
    firstBand,
    endBand: lastBand + 1,
    lowerEdgeHz: thirdOctaveBands[firstBand]!.lowerEdgeHz,
    upperEdgeHz: thirdOctaveBands[lastBand]!.upperEdgeHz,
  };
});

/** One bin's share in a band, where bins are cut at the band's edges. */
export interface BandBins {
  firstBin: number;
  /** Shares of the bins from `firstBin` on; 1 for whole ones. */
  shares: Float64Array;
}

/**
 * Which bins of a transform fall in each band, and by how much: bin `k` covers half a bin width on either side of its
 * frequency and is cut at the edges, so that neighbouring bands share an edge bin and none stands empty. The bin at half
 * the rate covers half a bin.
 */
export function bandBins(band: ThirdOctaveBand, transformFrames: number, sampleRateHz: number): BandBins {
  const binHz = sampleRateHz / transformFrames;
  const lower = band.lowerEdgeHz / binHz;
  const upper = Math.min(band.upperEdgeHz / binHz, transformFrames / 2);
  const firstBin = Math.floor(lower + 0.5);
  const lastBin = Math.min(Math.floor(upper + 0.5), transformFrames / 2);
  const shares = Float64Array.from({ length: Math.max(0, lastBin - firstBin + 1) }, (_, index) => {
    const bin = firstBin + index;
    return Math.max(0, Math.min(upper, bin + 0.5) - Math.max(lower, bin - 0.5));
  });
  return { firstBin, shares };
}
