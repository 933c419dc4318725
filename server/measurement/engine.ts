/** Raised whenever a figure could come out differently, so that stored results are measured again before comparing. */
export const engine = { name: 'countoff', version: '1.1.0' } as const;

/** Standard and edition behind each group of figures. */
export const standards = {
  loudness: 'ITU-R BS.1770-5 (11/2023)',
  meter: 'EBU Tech 3341 v4 (11/2023)',
  loudnessRange: 'EBU Tech 3342 v4 (11/2023)',
  truePeak: 'ITU-R BS.1770-5 (11/2023), Annex 2',
  spectrum: 'IEC 61260-1:2014, one-third octaves, base ten',
  rms: 'mean square over all channels, full-scale sine −3.01 dBFS; AES17-2020 with the sine at 0 dBFS',
} as const;
