import type { FileHandle } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import type { AudioFormat } from './audio-format.ts';
import { type AudioReader, allocateBlock, blockFrames, type OnBlock } from './audio-reader.ts';
import { type FfmpegOptions, ffmpegOutput, findFfmpeg } from './ffmpeg.ts';
import { assertFormatLimits, truncatedFile } from './header-limits.ts';
import { type Mp4Sound, readMp4Sound } from './mp4-boxes.ts';
import { pcmDecoder } from './pcm.ts';

const decoders: Record<string, FfmpegOptions['decoder']> = { alac: 'alac', mp4a: 'aac' };
/** ALAC has 16 to 32 bits. @source Apple, ALAC magic cookie description */
const alacBitDepths = [16, 20, 24, 32];
/** Both kinds come out of ffmpeg in four bytes a sample: ALAC's integers from the top, AAC's floats as decoded. */
const bytesPerSample = 4;

/**
 * Opens an MPEG-4 file of ALAC or AAC sound, which the machine's own ffmpeg decodes. What the encoder put before the
 * sound is left out as the file's edit list says, and what it put behind is cut off here, so that the length is that
 * of the original; without an edit list an AAC file doesn't tell its length exactly. ALAC to 24 bits is exact.
 *
 * @throws AudioFileError `unsupported_format` where there is no ffmpeg
 */
export async function openM4a(handle: FileHandle, fileBytes: number, path: string): Promise<AudioReader> {
  const sound = await readMp4Sound(handle, fileBytes);
  const decoder = decoders[sound.codec];
  if (!decoder) {
    throw new AudioFileError(
      'unsupported_format',
      `The file holds sound of the kind "${printable(sound.codec)}".`,
    );
  }
  const lossless = decoder === 'alac';
  if (lossless && !alacBitDepths.includes(sound.bitDepth ?? 0)) {
    throw new AudioFileError('unsound_header', 'The ALAC header gives no usable bit depth.');
  }
  const { presentBytes, promisedBytes, timescale } = sound;
  const promisedUnits = promisedUnitsOf(sound, lossless);
  if (presentBytes < promisedBytes) {
    if (promisedUnits === null) throw new AudioFileError('truncated', 'The file ends before its sound does.');
    const presentUnits = Math.floor((promisedUnits * presentBytes) / promisedBytes);
    throw truncatedFile(promisedUnits, presentUnits, timescale);
  }
  const program = await findFfmpeg();
  if (!program) {
    throw new AudioFileError(
      'unsupported_format',
      'The file holds AAC or ALAC, which this server can only read with the program ffmpeg, and there is none.',
    );
  }
  const decoded = await decodedFormat({ program, path, decoder, output: [] });
  assertFormatLimits(decoded.sampleRateHz, decoded.channelCount);
  const frameCount =
    promisedUnits === null ? null : Math.round((promisedUnits * decoded.sampleRateHz) / timescale);
  if (frameCount === 0) throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  const seconds =
    frameCount === null ? (sound.mediaUnits ?? 0) / timescale : frameCount / decoded.sampleRateHz;
  const format: AudioFormat = {
    ...decoded,
    container: 'm4a',
    encoding: lossless ? 'integer' : 'lossy',
    bitDepth: lossless ? sound.bitDepth : null,
    frameCount,
    durationSeconds: seconds || null,
  };
  const closing = new AbortController();
  const kind = lossless ? 's32le' : 'f32le';
  const options = { program, path, decoder, output: ['-c:a', `pcm_${kind}`, '-f', kind] };
  return {
    format,
    read: (onBlock) => readDecoded(ffmpegOutput(options, closing.signal), format, onBlock),
    close: async () => {
      closing.abort();
      await handle.close();
    },
  };
}

const printable = (name: string) => name.replace(/[^\x20-\x7e]/g, '?');

/** The length that the header promises, in its own units. */
function promisedUnitsOf({ mediaUnits, heard }: Mp4Sound, lossless: boolean): number | null {
  if (mediaUnits === null) return null;
  if (heard === null) return lossless ? mediaUnits : null;
  const behindStart = Math.max(0, mediaUnits - heard.firstUnit);
  // Where the edit list counts in coarser units than the track, a length within its rounding is the track's own.
  return heard.units <= behindStart - heard.roundedToUnits ? Math.round(heard.units) : behindStart;
}

/** Rate and channels as they will come out, which an AAC header may leave open: from the WAV header of no sound. */
async function decodedFormat(
  options: FfmpegOptions,
): Promise<{ sampleRateHz: number; channelCount: number; channelMask: number | null }> {
  const extensible = 0xfffe;
  const parts: Buffer[] = [];
  const output = ['-t', '0', '-c:a', 'pcm_s16le', '-f', 'wav'];
  for await (const part of ffmpegOutput({ ...options, output })) parts.push(part);
  const header = Buffer.concat(parts);
  if (header.length < 44 || header.toString('latin1', 12, 16) !== 'fmt ') {
    throw new AudioFileError('damaged', 'The file does not decode.');
  }
  return {
    channelCount: header.readUInt16LE(22),
    sampleRateHz: header.readUInt32LE(24),
    channelMask: (header.readUInt16LE(20) === extensible && header.readUInt32LE(40)) || null,
  };
}

async function readDecoded(
  output: AsyncGenerator<Buffer>,
  format: AudioFormat,
  onBlock: OnBlock,
): Promise<{ frameCount: number }> {
  const { channelCount, sampleRateHz } = format;
  const encoding = format.encoding === 'integer' ? 'integer' : 'float';
  const decode = pcmDecoder({ encoding, bytesPerSample, littleEndian: true, unsigned: false }, channelCount)!;
  const bytesPerFrame = bytesPerSample * channelCount;
  const promisedFrames = format.frameCount ?? Infinity;
  const channels = allocateBlock(channelCount);
  const bytes = new Uint8Array(blockFrames * bytesPerFrame);
  let filled = 0;
  let frameCount = 0;
  const handOver = async () => {
    const frames = Math.min(Math.floor(filled / bytesPerFrame), promisedFrames - frameCount);
    filled = 0;
    if (frames === 0) return true;
    decode(bytes, frames, channels);
    frameCount += frames;
    return (await onBlock(channels, frames)) !== false;
  };
  for await (const chunk of output) {
    for (let from = 0; from < chunk.length; ) {
      const count = Math.min(chunk.length - from, bytes.length - filled);
      bytes.set(chunk.subarray(from, from + count), filled);
      filled += count;
      from += count;
      if (filled === bytes.length && !(await handOver())) return { frameCount };
    }
  }
  if (!(await handOver())) return { frameCount };
  if (format.frameCount !== null && frameCount < format.frameCount) {
    throw truncatedFile(format.frameCount, frameCount, sampleRateHz);
  }
  if (frameCount === 0) throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  return { frameCount };
}
