import { stat } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { aiffBytes } from '../../fixtures/hostile/aiff-bytes.ts';
import { flacBytes } from '../../fixtures/hostile/flac-bytes.ts';
import { chunk, extensibleBody, formatBody, riff } from '../../fixtures/hostile/wav-bytes.ts';
import { openAudio, readWhole } from '../../server/audio/open-audio.ts';
import { createWavWriter, writeWav } from '../../server/audio/write-wav.ts';
import { stored, temporaryPath } from './stored-file.ts';

/**
 * Proves that samples come out of each format exactly as they went in. The bytes are laid down here by the formats'
 * definitions, without the product's own writer.
 */

/** Integers of every bit pattern that matters, then a run of odd ones; two channels. */
function integers(bits: number): number[][] {
  const top = 2 ** (bits - 1);
  const special = [0, 1, -1, top - 1, -top, 1 - top, top / 2, -top / 2];
  const rest = Array.from({ length: 20_011 }, (_, index) => ((index * 7_368_787) % (2 * top)) - top);
  return [
    [...special, ...rest],
    [...rest, ...special],
  ];
}

function interleaved(
  channels: number[][],
  bytesPerSample: number,
  put: (bytes: Buffer, value: number, at: number) => void,
) {
  const bytes = Buffer.alloc(channels.length * channels[0]!.length * bytesPerSample);
  for (const [channel, values] of channels.entries()) {
    for (const [frame, value] of values.entries()) {
      put(bytes, value, (frame * channels.length + channel) * bytesPerSample);
    }
  }
  return bytes;
}

const littleEndian = (channels: number[][], size: number) =>
  interleaved(channels, size, (bytes, value, at) => bytes.writeIntLE(value, at, size));
const bigEndian = (channels: number[][], size: number) =>
  interleaved(channels, size, (bytes, value, at) => bytes.writeIntBE(value, at, size));

async function expectSamples(bytes: Uint8Array, expected: number[][], scale: number) {
  const { channels, format } = await readWhole(await stored(bytes));
  expect(channels).toHaveLength(expected.length);
  for (const [index, channel] of channels.entries()) {
    expect(channel).toEqual(Float32Array.from(expected[index]!, (value) => value / scale));
  }
  return format;
}

describe('WAV', () => {
  it.each([16, 24])('%i-bit integers, exactly', async (bits) => {
    const values = integers(bits);
    const bytes = riff([chunk('fmt ', formatBody({ bits })), chunk('data', littleEndian(values, bits / 8))]);
    const format = await expectSamples(bytes, values, 2 ** (bits - 1));
    expect(format).toMatchObject({ container: 'wav', encoding: 'integer', bitDepth: bits, channelCount: 2 });
    expect(format).toMatchObject({ sampleRateHz: 48_000, frameCount: values[0]!.length });
  });

  it('32-bit integers, rounded to the 24 bits that a 32-bit float has', async () => {
    const values = integers(32);
    const bytes = riff([chunk('fmt ', formatBody({ bits: 32 })), chunk('data', littleEndian(values, 4))]);
    await expectSamples(bytes, values, 2 ** 31);
  });

  it('8-bit integers, unsigned', async () => {
    const values = integers(8).map((channel) => channel.map((value) => Math.max(-128, Math.min(127, value))));
    const unsigned = interleaved(values, 1, (bytes, value, at) => bytes.writeUInt8(value + 128, at));
    await expectSamples(riff([chunk('fmt ', formatBody({ bits: 8 })), chunk('data', unsigned)]), values, 128);
  });

  it('20 bits in 24, as EXTENSIBLE writes them: from the top', async () => {
    const values = integers(20);
    const shifted = values.map((channel) => channel.map((value) => value * 16));
    const bytes = riff([
      chunk('fmt ', extensibleBody({ bits: 24 }, 20, 3)),
      chunk('data', littleEndian(shifted, 3)),
    ]);
    expect(await expectSamples(bytes, values, 2 ** 19)).toMatchObject({ bitDepth: 20, channelMask: 3 });
  });

  it.each([4, 8])('floats of %i bytes', async (size) => {
    const values = integers(24).map((channel) => channel.map((value) => value / 2 ** 22));
    const put = (bytes: Buffer, value: number, at: number) =>
      size === 4 ? bytes.writeFloatLE(value, at) : bytes.writeDoubleLE(value, at);
    const bytes = riff([
      chunk('fmt ', formatBody({ tag: 3, bits: size * 8 })),
      chunk('data', interleaved(values, size, put)),
    ]);
    expect(await expectSamples(bytes, values, 1)).toMatchObject({ encoding: 'float', bitDepth: size * 8 });
  });

  it('one and six channels', async () => {
    for (const channelCount of [1, 6]) {
      const values = Array.from({ length: channelCount }, (_, channel) => integers(16)[channel % 2]!);
      const bytes = riff([
        chunk('fmt ', formatBody({ channelCount })),
        chunk('data', littleEndian(values, 2)),
      ]);
      await expectSamples(bytes, values, 2 ** 15);
    }
  });
});

describe('AIFF', () => {
  it.each([16, 24, 32])('%i-bit integers', async (bits) => {
    const values = integers(bits);
    const options = { bits, channelCount: 2, frameCount: values[0]!.length, sampleRateHz: 44_100 };
    const format = await expectSamples(
      aiffBytes(bigEndian(values, bits / 8), options),
      values,
      2 ** (bits - 1),
    );
    expect(format).toMatchObject({ container: 'aiff', sampleRateHz: 44_100, bitDepth: bits });
  });

  it('AIFC: sowt, NONE, in24, fl32, fl64', async () => {
    const values = integers(16);
    const common = { channelCount: 2, frameCount: values[0]!.length };
    const float = values.map((channel) => channel.map((value) => value / 2 ** 15));
    const kinds: [string, number, Buffer, number[][], number][] = [
      ['sowt', 16, littleEndian(values, 2), values, 2 ** 15],
      ['NONE', 16, bigEndian(values, 2), values, 2 ** 15],
      ['in24', 24, bigEndian(values, 3), values, 2 ** 23],
      ['fl32', 32, interleaved(float, 4, (bytes, value, at) => bytes.writeFloatBE(value, at)), float, 1],
      ['fl64', 64, interleaved(float, 8, (bytes, value, at) => bytes.writeDoubleBE(value, at)), float, 1],
    ];
    for (const [compression, bits, data, expected, scale] of kinds) {
      const format = await expectSamples(aiffBytes(data, { ...common, bits, compression }), expected, scale);
      expect(format.container).toBe('aifc');
    }
  });
});

describe('FLAC', () => {
  it.each([8, 16, 24] as const)(
    '%i-bit integers, sample for sample those of a WAV file',
    async (bitDepth) => {
      const top = 2 ** (bitDepth - 1);
      const values = integers(bitDepth).map((channel) =>
        channel.map((value) => Math.max(-top, Math.min(top - 1, value))),
      );
      const format = await expectSamples(flacBytes(values, { bitDepth }), values, top);
      expect(format).toMatchObject({
        container: 'flac',
        encoding: 'integer',
        bitDepth,
        frameCount: values[0]!.length,
      });
    },
  );
});

describe('reading', () => {
  it('stops when it is told to, and begins anew when asked again', async () => {
    const path = await stored(riff([chunk('fmt ', formatBody()), chunk('data', Buffer.alloc(400_000))]));
    const reader = await openAudio(path);
    let blocks = 0;
    const first = await reader.read(() => ++blocks < 2);
    expect(blocks).toBe(2);
    expect(first.frameCount).toBeLessThan(100_000);
    expect((await reader.read(() => {})).frameCount).toBe(100_000);
    await reader.close();
  });

  it('waits for a promise before a block is used again', async () => {
    const values = integers(16);
    const reader = await openAudio(
      await stored(riff([chunk('fmt ', formatBody()), chunk('data', littleEndian(values, 2))])),
    );
    const seen: number[] = [];
    await reader.read(async (channels, frames) => {
      await new Promise((resolve) => setTimeout(resolve, 1));
      for (let frame = 0; frame < frames; frame++) seen.push(channels[0]![frame]!);
    });
    await reader.close();
    expect(seen).toEqual(values[0]!.map((value) => value / 2 ** 15));
  });
});

describe('writing WAV', () => {
  it.each([16, 24] as const)('%i-bit integers come back exactly', async (bitDepth) => {
    const channels = integers(bitDepth).map((channel) =>
      Float32Array.from(channel, (value) => value / 2 ** (bitDepth - 1)),
    );
    const path = temporaryPath(`written ${bitDepth}`);
    await writeWav(path, channels, { sampleRateHz: 44_100, bitDepth, encoding: 'integer' });
    const read = await readWhole(path);
    expect(read.channels).toEqual(channels);
    expect(read.format).toMatchObject({ sampleRateHz: 44_100, bitDepth, container: 'wav' });
  });

  it('floats come back exactly, past full scale too; integers are held at full scale', async () => {
    const channel = Float32Array.from([0, 0.1, -0.1, 1.5, -1.5, 1, -1]);
    const path = temporaryPath('loud');
    await writeWav(path, [channel], { sampleRateHz: 48_000, bitDepth: 32, encoding: 'float' });
    expect((await readWhole(path)).channels).toEqual([channel]);
    await writeWav(path, [channel], { sampleRateHz: 48_000, bitDepth: 16, encoding: 'integer' });
    const held = (await readWhole(path)).channels[0]!;
    expect(Math.max(...held)).toBe(1 - 2 ** -15);
    expect(Math.min(...held)).toBe(-1);
  });

  it('pads an odd length, and the size fits the file', async () => {
    const path = temporaryPath('odd');
    const writer = await createWavWriter(path, 1, {
      sampleRateHz: 48_000,
      bitDepth: 24,
      encoding: 'integer',
    });
    await writer.write([Float32Array.from([0.5])], 1);
    expect(await writer.close()).toEqual({ frameCount: 1 });
    expect((await stat(path)).size % 2).toBe(0);
    expect((await readWhole(path)).channels).toEqual([Float32Array.from([0.5])]);
  });
});
