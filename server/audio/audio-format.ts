/** What a file says of itself, read from its header alone. */
export interface AudioFormat {
  container: 'wav' | 'rf64' | 'bw64' | 'aiff' | 'aifc' | 'flac' | 'mp3' | 'm4a';
  encoding: 'integer' | 'float' | 'lossy';
  sampleRateHz: number;
  channelCount: number;
  /** Bits a sample; `null` for lossy encodings. */
  bitDepth: number | null;
  /** Frames that the header promises; `null` where the format doesn't say. */
  frameCount: number | null;
  durationSeconds: number | null;
  /** Speaker positions as WAVE_FORMAT_EXTENSIBLE's bit mask; absent or `null` where the file names none. */
  channelMask?: number | null;
}
