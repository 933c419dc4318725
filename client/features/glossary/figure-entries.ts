import type { Figures, Measurement } from '../../api/types.ts';
import type { GlossaryEntry } from './glossary-entry.ts';
import type { TradeWord } from './trade-entries.ts';

const standards = {
  loudness: 'ITU-R BS.1770-5 (11/2023)',
  meter: 'EBU Tech 3341 v4 (11/2023)',
  loudnessRange: 'EBU Tech 3342 v4 (11/2023)',
  truePeak: 'ITU-R BS.1770-5 (11/2023), Annex 2',
  spectrum: 'IEC 61260-1:2014',
  rms: 'AES17-2020',
  practice: 'common practice',
} as const;

/** Every figure that is measured, for people who make music. */
export const figureEntries = {
  'integrated-loudness': {
    name: 'Integrated loudness',
    sentences: [
      'How loud the song is as a whole, weighed as ears weigh it, with silent and very quiet passages left out.',
      'Nearer to zero is louder, and a step of 1 LU is the same as 1 dB on a fader.',
    ],
    unit: 'LUFS',
    standard: standards.loudness,
  },
  'loudness-range': {
    name: 'Loudness range',
    sentences: [
      'How far the quieter parts of the song lie below its louder ones, with the extremes of both left out.',
      'A small number is an even song and a large one has big swings; under a minute of music it says little.',
    ],
    unit: 'LU',
    standard: standards.loudnessRange,
  },
  'momentary-loudness': {
    name: 'Loudest momentary',
    sentences: [
      'How loud the loudest four tenths of a second are.',
      'It catches a single hit or shout that an average hides.',
    ],
    unit: 'LUFS',
    standard: standards.meter,
  },
  'short-term-loudness': {
    name: 'Loudest short-term',
    sentences: [
      'How loud the loudest three seconds are.',
      'It shows how loud the biggest moment gets, and there is none for anything shorter than three seconds.',
    ],
    unit: 'LUFS',
    standard: standards.meter,
  },
  'true-peak': {
    name: 'True peak',
    sentences: [
      'The highest point of the sound wave as a player rebuilds it, also between the stored samples.',
      'Over 0 dBTP it may distort on players and in lossy copies.',
    ],
    unit: 'dBTP',
    standard: standards.truePeak,
  },
  'sample-peak': {
    name: 'Sample peak',
    sentences: [
      'The largest single value stored in the file.',
      'The real wave can rise higher between two samples, and true peak shows that.',
    ],
    unit: 'dBFS',
    standard: standards.rms,
  },
  rms: {
    name: 'RMS',
    sentences: [
      'The average power of the sound over all channels, without regard to how ears weigh it.',
      'It stands here by both customs, since a full-scale sine reads −3.01 dBFS in one and 0 dBFS in the other.',
    ],
    unit: 'dBFS',
    standard: standards.rms,
  },
  'crest-factor': {
    name: 'Crest factor',
    sentences: [
      'How far the highest sample stands above the average power.',
      'Drums that stick out make it large, and heavy compression or limiting makes it small.',
    ],
    unit: 'dB',
    standard: standards.practice,
  },
  plr: {
    name: 'Peak over loudness (PLR)',
    sentences: [
      'How far the true peak stands above the integrated loudness.',
      'The smaller it is, the less the hits stand out from the body of the song.',
    ],
    unit: 'dB',
    standard: standards.practice,
  },
  'dc-offset': {
    name: 'DC offset',
    sentences: [
      'How far the middle of the wave lies from zero, for each channel.',
      'It should be next to nothing, since an offset wastes room and can click at a cut.',
    ],
    unit: '% of full scale',
    standard: standards.practice,
  },
  'clipped-runs': {
    name: 'Clipped runs',
    sentences: [
      'Spots where three or more samples in a row stand at full scale, so that the tops of the wave are flat.',
      'It can be a fault or a sound that was chosen, so listen to each spot before it is called wrong.',
    ],
    unit: 'spots',
    standard: standards.practice,
  },
  overs: {
    name: 'Overs',
    sentences: [
      'Spots where the true peak passes full scale, counted at most once in a tenth of a second.',
      'They may distort on players and in lossy copies, even where the file itself sounds clean.',
    ],
    unit: 'spots',
    standard: standards.truePeak,
  },
  correlation: {
    name: 'Stereo correlation',
    sentences: [
      'How alike left and right are: +1 is the same, 0 is unrelated, −1 is the same upside down.',
      'Where it stays below zero, parts of the song vanish when both sides play through one speaker.',
    ],
    unit: '−1 to +1',
    standard: standards.practice,
  },
  'mid-over-side': {
    name: 'Mid over side',
    sentences: [
      'How much stronger the middle, what left and right share, is than the sides, in which they differ.',
      'A large number is a narrow picture, and one near zero or below it is a wide one.',
    ],
    unit: 'dB',
    standard: standards.practice,
  },
  'mono-fold-down': {
    name: 'Mono fold-down',
    sentences: [
      'How much loudness is lost when both speakers play the same half-and-half sum of left and right.',
      'More than about 3 LU means that left and right cancel each other in part.',
    ],
    unit: 'LU lost',
    standard: standards.loudness,
  },
  'third-octave-bands': {
    name: 'Third-octave bands',
    sentences: [
      'The power in each of 31 narrow bands, three to an octave, from the deepest bass to the highest treble.',
      'Look at the shape, and hold it against a song that you know, rather than at single bars.',
    ],
    unit: 'dB relative to full scale',
    standard: standards.spectrum,
  },
  'trade-bands': {
    name: 'Sub, bass, low mids, mids, presence, air',
    sentences: [
      'The same power in six wide bands under the names that engineers use.',
      'The names and their edges vary from one engineer to the next, so the edges stand beside each.',
    ],
    unit: 'dB relative to full scale',
    standard: standards.practice,
  },
  silence: {
    name: 'Silence',
    sentences: [
      'A file or section is silent when none of its samples passes −60 dBFS.',
      'Figures that need sound are then shown as a dash and never as a very low number.',
    ],
    unit: null,
    standard: standards.practice,
  },
  'head-and-tail': {
    name: 'Silence at head and tail',
    sentences: [
      'The time before the first and after the last sample over −60 dBFS.',
      'It shows whether a gap was left at the start, or a fade was cut before its end.',
    ],
    unit: 'seconds',
    standard: standards.practice,
  },
  'dead-channel': {
    name: 'Channel without sound',
    sentences: [
      'A channel that is empty while another one sounds.',
      'It is mostly a wrong export, though now and then it is meant.',
    ],
    unit: null,
    standard: standards.practice,
  },
  polarity: {
    name: 'Polarity',
    sentences: [
      'One side may be the wrong way round where left and right cancel more than they add.',
      'A swapped cable or a switch does this, and one speaker alone then loses much of the song.',
    ],
    unit: null,
    standard: standards.practice,
  },
} as const satisfies Record<string, GlossaryEntry>;

/** What is measured: the figures of a stretch, and those of the whole file alone. */
export type FigureName =
  | keyof Figures
  | Extract<
      keyof Measurement,
      'headSilenceSeconds' | 'tailSilenceSeconds' | 'deadChannels' | 'polaritySuspect' | 'oversCount'
    >;

/** The entry that explains a figure. */
export const entryOf: Record<FigureName, keyof typeof figureEntries | TradeWord> = {
  startSeconds: 'section',
  endSeconds: 'section',
  silent: 'silence',
  integratedLoudnessLufs: 'integrated-loudness',
  loudnessRangeLu: 'loudness-range',
  loudnessRangeReliable: 'loudness-range',
  maxMomentaryLoudnessLufs: 'momentary-loudness',
  maxShortTermLoudnessLufs: 'short-term-loudness',
  truePeakDbtp: 'true-peak',
  samplePeakDbfs: 'sample-peak',
  rmsDbfs: 'rms',
  rmsAes17Dbfs: 'rms',
  crestFactorDb: 'crest-factor',
  plrDb: 'plr',
  dcOffset: 'dc-offset',
  clippedRuns: 'clipped-runs',
  correlation: 'correlation',
  midSideBalanceDb: 'mid-over-side',
  monoFoldDownLossLu: 'mono-fold-down',
  bands: 'third-octave-bands',
  tradeBands: 'trade-bands',
  headSilenceSeconds: 'head-and-tail',
  tailSilenceSeconds: 'head-and-tail',
  deadChannels: 'dead-channel',
  polaritySuspect: 'polarity',
  oversCount: 'overs',
};

/** Where a figure is explained. */
export const glossaryAddress = (name: FigureName): string => `/glossary#${entryOf[name]}`;
