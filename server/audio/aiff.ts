import type { FileHandle } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import { type AudioReader, bytesAt, pcmReader } from './audio-reader.ts';
import { assertFormatLimits, truncatedFile } from './header-limits.ts';
import { pcmDecoder } from './pcm.ts';

/** AIFC's compression types that are linear PCM, and how their samples lie. */
const compressionTypes: Record<string, { encoding: 'integer' | 'float'; littleEndian: boolean }> = {
  NONE: { encoding: 'integer', littleEndian: false },
  twos: { encoding: 'integer', littleEndian: false },
  sowt: { encoding: 'integer', littleEndian: true },
  in24: { encoding: 'integer', littleEndian: false },
  in32: { encoding: 'integer', littleEndian: false },
  fl32: { encoding: 'float', littleEndian: false },
  FL32: { encoding: 'float', littleEndian: false },
  fl64: { encoding: 'float', littleEndian: false },
  FL64: { encoding: 'float', littleEndian: false },
};
/** Bits that a compression type fixes whatever the common chunk says; some writers leave 16 there for floats. */
const fixedBits: Record<string, number> = { in24: 24, in32: 32, fl32: 32, FL32: 32, fl64: 64, FL64: 64 };
const mostChunks = 4096;

/** Whether the first twelve bytes are those of an AIFF or AIFC file. */
export function isAiff(head: Uint8Array): boolean {
  const text = Buffer.from(head.subarray(0, 12)).toString('latin1');
  return text.startsWith('FORM') && (text.length < 12 || ['AIFF', 'AIFC'].includes(text.slice(8, 12)));
}

/**
 * Opens an AIFF or AIFC file of linear PCM, integer or float, big or little-endian (`sowt`).
 *
 * @throws AudioFileError
 * @source Apple, Audio Interchange File Format (AIFF 1.3) and AIFF-C (draft of 1991)
 */
export async function openAiff(handle: FileHandle, fileBytes: number): Promise<AudioReader> {
  const head = await bytesAt(handle, 0, 12);
  if (head.length < 12) throw new AudioFileError('truncated', 'The file ends inside its header.');
  const compressed = head.toString('latin1', 8, 12) === 'AIFC';
  let common: Buffer | null = null;
  let sound: { position: number; bytes: number } | null = null;
  let position = 12;
  for (let chunk = 0; position + 8 <= fileBytes && !(common && sound); chunk++) {
    if (chunk === mostChunks) throw new AudioFileError('unsound_header', 'The header never comes to an end.');
    const chunkHead = await bytesAt(handle, position, 8);
    const id = chunkHead.toString('latin1', 0, 4);
    const size = chunkHead.readUInt32BE(4);
    const body = position + 8;
    if (id === 'COMM') common = await bytesAt(handle, body, Math.min(size, 22));
    if (id === 'SSND') {
      const offset = await bytesAt(handle, body, 4);
      if (size < 8 || offset.length < 4)
        throw new AudioFileError('unsound_header', 'The sound chunk is too short.');
      const skipped = 8 + offset.readUInt32BE(0);
      sound = { position: body + skipped, bytes: Math.max(0, size - skipped) };
    }
    position = body + size + (size % 2);
  }
  if (!common || common.length < 18) {
    throw position > fileBytes
      ? new AudioFileError('truncated', 'The file ends before its common chunk.')
      : new AudioFileError('unsound_header', 'The file has no sound common chunk.');
  }
  const channelCount = common.readInt16BE(0);
  const frameCount = common.readUInt32BE(2);
  const sampleRateHz = extendedFloat(common, 8);
  assertFormatLimits(sampleRateHz, channelCount);
  const compressionType = compressed ? common.toString('latin1', 18, 22) : 'NONE';
  const kind = compressionTypes[compressionType];
  if (!kind) {
    throw new AudioFileError(
      'unsupported_format',
      `The file holds compressed audio (AIFC type "${compressionType}").`,
    );
  }
  const bitDepth = fixedBits[compressionType] ?? common.readInt16BE(6);
  const bytesPerSample = Math.ceil(bitDepth / 8);
  const decode = pcmDecoder({ ...kind, bytesPerSample, unsigned: false }, channelCount);
  if (!decode) throw new AudioFileError('unsupported_format', `The file holds ${bitDepth}-bit samples.`);
  if (frameCount === 0) throw new AudioFileError('no_frames', 'The file holds a header and no audio.');
  if (!sound) {
    throw position > fileBytes
      ? truncatedFile(frameCount, 0, sampleRateHz)
      : new AudioFileError('unsound_header', 'The header promises audio, and the file has no sound chunk.');
  }
  const bytesPerFrame = bytesPerSample * channelCount;
  const presentFrames = Math.max(0, Math.floor((fileBytes - sound.position) / bytesPerFrame));
  if (presentFrames < frameCount) throw truncatedFile(frameCount, presentFrames, sampleRateHz);
  if (sound.bytes < frameCount * bytesPerFrame) {
    throw new AudioFileError('unsound_header', 'The header and the sound chunk disagree on the length.');
  }
  return pcmReader(
    handle,
    {
      container: compressed ? 'aifc' : 'aiff',
      encoding: kind.encoding,
      sampleRateHz,
      channelCount,
      bitDepth,
      frameCount,
      durationSeconds: frameCount / sampleRateHz,
    },
    { decode, position: sound.position, bytesPerFrame, frameCount },
  );
}

/** The 80-bit extended float in which AIFF keeps its sample rate: sign and exponent, then a 64-bit mantissa. */
function extendedFloat(bytes: Buffer, at: number): number {
  const exponent = bytes.readUInt16BE(at) & 0x7fff;
  const mantissa = bytes.readUInt32BE(at + 2) * 2 ** 32 + bytes.readUInt32BE(at + 6);
  const negative = (bytes.readUInt16BE(at) & 0x8000) !== 0;
  return (negative ? -1 : 1) * mantissa * 2 ** (exponent - 16383 - 63);
}
