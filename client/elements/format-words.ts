import type { AudioFormat } from '../api/types.ts';

const containerWord: Record<AudioFormat['container'], string> = {
  wav: 'WAV',
  rf64: 'RF64',
  bw64: 'BW64',
  aiff: 'AIFF',
  aifc: 'AIFF-C',
  flac: 'FLAC',
  mp3: 'MP3',
  m4a: 'M4A',
};

const kilohertz = (sampleRateHz: number) => `${Number((sampleRateHz / 1000).toFixed(3))} kHz`;

const channelWord = (channelCount: number) =>
  channelCount === 1 ? 'mono' : channelCount === 2 ? 'stereo' : `${channelCount} channels`;

/** A file's format in one line: `WAV, 24 bit, 48 kHz, stereo`. */
export function formatWords({
  container,
  encoding,
  bitDepth,
  sampleRateHz,
  channelCount,
}: AudioFormat): string {
  const depth = bitDepth === null ? null : `${bitDepth} bit${encoding === 'float' ? ' float' : ''}`;
  return [containerWord[container], depth, kilohertz(sampleRateHz), channelWord(channelCount)]
    .filter(Boolean)
    .join(', ');
}

/** The same of a posted version's file, which keeps less: `24 bit, 48 kHz, stereo`. */
export function storedFormatWords(file: {
  bitDepth: number | null;
  sampleRateHz: number;
  channelCount: number;
}): string {
  return [
    file.bitDepth === null ? 'lossy' : `${file.bitDepth} bit`,
    kilohertz(file.sampleRateHz),
    channelWord(file.channelCount),
  ].join(', ');
}

/** A file's size as people read it: `48.2 MB`, in powers of ten. */
export function fileSizeWords(byteLength: number): string {
  if (byteLength < 1e6) return `${Math.max(1, Math.round(byteLength / 1e3))} kB`;
  return byteLength < 1e9 ? `${(byteLength / 1e6).toFixed(1)} MB` : `${(byteLength / 1e9).toFixed(2)} GB`;
}
