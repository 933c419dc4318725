import { open } from 'node:fs/promises';

export interface WavOptions {
  sampleRateHz: number;
  bitDepth: 16 | 24 | 32 | 64;
  /** `integer` for 16, 24 and 32 bits, `float` for 32 and 64. */
  encoding: 'integer' | 'float';
}

/** Writes a WAV file block by block; `close` puts the lengths into the header. */
export interface WavWriter {
  /** Takes the first `frames` values of each channel, ±1.0 at full scale; integers are rounded, and clipped at full scale. */
  write(channels: readonly Float32Array[] | readonly Float64Array[], frames: number): Promise<void>;
  close(): Promise<{ frameCount: number }>;
}

const headerBytes = 12 + 8 + 28 + 8 + 40 + 8;
/** What a 32-bit size can say; beyond it the file becomes RF64. */
const largestRiffBytes = 0xffffffff;
const formatPcm = 1;
const formatFloat = 3;
const formatExtensible = 0xfffe;
const extensibleGuidTail = Buffer.from('000000001000800000aa00389b71', 'hex');
/** Speaker positions that two to eight channels have by default: L R, C, LFE, back pair, side pair. */
const defaultChannelMasks: Record<number, number> = {
  1: 0x4,
  2: 0x3,
  3: 0x7,
  4: 0x33,
  5: 0x37,
  6: 0x3f,
  8: 0x63f,
};

/**
 * Opens a new WAV file for writing. Twenty-eight bytes are kept free at its head for RF64's long sizes, so that a file
 * past 4 GiB needs no second pass.
 *
 * @source EBU Tech 3306, 3.5 (reserving ds64 with a JUNK chunk)
 */
export async function createWavWriter(
  path: string,
  channelCount: number,
  options: WavOptions,
): Promise<WavWriter> {
  const { sampleRateHz, bitDepth, encoding } = options;
  const bytesPerSample = bitDepth / 8;
  const put = channelWriter(encoding, bitDepth);
  const handle = await open(path, 'w');
  let frameCount = 0;
  let position = headerBytes;
  let bytes = Buffer.alloc(0);
  await handle.write(wavHeader(channelCount, options, 0), 0, headerBytes, 0);

  return {
    async write(channels, frames) {
      const length = frames * channelCount * bytesPerSample;
      if (bytes.length < length) bytes = Buffer.alloc(length);
      const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
      const stride = channelCount * bytesPerSample;
      for (let channel = 0; channel < channelCount; channel++) {
        put(view, channels[channel]!, frames, channel * bytesPerSample, stride);
      }
      await handle.write(bytes, 0, length, position);
      position += length;
      frameCount += frames;
    },
    async close() {
      const dataBytes = frameCount * channelCount * bytesPerSample;
      if (dataBytes % 2 === 1) await handle.write(Buffer.alloc(1), 0, 1, position);
      await handle.write(
        wavHeader(channelCount, { sampleRateHz, bitDepth, encoding }, dataBytes),
        0,
        headerBytes,
        0,
      );
      await handle.close();
      return { frameCount };
    },
  };
}

/** Writes whole channels, equally long, as one WAV file. */
export async function writeWav(
  path: string,
  channels: readonly Float32Array[] | readonly Float64Array[],
  options: WavOptions,
): Promise<void> {
  const writer = await createWavWriter(path, channels.length, options);
  const frames = channels[0]?.length ?? 0;
  const step = 65_536;
  for (let first = 0; first < frames; first += step) {
    const count = Math.min(step, frames - first);
    await writer.write(
      channels.map((channel) => channel.subarray(first, first + count)) as Float32Array[],
      count,
    );
  }
  await writer.close();
}

/** Puts one channel's values at byte `at` and every `stride` bytes after it. */
type ChannelWriter = (
  view: DataView,
  source: ArrayLike<number>,
  frames: number,
  at: number,
  stride: number,
) => void;

function channelWriter(encoding: 'integer' | 'float', bitDepth: number): ChannelWriter {
  if (encoding === 'float' && bitDepth === 32) {
    return (view, source, frames, at, stride) => {
      for (let frame = 0; frame < frames; frame++, at += stride) view.setFloat32(at, source[frame]!, true);
    };
  }
  if (encoding === 'float' && bitDepth === 64) {
    return (view, source, frames, at, stride) => {
      for (let frame = 0; frame < frames; frame++, at += stride) view.setFloat64(at, source[frame]!, true);
    };
  }
  if (encoding === 'float' || bitDepth === 64)
    throw new RangeError(`WAV has no ${bitDepth}-bit ${encoding} samples`);
  const fullScale = 2 ** (bitDepth - 1);
  const level = (value: number) =>
    Math.max(-fullScale, Math.min(fullScale - 1, Math.round(value * fullScale)));
  if (bitDepth === 16) {
    return (view, source, frames, at, stride) => {
      for (let frame = 0; frame < frames; frame++, at += stride)
        view.setInt16(at, level(source[frame]!), true);
    };
  }
  if (bitDepth === 32) {
    return (view, source, frames, at, stride) => {
      for (let frame = 0; frame < frames; frame++, at += stride)
        view.setInt32(at, level(source[frame]!), true);
    };
  }
  return (view, source, frames, at, stride) => {
    for (let frame = 0; frame < frames; frame++, at += stride) {
      const value = level(source[frame]!);
      view.setUint16(at, value & 0xffff, true);
      view.setInt8(at + 2, value >> 16);
    }
  };
}

function wavHeader(channelCount: number, options: WavOptions, dataBytes: number): Buffer {
  const { sampleRateHz, bitDepth, encoding } = options;
  const bytesPerFrame = (channelCount * bitDepth) / 8;
  const riffBytes = headerBytes - 8 + dataBytes + (dataBytes % 2);
  const long = riffBytes > largestRiffBytes;
  const header = Buffer.alloc(headerBytes);
  header.write(long ? 'RF64' : 'RIFF', 0, 'latin1');
  header.writeUInt32LE(long ? largestRiffBytes : riffBytes, 4);
  header.write('WAVE', 8, 'latin1');
  header.write(long ? 'ds64' : 'JUNK', 12, 'latin1');
  header.writeUInt32LE(28, 16);
  if (long) {
    header.writeBigUInt64LE(BigInt(riffBytes), 20);
    header.writeBigUInt64LE(BigInt(dataBytes), 28);
    header.writeBigUInt64LE(BigInt(dataBytes / bytesPerFrame), 36);
  }
  header.write('fmt ', 48, 'latin1');
  header.writeUInt32LE(40, 52);
  header.writeUInt16LE(formatExtensible, 56);
  header.writeUInt16LE(channelCount, 58);
  header.writeUInt32LE(sampleRateHz, 60);
  header.writeUInt32LE(sampleRateHz * bytesPerFrame, 64);
  header.writeUInt16LE(bytesPerFrame, 68);
  header.writeUInt16LE(bitDepth, 70);
  header.writeUInt16LE(22, 72);
  header.writeUInt16LE(bitDepth, 74);
  header.writeUInt32LE(defaultChannelMasks[channelCount] ?? 0, 76);
  header.writeUInt16LE(encoding === 'float' ? formatFloat : formatPcm, 80);
  extensibleGuidTail.copy(header, 82);
  header.write('data', 96, 'latin1');
  header.writeUInt32LE(long ? largestRiffBytes : dataBytes, 100);
  return header;
}
