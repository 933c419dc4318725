import { createHash } from 'node:crypto';
import type { FileHandle } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import type { AudioFormat } from './audio-format.ts';
import {
  type AudioReader,
  allocateBlock,
  blockFrames,
  bytesAt,
  type OnBlock,
  readFully,
} from './audio-reader.ts';
import { EndOfBytes } from './bit-reader.ts';
import { DamagedFrame, decodeFlacFrame, flacFrameHeader, frameEnd } from './flac-frame.ts';
import { assertFormatLimits, truncatedFile } from './header-limits.ts';

/** Bytes of the file in memory at once: several frames' worth. */
const windowBytes = 256 * 1024;
/** With less than this at hand more is fetched; most frames are smaller. */
const comfortableBytes = 64 * 1024;
/** What a `BitReader` may look at behind the bytes that count. */
const paddingBytes = 8;
const id3v1Bytes = 128;
/** More of what looks like a frame's header stands in no sound file's tail; a made-up one could hold thousands. */
const mostCandidates = 64;
/** The largest FLAC frame: 65,535 frames of eight channels of 32 bits, stored without compression. */
const largestFrameBytes = 65_535 * 8 * 4 + 64;
const largestHeaderBytes = 16;
/** Where the channels of three and more stand, as WAVE_FORMAT_EXTENSIBLE's bits. @source RFC 9639, 9.1.3 */
const channelMasks: Record<number, number> = { 3: 0x7, 4: 0x33, 5: 0x37, 6: 0x3f, 7: 0x70f, 8: 0x63f };

/** What the first metadata block says of the stream, and where its frames lie in the file. */
interface FlacStream {
  format: AudioFormat;
  bitDepth: number;
  /** MD5 of all samples, or `null` where the encoder left it out. */
  samplesMd5: string | null;
  start: number;
  end: number;
  /** Whether the bytes up to `end` end with a whole frame, as they do in a file that was not cut. */
  endsWhole: boolean;
}

export function isFlac(head: Uint8Array): boolean {
  return Buffer.from(head.subarray(0, 4)).toString('latin1') === 'fLaC';
}

/**
 * Opens a FLAC stream that begins at byte `start` (after an ID3v2 tag, where one was put in front): 4 to 32 bits, one
 * to eight channels. The last frame in the file is looked at, so that a file that was cut off is refused before
 * anything is decoded. Reading checks every frame's CRC and, read to the end, the MD5 of all samples.
 *
 * Depths to 24 bits are exact; deeper ones are rounded to the 24-bit mantissa of a 32-bit float, as those of WAV are.
 *
 * @throws AudioFileError
 * @source RFC 9639, Free Lossless Audio Codec
 */
export async function openFlac(handle: FileHandle, fileBytes: number, start: number): Promise<AudioReader> {
  const info = await bytesAt(handle, start + 4, 38);
  if (info.length < 38) throw new AudioFileError('truncated', 'The file ends inside its header.');
  if ((info[0]! & 0x7f) !== 0)
    throw new AudioFileError('unsound_header', 'The FLAC header has no stream information.');
  const largestBlockFrames = info.readUInt16BE(6);
  const packed = info.readBigUInt64BE(14);
  const sampleRateHz = Number(packed >> 44n);
  const channelCount = Number((packed >> 41n) & 7n) + 1;
  const bitDepth = Number((packed >> 36n) & 31n) + 1;
  const promisedFrames = Number(packed & 0xfffffffffn);
  const samplesMd5 = info.toString('hex', 22, 38);
  assertFormatLimits(sampleRateHz, channelCount);
  if (bitDepth < 4) {
    throw new AudioFileError(
      'unsound_header',
      `The header gives ${bitDepth}-bit samples, which FLAC has not.`,
    );
  }
  const metadata = await readMetadata(handle, fileBytes, start + 4);
  const end = await beforeTag(handle, fileBytes);
  if (metadata.end >= end) {
    throw promisedFrames > 0
      ? truncatedFile(promisedFrames, 0, sampleRateHz)
      : new AudioFileError('no_frames', 'The file holds a header and no audio.');
  }
  const last = await lastFrame(handle, metadata.end, end, largestBlockFrames);
  if (promisedFrames > 0 && last && last.endFrame < promisedFrames) {
    throw truncatedFile(promisedFrames, last.endFrame, sampleRateHz);
  }
  const format: AudioFormat = {
    container: 'flac',
    encoding: 'integer',
    sampleRateHz,
    channelCount,
    bitDepth,
    frameCount: promisedFrames || null,
    durationSeconds: promisedFrames ? promisedFrames / sampleRateHz : null,
    channelMask: metadata.channelMask ?? channelMasks[channelCount] ?? null,
  };
  const stream: FlacStream = {
    format,
    bitDepth,
    samplesMd5: /^0+$/.test(samplesMd5) ? null : samplesMd5,
    start: metadata.end,
    end,
    endsWhole: last?.endByte === end,
  };
  return { format, read: (onBlock) => readFlac(handle, stream, onBlock), close: () => handle.close() };
}

/** Walks the metadata blocks (tags, pictures) to the first audio frame. */
async function readMetadata(
  handle: FileHandle,
  fileBytes: number,
  firstBlock: number,
): Promise<{ end: number; channelMask: number | null }> {
  const vorbisComment = 4;
  const mostCommentBytes = 1 << 20;
  let position = firstBlock;
  let channelMask: number | null = null;
  for (;;) {
    const head = await bytesAt(handle, position, 4);
    if (head.length < 4 || position > fileBytes) {
      throw new AudioFileError('truncated', 'The file ends inside its header.');
    }
    const size = head.readUIntBE(1, 3);
    if ((head[0]! & 0x7f) === vorbisComment) {
      // @source RFC 9639, 8.6.2
      const comments = (await bytesAt(handle, position + 4, Math.min(size, mostCommentBytes))).toString(
        'latin1',
      );
      const mask = /WAVEFORMATEXTENSIBLE_CHANNEL_MASK=0x([0-9a-f]{1,8})/i.exec(comments)?.[1];
      if (mask) channelMask = Number.parseInt(mask, 16) || null;
    }
    position += 4 + size;
    if (head[0]! & 0x80) return { end: position, channelMask };
  }
}

/** Where the sound ends: before an ID3v1 tag, where a program has hung one on, else at the end of the file. */
async function beforeTag(handle: FileHandle, fileBytes: number): Promise<number> {
  const mark = await bytesAt(handle, Math.max(0, fileBytes - id3v1Bytes), 3);
  return mark.toString('latin1') === 'TAG' ? fileBytes - id3v1Bytes : fileBytes;
}

async function readFlac(
  handle: FileHandle,
  stream: FlacStream,
  onBlock: OnBlock,
): Promise<{ frameCount: number }> {
  const { format, bitDepth } = stream;
  const promisedFrames = format.frameCount ?? Infinity;
  const fullScale = 2 ** (bitDepth - 1);
  const md5 = stream.samplesMd5 === null ? null : createHash('md5');
  const window = new FileWindow(handle, stream.start, stream.end);
  const block = allocateBlock(format.channelCount);
  let samples = block.map(() => new Float64Array(0));
  let interleaved = new Uint8Array(0);
  let decodedFrames = 0;
  let nextNumber: number | null = null;
  let filled = 0;

  while (decodedFrames < promisedFrames) {
    if (window.left < comfortableBytes) await window.fetch();
    if (window.left === 0) break;
    const header = flacFrameHeader(window.bytes, window.at, window.end);
    if (!header)
      throw window.left < largestHeaderBytes
        ? cutFrame(stream, decodedFrames)
        : damaged(stream, decodedFrames);
    if (
      header.channelCount !== format.channelCount ||
      (header.bitDepth ?? bitDepth) !== bitDepth ||
      (header.sampleRateHz ?? format.sampleRateHz) !== format.sampleRateHz
    ) {
      throw new AudioFileError('unsupported_format', 'The file changes its rate, depth or channels midway.');
    }
    if (header.number !== (nextNumber ?? header.number)) throw damaged(stream, decodedFrames);
    const { frames } = header;
    if (samples[0]!.length < frames) {
      samples = block.map(() => new Float64Array(frames));
      interleaved = new Uint8Array(frames * block.length * Math.ceil(bitDepth / 8));
    }
    try {
      window.at = decodeFlacFrame(window.bytes, window.at, window.end, header, bitDepth, samples);
      if (md5) md5.update(littleEndian(samples, frames, bitDepth, interleaved));
      for (let first = 0; first < frames; ) {
        const count = Math.min(blockFrames - filled, frames - first);
        for (const [channel, target] of block.entries()) {
          toFloats(samples[channel]!, first, count, fullScale, target, filled);
        }
        first += count;
        filled += count;
        if (filled < blockFrames) continue;
        if ((await onBlock(block, filled)) === false) return { frameCount: decodedFrames + first };
        filled = 0;
      }
    } catch (error) {
      if (error instanceof EndOfBytes) {
        if (window.left < largestFrameBytes && (await window.fetch())) continue;
        throw cutFrame(stream, decodedFrames);
      }
      throw error instanceof DamagedFrame ? damaged(stream, decodedFrames) : error;
    }
    decodedFrames += frames;
    nextNumber = header.number + (header.variable ? frames : 1);
  }
  if (decodedFrames === 0) throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  if (decodedFrames < promisedFrames && format.frameCount !== null) throw damaged(stream, decodedFrames);
  if (decodedFrames > promisedFrames || flacFrameHeader(window.bytes, window.at, window.end)) {
    throw new AudioFileError('unsound_header', 'The file holds more audio than its header says.');
  }
  if (filled > 0) await onBlock(block, filled);
  if (md5 && md5.digest('hex') !== stream.samplesMd5) {
    throw new AudioFileError(
      'damaged',
      'The FLAC samples are not those that the header’s checksum (MD5) stands for.',
    );
  }
  return { frameCount: decodedFrames };
}

/** A stretch of the file in memory that moves along with the decoding. */
class FileWindow {
  readonly #handle: FileHandle;
  readonly #fileEnd: number;
  #position: number;
  bytes = new Uint8Array(windowBytes + paddingBytes);
  /** The next byte to decode, and the one behind the last that is in memory. */
  at = 0;
  end = 0;

  constructor(handle: FileHandle, start: number, fileEnd: number) {
    this.#handle = handle;
    this.#position = start;
    this.#fileEnd = fileEnd;
  }

  get left(): number {
    return this.end - this.at;
  }

  /** Fetches what fits behind the bytes that are left, making more room where they fill half of it; `false` at the file's end. */
  async fetch(): Promise<boolean> {
    const { bytes, left } = this;
    if (left > bytes.length / 2) this.bytes = new Uint8Array(bytes.length * 2);
    this.bytes.set(bytes.subarray(this.at, this.end));
    const room = Math.min(this.bytes.length - paddingBytes - left, this.#fileEnd - this.#position);
    const fetched = await readFully(this.#handle, this.bytes.subarray(left), room, this.#position);
    this.#position += fetched;
    this.at = 0;
    this.end = left + fetched;
    return fetched > 0;
  }
}

function damaged({ format }: FlacStream, wholeFrames: number): AudioFileError {
  return new AudioFileError(
    'damaged',
    `The FLAC data does not decode: ${wholeFrames} of ${format.frameCount ?? 'an unknown number of'} frames came out whole.`,
  );
}

/** A frame that goes on behind the end: the file was cut, unless its end is known to be whole. */
function cutFrame(stream: FlacStream, wholeFrames: number): AudioFileError {
  const { frameCount, sampleRateHz } = stream.format;
  if (stream.endsWhole) return damaged(stream, wholeFrames);
  return frameCount === null
    ? new AudioFileError('truncated', `The file is cut off behind ${wholeFrames} whole frames.`)
    : truncatedFile(frameCount, wholeFrames, sampleRateHz);
}

/** @throws DamagedFrame for a value beyond the depth: a prediction that ran away, whatever its checksum says */
function toFloats(
  source: Float64Array,
  first: number,
  count: number,
  fullScale: number,
  target: Float32Array,
  at: number,
): void {
  const step = 1 / fullScale;
  for (let frame = 0; frame < count; frame++) {
    const value = source[first + frame]! * step;
    if (!(value >= -1 && value < 1)) throw new DamagedFrame('range');
    target[at + frame] = value;
  }
}

/**
 * The samples as their MD5 is taken: interleaved, in whole bytes, the low one first; at the start of `bytes`.
 *
 * @source RFC 9639, 8.2
 */
function littleEndian(
  channels: readonly Float64Array[],
  frames: number,
  bitDepth: number,
  bytes: Uint8Array,
): Uint8Array {
  const bytesPerSample = Math.ceil(bitDepth / 8);
  const stride = channels.length * bytesPerSample;
  for (const [channel, source] of channels.entries()) {
    for (let frame = 0, at = channel * bytesPerSample; frame < frames; frame++, at += stride) {
      const value = source[frame]! | 0;
      bytes[at] = value;
      if (bytesPerSample > 1) bytes[at + 1] = value >> 8;
      if (bytesPerSample > 2) bytes[at + 2] = value >> 16;
      if (bytesPerSample > 3) bytes[at + 3] = value >> 24;
    }
  }
  return bytes.subarray(0, frames * stride);
}

/**
 * Where the last whole FLAC frame before `end` ends, as a byte and as a frame of sound, or `null` where none is found
 * near there. A candidate counts when its header's CRC-8 holds, and the CRC-16 over the whole of it up to the end of
 * the sound or to a later candidate.
 */
async function lastFrame(
  handle: FileHandle,
  start: number,
  end: number,
  largestBlockFrames: number,
): Promise<{ endByte: number; endFrame: number } | null> {
  for (let span = windowBytes; ; span = Math.min(span * 8, largestFrameBytes * 2)) {
    const from = Math.max(start, end - span);
    const tail = await bytesAt(handle, from, end - from);
    const ends = [tail.length];
    for (let at = tail.length - 2; at >= 0; at--) {
      if (tail[at] !== 0xff) continue;
      const header = flacFrameHeader(tail, at, tail.length);
      if (!header) continue;
      const endIndex = frameEnd(tail, at, ends);
      if (endIndex !== null) {
        const firstFrame = header.variable ? header.number : header.number * largestBlockFrames;
        return { endByte: from + endIndex, endFrame: firstFrame + header.frames };
      }
      if (ends.push(at) > mostCandidates) return null;
    }
    if (from === start || span === largestFrameBytes * 2) return null;
  }
}
