import type { Series } from './series.ts';

/** A named stretch of a song, in seconds from the start of the file. */
export interface SectionSpan {
  name: string;
  start: number;
  end: number;
}

/** The power in one third-octave band. */
export interface BandLevel {
  /** The band's nominal mid-band frequency, as it is written on meters. */
  nominalHz: number;
  /**
   * Mean square inside the band, over all channels and frames, in dB relative to full scale: a full-scale sine in the
   * band is −3.01, and the bands together sum to `rmsDbfs`. `null` where the band is empty or above half the sample
   * rate.
   */
  levelDb: number | null;
  /** Correlation of left and right inside the band, −1 to +1; `null` unless there are two channels with sound in it. */
  correlation: number | null;
  /** True where half the sample rate cuts into the band, so that it reads low (20 kHz at 44.1 kHz). */
  cutAtHalfRate: boolean;
}

export const tradeBandNames = ['sub', 'bass', 'low mids', 'mids', 'presence', 'air'] as const;
export type TradeBandName = (typeof tradeBandNames)[number];

/** The power in one of the trade's bands, the sum of the third-octave bands between its edges. */
export interface TradeBandLevel {
  name: TradeBandName;
  lowerEdgeHz: number;
  upperEdgeHz: number;
  /** As `BandLevel.levelDb`. */
  levelDb: number | null;
}

/** A spot where the true peak passes full scale; at most one in a tenth of a second. */
export interface Over {
  timeSeconds: number;
  truePeakDbtp: number;
}

/** Three or more samples in a row at one value next to full scale (*common practice*). */
export interface ClippedRun {
  timeSeconds: number;
  frames: number;
  /** Counted from 0. */
  channel: number;
}

/**
 * What is measured, of a whole file or of one section. `null` means undefined (no sound, or too little of it), never
 * "very quiet".
 */
export interface Figures {
  startSeconds: number;
  endSeconds: number;
  /** No sample passes −60 dBFS. */
  silent: boolean;
  /** Gated programme loudness; undefined under 400 ms, and where no block passes −70 LUFS. */
  integratedLoudnessLufs: number | null;
  loudnessRangeLu: number | null;
  /** False under 60 s, where loudness range says little. */
  loudnessRangeReliable: boolean;
  maxMomentaryLoudnessLufs: number | null;
  maxShortTermLoudnessLufs: number | null;
  truePeakDbtp: number | null;
  samplePeakDbfs: number | null;
  /** Mean square over all channels and frames; a full-scale sine is −3.01. */
  rmsDbfs: number | null;
  /** The same by AES17, which calls the RMS of a full-scale sine 0. */
  rmsAes17Dbfs: number | null;
  /** Sample peak over RMS; a sine is 3.01. */
  crestFactorDb: number | null;
  /** True peak over integrated loudness. */
  plrDb: number | null;
  /** Mean value of each channel, 1 at full scale. */
  dcOffset: (number | null)[];
  clippedRuns: number | null;
  /** Correlation of left and right, −1 to +1; `null` unless there are two channels, both with sound. */
  correlation: number | null;
  /** Mid over side, by power; `null` unless stereo, or where one of them is empty. */
  midSideBalanceDb: number | null;
  /** What loudness falls by when both speakers play (L + R) / 2; `null` unless stereo, or where nothing is left of it. */
  monoFoldDownLossLu: number | null;
  bands: BandLevel[];
  tradeBands: TradeBandLevel[];
}

/** Why a section has no figures. */
export type SectionProblem = 'outside_file' | 'too_short';

/** The figures of one section; all of them `null` where `problem` says why. */
export interface SectionFigures extends Figures {
  name: string;
  start: number;
  end: number;
  problem: SectionProblem | null;
}

/** Everything measured of one file, with what it was measured by. */
export interface Measurement extends Figures {
  sampleRateHz: number;
  channelCount: number;
  frameCount: number;
  durationSeconds: number;
  /** Seconds before the first and after the last sample over −60 dBFS; `null` where there is no sound. */
  headSilenceSeconds: number | null;
  tailSilenceSeconds: number | null;
  /** Channels without sound in a file that has some, counted from 0. */
  deadChannels: number[];
  /** Left and right cancel more than they add: one of them may be the wrong way round. */
  polaritySuspect: boolean;
  /** Where the true peak passes 0 dBTP, in time order, the first thousand; `oversCount` counts all. */
  overs: Over[];
  oversCount: number;
  /** The first thousand clipped runs, in time order; `clippedRuns` counts all. */
  clips: ClippedRun[];
  sections: SectionFigures[];
  series: Series;
  engine: { name: string; version: string };
  /** Standard and edition behind each group of figures. */
  standards: Record<'loudness' | 'meter' | 'loudnessRange' | 'truePeak' | 'spectrum' | 'rms', string>;
}
