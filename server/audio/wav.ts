import type { FileHandle } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import type { AudioFormat } from './audio-format.ts';
import { type AudioReader, bytesAt, pcmReader } from './audio-reader.ts';
import { assertFormatLimits, truncatedFile } from './header-limits.ts';
import { pcmDecoder } from './pcm.ts';

const formatPcm = 0x0001;
const formatFloat = 0x0003;
const formatExtensible = 0xfffe;
/** In place of a size: "see ds64" in RF64 and BW64, "unknown when written" in a WAV that was streamed. */
const sizeElsewhere = 0xffffffff;
/** Bytes 2 to 15 of the sub-format GUID of every WAVE_FORMAT_EXTENSIBLE tag: 0000-0010-8000-00aa00389b71. */
const extensibleGuidTail = Buffer.from('000000001000800000aa00389b71', 'hex');
/** More chunks than any tool writes; a header that goes on for longer is a loop or a lie. */
const mostChunks = 4096;

interface FormatChunk {
  tag: number;
  channelCount: number;
  sampleRateHz: number;
  bytesPerFrame: number;
  containerBits: number;
  validBits: number;
  channelMask: number | null;
}

const containers: Record<string, AudioFormat['container']> = { RIFF: 'wav', RF64: 'rf64', BW64: 'bw64' };

/** Whether the first twelve bytes are those of a WAV, RF64 or BW64 file. */
export function isWav(head: Uint8Array): boolean {
  const text = Buffer.from(head.subarray(0, 12)).toString('latin1');
  return text.slice(0, 4) in containers && (text.length < 12 || text.slice(8, 12) === 'WAVE');
}

/**
 * Opens a WAV file: RIFF, RF64 or BW64; 8, 16, 24 or 32-bit integers, 32 or 64-bit floats; plain or EXTENSIBLE.
 * Chunks may come in any order, and a missing pad byte is forgiven.
 *
 * @throws AudioFileError
 * @source EBU Tech 3306 (RF64); ITU-R BS.2088 (BW64); Microsoft, Multiple Channel Audio Data and WAVE Files
 */
export async function openWav(handle: FileHandle, fileBytes: number): Promise<AudioReader> {
  const head = await bytesAt(handle, 0, 12);
  if (head.length < 12) throw new AudioFileError('truncated', 'The file ends inside its header.');
  const container = containers[head.toString('latin1', 0, 4)]!;

  let format: FormatChunk | null = null;
  let data: { position: number; promisedBytes: number } | null = null;
  let longDataBytes: number | null = null;
  let position = 12;
  let dataTail: Buffer = Buffer.alloc(0);
  for (let chunk = 0; position + 8 <= fileBytes && !(format && data); chunk++) {
    if (chunk === mostChunks) throw new AudioFileError('unsound_header', 'The header never comes to an end.');
    const chunkHead = await bytesAt(handle, position, 8);
    const id = chunkHead.toString('latin1', 0, 4);
    const size = chunkHead.readUInt32LE(4);
    const body = position + 8;
    if (id === 'ds64') {
      const sizes = await bytesAt(handle, body, Math.min(size, 16));
      if (sizes.length === 16) longDataBytes = Number(sizes.readBigUInt64LE(8));
    } else if (id === 'fmt ') {
      format = formatChunk(await bytesAt(handle, body, Math.min(size, 40)));
    } else if (id === 'data') {
      const promisedBytes = promisedDataBytes(size, container, longDataBytes, fileBytes - body);
      data = { position: body, promisedBytes };
      if (format) {
        dataTail = await bytesAt(handle, body + promisedBytes, 9);
        break;
      }
      position = body + promisedBytes + (promisedBytes % 2);
      continue;
    }
    position = await nextChunk(handle, body, size, fileBytes);
  }
  if (!format) {
    if (data || position >= fileBytes) throw missingChunk(position, fileBytes, 'format');
    throw new AudioFileError('unsound_header', 'The header names no sample format.');
  }
  if (!data) throw missingChunk(position, fileBytes, 'audio');
  return wavReader(handle, fileBytes, container, format, data, dataTail);
}

function missingChunk(position: number, fileBytes: number, what: string): AudioFileError {
  return position > fileBytes
    ? new AudioFileError('truncated', `The file ends before its ${what} chunk.`)
    : new AudioFileError('unsound_header', `The file has no ${what} chunk.`);
}

function promisedDataBytes(
  size: number,
  container: AudioFormat['container'],
  longDataBytes: number | null,
  presentBytes: number,
): number {
  if (size !== sizeElsewhere) return size;
  if (container === 'wav') return presentBytes;
  if (longDataBytes === null) {
    throw new AudioFileError(
      'unsound_header',
      'The file points to a table of long sizes (ds64) that is not there.',
    );
  }
  return longDataBytes;
}

/** Chunks begin on even bytes; where a writer forgot the pad byte, the next name stands one byte early. */
async function nextChunk(handle: FileHandle, body: number, size: number, fileBytes: number): Promise<number> {
  const end = body + size;
  if (size % 2 === 0 || end + 4 > fileBytes) return end + (size % 2);
  const here = await bytesAt(handle, end, 5);
  const printable = (bytes: Uint8Array) =>
    bytes.length === 4 && bytes.every((byte) => byte >= 0x20 && byte < 0x7f);
  return printable(here.subarray(0, 4)) && here[0] !== 0x20 ? end : end + 1;
}

function formatChunk(body: Buffer): FormatChunk {
  if (body.length < 16) throw new AudioFileError('unsound_header', 'The format chunk is too short.');
  let tag = body.readUInt16LE(0);
  const containerBits = body.readUInt16LE(14);
  let validBits = containerBits;
  let channelMask: number | null = null;
  if (tag === formatExtensible) {
    if (body.length < 40)
      throw new AudioFileError('unsound_header', 'The extended format chunk is too short.');
    validBits = body.readUInt16LE(18) || containerBits;
    channelMask = body.readUInt32LE(20) || null;
    if (!body.subarray(26, 40).equals(extensibleGuidTail)) {
      throw new AudioFileError(
        'unsupported_format',
        'The file holds a kind of audio that is not linear PCM.',
      );
    }
    tag = body.readUInt16LE(24);
  }
  return {
    tag,
    channelCount: body.readUInt16LE(2),
    sampleRateHz: body.readUInt32LE(4),
    bytesPerFrame: body.readUInt16LE(12),
    containerBits,
    validBits,
    channelMask,
  };
}

function wavReader(
  handle: FileHandle,
  fileBytes: number,
  container: AudioFormat['container'],
  format: FormatChunk,
  data: { position: number; promisedBytes: number },
  dataTail: Buffer,
): AudioReader {
  const { channelCount, sampleRateHz, bytesPerFrame, validBits } = format;
  assertFormatLimits(sampleRateHz, channelCount);
  if (format.tag !== formatPcm && format.tag !== formatFloat) {
    throw new AudioFileError(
      'unsupported_format',
      `The file holds compressed or unusual audio (WAV format tag ${format.tag}).`,
    );
  }
  const bytesPerSample = Math.ceil(format.containerBits / 8);
  const encoding = format.tag === formatFloat ? 'float' : 'integer';
  const layout = { encoding, bytesPerSample, littleEndian: true, unsigned: bytesPerSample === 1 } as const;
  const decode = pcmDecoder(layout, channelCount);
  if (!decode) {
    throw new AudioFileError(
      'unsupported_format',
      `The file holds ${format.containerBits}-bit ${encoding} samples.`,
    );
  }
  if (bytesPerFrame !== bytesPerSample * channelCount || validBits > format.containerBits) {
    throw new AudioFileError('unsound_header', 'The header contradicts itself on the size of a sample.');
  }
  const presentBytes = Math.max(0, Math.min(data.promisedBytes, fileBytes - data.position));
  const presentFrames = Math.floor(presentBytes / bytesPerFrame);
  const frameCount = Math.floor(data.promisedBytes / bytesPerFrame);
  if (presentFrames < frameCount) throw truncatedFile(frameCount, presentFrames, sampleRateHz);
  if (frameCount === 0) {
    const more = dataTail.subarray(0, 4);
    const chunkFollows = more.length < 4 || more.every((byte) => byte >= 0x20 && byte < 0x7f);
    if (!chunkFollows) {
      throw new AudioFileError(
        'unsound_header',
        'The header gives the audio a length of zero, yet bytes follow it.',
      );
    }
    throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  }
  return pcmReader(
    handle,
    {
      container,
      encoding,
      sampleRateHz,
      channelCount,
      bitDepth: validBits,
      frameCount,
      durationSeconds: frameCount / sampleRateHz,
      channelMask: format.channelMask,
    },
    { decode, position: data.position, bytesPerFrame, frameCount },
  );
}
