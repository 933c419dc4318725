import { AudioFileError } from './audio-file-error.ts';

/** The rates for which every figure is defined here; K-weighting is checked from 8 to 384 kHz. */
export const lowestSampleRateHz = 8_000;
export const highestSampleRateHz = 384_000;
/** Beyond stereo and surround, the most that a multichannel bounce needs (*common practice*). */
export const highestChannelCount = 32;

/**
 * Holds the header's rate and channel count to what can be measured.
 *
 * @throws AudioFileError `unsound_header` for values that no file can have, `unsupported_format` for the others.
 */
export function assertFormatLimits(sampleRateHz: number, channelCount: number): void {
  if (!Number.isFinite(sampleRateHz) || sampleRateHz <= 0) {
    throw new AudioFileError('unsound_header', 'The header gives no usable sample rate.');
  }
  if (sampleRateHz < lowestSampleRateHz || sampleRateHz > highestSampleRateHz) {
    throw new AudioFileError('unsupported_format', `The header gives a sample rate of ${sampleRateHz} Hz.`);
  }
  if (channelCount < 1) throw new AudioFileError('unsound_header', 'The header gives no channels.');
  if (channelCount > highestChannelCount) {
    throw new AudioFileError('unsupported_format', `The header gives ${channelCount} channels.`);
  }
}

/** `3:07` for the messages that compare a promised length with the one that is there. */
export function clockTime(seconds: number): string {
  const whole = Math.floor(seconds);
  const hours = Math.floor(whole / 3600);
  const minutes = String(Math.floor((whole % 3600) / 60));
  const rest = String(whole % 60).padStart(2, '0');
  return hours > 0 ? `${hours}:${minutes.padStart(2, '0')}:${rest}` : `${minutes}:${rest}`;
}

/** The refusal of a file that holds less than its header promises, in the words of a person who waits for a song. */
export function truncatedFile(
  promisedFrames: number,
  presentFrames: number,
  sampleRateHz: number,
): AudioFileError {
  const promised = clockTime(promisedFrames / sampleRateHz);
  const present = clockTime(presentFrames / sampleRateHz);
  return new AudioFileError(
    'truncated',
    `The file is cut off: its header promises ${promised} (${promisedFrames} frames) and ${present} (${presentFrames}) is there.`,
  );
}
