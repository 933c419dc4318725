import type { FileHandle } from 'node:fs/promises';
import { type FLACDecodedAudio, FLACDecoder } from '@wasm-audio-decoders/flac';
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
import { assertFormatLimits, truncatedFile } from './header-limits.ts';
import { whatDecodes } from './what-decodes.ts';

/** Bytes given to the decoder at once; a few frames' worth. */
const chunkBytes = 64 * 1024;
/** The largest bit depth whose integers survive the decoder's 32-bit floats. */
const deepestExactBits = 24;
const id3v1Bytes = 128;
/** More of what looks like a frame's header stands in no sound file's tail; a made-up one could hold thousands. */
const mostCandidates = 64;
/** The largest FLAC frame: 65,535 frames of eight channels of 24 bits, stored without compression. */
const largestFlacFrameBytes = 65_535 * 8 * 3 + 64;

export function isFlac(head: Uint8Array): boolean {
  return Buffer.from(head.subarray(0, 4)).toString('latin1') === 'fLaC';
}

/**
 * Opens a FLAC stream that begins at byte `start` (after an ID3v2 tag, where one was put in front). The last frame in
 * the file is looked at, so that a file that was cut off is refused before anything is decoded.
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
  assertFormatLimits(sampleRateHz, channelCount);
  if (bitDepth > deepestExactBits) {
    throw new AudioFileError(
      'unsupported_format',
      `The file holds ${bitDepth}-bit FLAC; FLAC is taken to 24 bits.`,
    );
  }
  const audioStart = await afterMetadata(handle, fileBytes, start + 4);
  const audioEnd = await beforeTag(handle, fileBytes);
  if (audioStart >= audioEnd) {
    throw promisedFrames > 0
      ? truncatedFile(promisedFrames, 0, sampleRateHz)
      : new AudioFileError('no_frames', 'The file holds a header and no audio.');
  }
  const presentFrames = await lastFrameEnd(handle, audioStart, audioEnd, largestBlockFrames);
  if (promisedFrames > 0 && presentFrames !== null && presentFrames < promisedFrames) {
    throw truncatedFile(promisedFrames, presentFrames, sampleRateHz);
  }
  const format: AudioFormat = {
    container: 'flac',
    encoding: 'integer',
    sampleRateHz,
    channelCount,
    bitDepth,
    frameCount: promisedFrames || null,
    durationSeconds: promisedFrames ? promisedFrames / sampleRateHz : null,
  };
  return {
    format,
    read: (onBlock) => decodeFlac(handle, audioEnd, start, format, onBlock),
    close: () => handle.close(),
  };
}

/** Walks the metadata blocks (tags, pictures) to the first audio frame. */
async function afterMetadata(handle: FileHandle, fileBytes: number, firstBlock: number): Promise<number> {
  let position = firstBlock;
  for (;;) {
    const head = await bytesAt(handle, position, 4);
    if (head.length < 4 || position > fileBytes) {
      throw new AudioFileError('truncated', 'The file ends inside its header.');
    }
    position += 4 + head.readUIntBE(1, 3);
    if (head[0]! & 0x80) return position;
  }
}

/** Where the sound ends: before an ID3v1 tag, where a program has hung one on, else at the end of the file. */
async function beforeTag(handle: FileHandle, fileBytes: number): Promise<number> {
  const mark = await bytesAt(handle, Math.max(0, fileBytes - id3v1Bytes), 3);
  return mark.toString('latin1') === 'TAG' ? fileBytes - id3v1Bytes : fileBytes;
}

async function decodeFlac(
  handle: FileHandle,
  audioEnd: number,
  start: number,
  format: AudioFormat,
  onBlock: OnBlock,
): Promise<{ frameCount: number }> {
  const decoder = new FLACDecoder();
  await decoder.ready;
  const block = allocateBlock(format.channelCount);
  // The decoder divides by F − 1, with F = 2^(bits − 1): undone here, so that FLAC and WAV give the same samples.
  const fullScale = 2 ** (format.bitDepth! - 1);
  let frameCount = 0;
  let damaged = false;
  let stopped = false;

  const handOver = async (decoded: FLACDecodedAudio | null) => {
    damaged ||=
      decoded === null ||
      decoded.errors.length > 0 ||
      (decoded.samplesDecoded > 0 && decoded.channelData.length !== block.length);
    if (damaged || decoded === null) return;
    for (let first = 0; first < decoded.samplesDecoded && !stopped; first += blockFrames) {
      const frames = Math.min(blockFrames, decoded.samplesDecoded - first);
      for (let channel = 0; channel < block.length; channel++) {
        const source = decoded.channelData[channel]!;
        const target = block[channel]!;
        for (let frame = 0; frame < frames; frame++) {
          target[frame] = Math.round(source[first + frame]! * (fullScale - 1)) / fullScale;
        }
      }
      frameCount += frames;
      stopped = (await onBlock(block, frames)) === false;
    }
  };

  try {
    // The decoder keeps a view of what it was given until the frame is whole, so each chunk is an array of its own.
    for (let position = start; position < audioEnd && !stopped && !damaged; position += chunkBytes) {
      const chunk = new Uint8Array(Math.min(chunkBytes, audioEnd - position));
      await readFully(handle, chunk, chunk.length, position);
      await handOver(await whatDecodes(() => decoder.decode(chunk)));
    }
    if (!stopped && !damaged) await handOver(await whatDecodes(() => decoder.flush()));
  } finally {
    decoder.free();
  }
  if (damaged || (!stopped && format.frameCount !== null && frameCount !== format.frameCount)) {
    throw new AudioFileError(
      'damaged',
      `The FLAC data does not decode: ${frameCount} of ${format.frameCount ?? 'an unknown number of'} frames came out whole.`,
    );
  }
  if (frameCount === 0 && !stopped)
    throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  return { frameCount };
}

/**
 * The frame index at which the last whole FLAC frame of the file ends, or `null` where none is found near its end.
 * A candidate counts when its header's CRC-8 holds and the CRC-16 over the whole of it holds up to the end of the sound
 * or to a later candidate.
 */
async function lastFrameEnd(
  handle: FileHandle,
  audioStart: number,
  audioEnd: number,
  largestBlockFrames: number,
): Promise<number | null> {
  for (let span = chunkBytes; ; span = Math.min(span * 8, largestFlacFrameBytes * 2)) {
    const from = Math.max(audioStart, audioEnd - span);
    const tail = await bytesAt(handle, from, audioEnd - from);
    const ends = new Set([tail.length]);
    for (let at = tail.length - 6; at >= 0; at--) {
      if (tail[at] !== 0xff || (tail[at + 1]! & 0xfe) !== 0xf8) continue;
      const frame = flacFrameHeader(tail, at, largestBlockFrames);
      if (!frame) continue;
      if (endsWhole(tail, at, ends)) return frame.firstFrame + frame.frames;
      if (ends.add(at).size > mostCandidates) return null;
    }
    if (from === audioStart || span === largestFlacFrameBytes * 2) return null;
  }
}

/** Whether the CRC-16 of the frame that begins at `at` holds at one of `ends`. */
function endsWhole(bytes: Uint8Array, at: number, ends: ReadonlySet<number>): boolean {
  let crc = 0;
  const last = Math.min(bytes.length, at + largestFlacFrameBytes);
  for (let index = at; index < last; index++) {
    crc = ((crc << 8) & 0xffff) ^ crc16Table[(crc >> 8) ^ bytes[index]!]!;
    if (crc === 0 && ends.has(index + 1)) return true;
  }
  return false;
}

/** A frame header's place in the stream, if the bytes at `at` are one and its CRC-8 holds. */
function flacFrameHeader(
  bytes: Uint8Array,
  at: number,
  largestBlockFrames: number,
): { firstFrame: number; frames: number } | null {
  const variable = (bytes[at + 1]! & 1) === 1;
  const sizeCode = bytes[at + 2]! >> 4;
  const rateCode = bytes[at + 2]! & 15;
  if (sizeCode === 0 || rateCode === 15 || (bytes[at + 3]! & 1) === 1) return null;
  let index = at + 4;
  const lead = bytes[index++]!;
  let following = Math.clz32(~(lead << 24));
  if (following === 1 || following > 7) return null;
  let coded = following === 0 ? lead : lead & (0x7f >> following);
  for (; following > 1; following--) {
    const byte = bytes[index++] ?? 0;
    if ((byte & 0xc0) !== 0x80) return null;
    coded = coded * 64 + (byte & 0x3f);
  }
  let frames = sizeCode === 1 ? 192 : sizeCode <= 5 ? 576 << (sizeCode - 2) : 256 << (sizeCode - 8);
  if (sizeCode === 6) frames = (bytes[index++] ?? 0) + 1;
  if (sizeCode === 7) {
    frames = (((bytes[index] ?? 0) << 8) | (bytes[index + 1] ?? 0)) + 1;
    index += 2;
  }
  if (rateCode === 12) index += 1;
  if (rateCode === 13 || rateCode === 14) index += 2;
  if (index >= bytes.length) return null;
  let crc = 0;
  for (let byte = at; byte < index; byte++) crc = crc8Table[crc ^ bytes[byte]!]!;
  if (crc !== bytes[index]) return null;
  return { firstFrame: variable ? coded : coded * largestBlockFrames, frames };
}

/** The remainder table of a CRC, most significant bit first. */
function crcTable(polynomial: number, bits: 8 | 16): Uint16Array {
  const top = 2 ** (bits - 1);
  const mask = 2 ** bits - 1;
  return Uint16Array.from({ length: 256 }, (_, byte) => {
    let remainder = byte << (bits - 8);
    for (let bit = 0; bit < 8; bit++) {
      remainder = remainder & top ? ((remainder << 1) ^ polynomial) & mask : (remainder << 1) & mask;
    }
    return remainder;
  });
}

/** @source RFC 9639, 9.1.8 (x⁸+x²+x+1) and 9.3 (x¹⁶+x¹⁵+x²+1) */
const crc8Table = crcTable(0x07, 8);
const crc16Table = crcTable(0x8005, 16);
