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
import { assertFormatLimits, truncatedFile } from './header-limits.ts';
import { whatDecodes } from './what-decodes.ts';

const chunkBytes = 64 * 1024;
/** How far the first frame may stand behind the tags before the file counts as no MP3. */
const searchBytes = 64 * 1024;
/** Frame headers that must follow one another before the first counts as found. */
const framesToBeSure = 3;
/** A frame of silence that a player skips; encoders keep the stream's length in it. */
const streamNoteMarks = ['Xing', 'Info'];

/** Bit rates of Layer III in kbit/s by header code. @source ISO/IEC 11172-3, 2.4.2.3; ISO/IEC 13818-3 */
const kilobits = {
  mpeg1: [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320],
  mpeg2: [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
} as const;
/** Sample rates by the header's version bits (0: MPEG-2.5, 2: MPEG-2, 3: MPEG-1). */
const sampleRates: Record<number, readonly number[]> = {
  0: [11_025, 12_000, 8_000],
  2: [22_050, 24_000, 16_000],
  3: [44_100, 48_000, 32_000],
};

interface FrameHeader {
  bytes: number;
  frames: number;
  sampleRateHz: number;
  channelCount: number;
  /** Bytes of side information between the header and the main data. */
  sideBytes: number;
}

function frameHeader(bytes: Uint8Array, at: number): FrameHeader | null {
  if (at + 4 > bytes.length || bytes[at] !== 0xff) return null;
  const [second, third, fourth] = [bytes[at + 1]!, bytes[at + 2]!, bytes[at + 3]!];
  const version = (second >> 3) & 3;
  const layerThree = (second & 0xe6) === 0xe2;
  const sampleRateHz = sampleRates[version]?.[(third >> 2) & 3];
  const rate = kilobits[version === 3 ? 'mpeg1' : 'mpeg2'][third >> 4];
  if (!layerThree || !sampleRateHz || !rate) return null;
  const frames = version === 3 ? 1152 : 576;
  const channelCount = fourth >> 6 === 3 ? 1 : 2;
  const size = Math.floor((frames / 8) * ((rate * 1000) / sampleRateHz)) + ((third >> 1) & 1);
  const sideBytes = version === 3 ? (channelCount === 1 ? 17 : 32) : channelCount === 1 ? 9 : 17;
  return { bytes: size, frames, sampleRateHz, channelCount, sideBytes };
}

/** Bytes of the ID3v2 tags at `position`, zero where there is none. @source ID3v2.4.0 main structure, 3.1 */
export async function id3Bytes(handle: FileHandle, position: number): Promise<number> {
  let total = 0;
  for (;;) {
    const head = await bytesAt(handle, position + total, 10);
    if (head.length < 10 || head.toString('latin1', 0, 3) !== 'ID3') return total;
    const size = (head[6]! << 21) | (head[7]! << 14) | (head[8]! << 7) | head[9]!;
    total += 10 + size + (head[5]! & 0x10 ? 10 : 0);
  }
}

/** The byte of the first of several frames in a row, or `null`. */
async function firstFrame(
  handle: FileHandle,
  start: number,
): Promise<{ position: number; header: FrameHeader } | null> {
  const bytes = await bytesAt(handle, start, searchBytes);
  for (let at = 0; at + 4 <= bytes.length; at++) {
    const header = frameHeader(bytes, at);
    if (!header) continue;
    let next = at + header.bytes;
    let found = 1;
    while (found < framesToBeSure && next + 4 <= bytes.length) {
      const following = frameHeader(bytes, next);
      if (!following || following.sampleRateHz !== header.sampleRateHz) break;
      next += following.bytes;
      found++;
    }
    // A song of one or two frames has no more headers to be sure by; its frames must fill the file.
    if (found === framesToBeSure || (bytes.length < searchBytes && next >= bytes.length)) {
      return { position: start + at, header };
    }
  }
  return null;
}

/**
 * Opens an MP3 file whose audio begins at or after byte `start`. The length is known where the encoder left its note
 * (Xing or Info); encoder delay and padding are taken off.
 *
 * @throws AudioFileError
 */
export async function openMp3(
  handle: FileHandle,
  fileBytes: number,
  start: number,
): Promise<AudioReader | null> {
  const first = await firstFrame(handle, start);
  if (!first) return null;
  const { header, position } = first;
  assertFormatLimits(header.sampleRateHz, header.channelCount);
  const note = await streamNote(handle, position, header);
  if (note?.streamBytes && position + note.streamBytes > fileBytes) {
    const present = Math.floor((note.frameCount * (fileBytes - position)) / note.streamBytes);
    throw truncatedFile(note.frameCount, present, header.sampleRateHz);
  }
  const format: AudioFormat = {
    container: 'mp3',
    encoding: 'lossy',
    sampleRateHz: header.sampleRateHz,
    channelCount: header.channelCount,
    bitDepth: null,
    frameCount: note?.frameCount ?? null,
    durationSeconds: note ? note.frameCount / header.sampleRateHz : null,
  };
  return {
    format,
    read: (onBlock) => decodeMp3(handle, fileBytes, position, format, onBlock),
    close: () => handle.close(),
  };
}

/** What the encoder left in the first frame: the stream's length in frames (after trimming) and in bytes. */
async function streamNote(
  handle: FileHandle,
  position: number,
  header: FrameHeader,
): Promise<{ frameCount: number; streamBytes: number | null } | null> {
  const frame = await bytesAt(handle, position, header.bytes);
  const mark = 4 + header.sideBytes;
  if (frame.length < mark + 16 || !streamNoteMarks.includes(frame.toString('latin1', mark, mark + 4)))
    return null;
  const flags = frame.readUInt32BE(mark + 4);
  if (!(flags & 1)) return null;
  const codedFrames = frame.readUInt32BE(mark + 8);
  const streamBytes = flags & 2 ? frame.readUInt32BE(mark + 12) : null;
  const encoderNote = mark + 8 + 4 + (flags & 2 ? 4 : 0) + (flags & 4 ? 100 : 0) + (flags & 8 ? 4 : 0);
  let trimmed = 0;
  if (frame.length >= encoderNote + 24 && frame[encoderNote] !== 0) {
    const delayAndPadding = frame.readUIntBE(encoderNote + 21, 3);
    trimmed = (delayAndPadding >> 12) + (delayAndPadding & 0xfff);
  }
  return { frameCount: Math.max(0, codedFrames * header.frames - trimmed), streamBytes };
}

/**
 * Walks the stream frame by frame, so that the decoder never sees tags or other bytes between frames: it would report
 * them as faults, or take them for sound.
 */
async function decodeMp3(
  handle: FileHandle,
  fileBytes: number,
  start: number,
  format: AudioFormat,
  onBlock: OnBlock,
): Promise<{ frameCount: number }> {
  // Loaded for the files that need it: it carries its machine code with it.
  const { MPEGDecoder } = await import('mpg123-decoder');
  const decoder = new MPEGDecoder();
  await decoder.ready;
  const block = allocateBlock(format.channelCount);
  let frameCount = 0;
  let stopped = false;
  let damaged = false;

  const decodeRun = async (bytes: Uint8Array) => {
    const decoded = whatDecodes(() => decoder.decode(bytes));
    damaged ||=
      decoded === null ||
      decoded.errors.length > 0 ||
      (decoded.samplesDecoded > 0 && decoded.sampleRate !== format.sampleRateHz);
    if (damaged || decoded === null) return;
    for (let first = 0; first < decoded.samplesDecoded && !stopped; first += blockFrames) {
      const frames = Math.min(blockFrames, decoded.samplesDecoded - first);
      // The decoder always gives two channels; a mono song has the same in both.
      for (let channel = 0; channel < block.length; channel++) {
        block[channel]!.set(decoded.channelData[channel]!.subarray(first, first + frames));
      }
      frameCount += frames;
      stopped = (await onBlock(block, frames)) === false;
    }
  };

  try {
    const window = new Uint8Array(chunkBytes);
    let position = start;
    while (position < fileBytes && !stopped && !damaged) {
      const length = await readFully(handle, window, Math.min(chunkBytes, fileBytes - position), position);
      let end = 0;
      let header = frameHeader(window.subarray(0, length), end);
      while (header && end + header.bytes <= length) {
        end += header.bytes;
        header = frameHeader(window.subarray(0, length), end);
      }
      if (end > 0) await decodeRun(window.slice(0, end));
      position += end;
      const cutByWindow = header !== null || (length === chunkBytes && length - end < 4);
      if (position >= fileBytes || (cutByWindow && end > 0 && position + (header?.bytes ?? 4) <= fileBytes))
        continue;
      if (header) throw cutOff(format, frameCount);
      if (await isTrailer(handle, position, fileBytes)) break;
      damaged = true;
    }
  } finally {
    decoder.free();
  }
  if (damaged) {
    throw new AudioFileError('damaged', `The MP3 data does not decode after ${frameCount} frames.`);
  }
  if (!stopped && format.frameCount !== null && frameCount < format.frameCount) {
    throw truncatedFile(format.frameCount, frameCount, format.sampleRateHz);
  }
  if (frameCount === 0 && !stopped)
    throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  return { frameCount };
}

function cutOff(format: AudioFormat, frameCount: number): AudioFileError {
  return format.frameCount !== null
    ? truncatedFile(format.frameCount, frameCount, format.sampleRateHz)
    : new AudioFileError('truncated', 'The file is cut off inside its last MP3 frame.');
}

/** Tags and padding that may stand behind the sound: ID3v1, APE, Lyrics3, zeros. */
async function isTrailer(handle: FileHandle, position: number, fileBytes: number): Promise<boolean> {
  const bytes = await bytesAt(handle, position, Math.min(64, fileBytes - position));
  const text = bytes.toString('latin1');
  if (['TAG', 'APETAGEX', 'LYRICSBEGIN', 'ID3', '3DI'].some((mark) => text.startsWith(mark))) return true;
  return bytes.every((byte) => byte === 0);
}
