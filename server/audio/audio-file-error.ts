import { MeasurementError } from '../measurement/measurement-error.ts';

/**
 * Why a file can't be read as audio.
 * - `not_audio`: the first bytes belong to no format that is taken.
 * - `unsupported_format`: audio, but of a kind that isn't taken.
 * - `truncated`: the header promises more than the file holds: an upload or export that was cut off.
 * - `damaged`: bytes inside don't decode.
 * - `no_frames`: a sound header with no sound behind it.
 * - `unsound_header`: the header contradicts itself.
 */
export type AudioFileErrorCode =
  | 'not_audio'
  | 'unsupported_format'
  | 'truncated'
  | 'damaged'
  | 'no_frames'
  | 'unsound_header';

export const takenFormats =
  'Formats taken: WAV (16, 24 or 32-bit, float; also RF64 and BW64), AIFF, FLAC and MP3; AAC and ALAC (.m4a) where the server has ffmpeg; 8 to 384 kHz.';

const nextStep: Record<AudioFileErrorCode, string> = {
  not_audio: 'Choose the bounced audio file.',
  unsupported_format: 'Export it in one of the formats below.',
  truncated: 'Upload it again; if it stays so, export it again.',
  damaged: 'Export it again and upload the new file.',
  no_frames: 'Check the export range and export it again.',
  unsound_header: 'Export it again, or open it in an audio editor and save a copy.',
};

/** A file that can't be read: the message says what happened, what is safe, what to do, and what is taken. */
export class AudioFileError extends MeasurementError {
  declare readonly code: AudioFileErrorCode;

  /** @param happened One plain sentence on what was found in this file. */
  constructor(code: AudioFileErrorCode, happened: string) {
    super(code, `${happened} Nothing stored before has changed. ${nextStep[code]} ${takenFormats}`);
    this.name = 'AudioFileError';
  }
}
