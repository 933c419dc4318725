import { access, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import WaveformData from 'waveform-data';
import { aiffBytes } from '../../fixtures/hostile/aiff-bytes.ts';
import { chunk, formatBody, riff } from '../../fixtures/hostile/wav-bytes.ts';
import type { AudioFormat } from '../../server/audio/audio-format.ts';
import { listeningCopyNeeded, writeListeningCopy } from '../../server/audio/listening-copy.ts';
import { readWhole } from '../../server/audio/open-audio.ts';
import { createWaveformDataBuilder } from '../../server/audio/waveform-data.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** Proves that waveform data is read by the library whose format it is, and shows every channel's peaks. */
describe('waveform data', () => {
  const build = (channels: Float32Array[], blockFrames: number) => {
    const builder = createWaveformDataBuilder(48_000);
    for (let from = 0; from < channels[0]!.length; from += blockFrames) {
      const block = channels.map((channel) => channel.subarray(from, from + blockFrames));
      builder.push(block, block[0]!.length);
    }
    return builder.finish();
  };

  it('holds the lowest and highest value of each 256 frames', () => {
    const left = new Float32Array(1000);
    const right = new Float32Array(1000);
    left[10] = 0.5;
    right[300] = -0.25;
    right[999] = 1;
    for (const blockFrames of [1000, 7, 256]) {
      const bytes = build([left, right], blockFrames);
      const waveform = WaveformData.create(Uint8Array.from(bytes).buffer);
      expect([waveform.sample_rate, waveform.scale, waveform.channels, waveform.length]).toEqual([
        48_000, 256, 1, 4,
      ]);
      expect(waveform.channel(0).max_array()).toEqual([64, 0, 0, 127]);
      expect(waveform.channel(0).min_array()).toEqual([0, -32, 0, 0]);
    }
  });

  it('grows past its first size', () => {
    const bytes = build([new Float32Array(256 * 40_000).fill(0.5)], 50_000);
    expect(bytes.length).toBe(24 + 2 * 40_000);
    expect(bytes[bytes.length - 1]).toBe(64);
  });

  it('draws an antiphase sound, which a mono sum would lose', () => {
    const tone = Float32Array.from({ length: 256 }, (_, frame) => Math.sin(frame / 5));
    const bytes = build([tone, tone.map((sample) => -sample)], 256);
    expect(bytes[25]).toBeGreaterThan(120);
  });
});

/** Proves which originals browsers play, and that a copy says what it is. */
describe('a listening copy', () => {
  const format = (changes: Partial<AudioFormat>): AudioFormat => ({
    container: 'wav',
    encoding: 'integer',
    sampleRateHz: 48_000,
    channelCount: 2,
    bitDepth: 24,
    frameCount: 1,
    durationSeconds: 1,
    ...changes,
  });

  it('is needed for what browsers do not play', () => {
    expect(listeningCopyNeeded(format({}))).toBe(false);
    expect(listeningCopyNeeded(format({ container: 'rf64' }))).toBe(false);
    expect(listeningCopyNeeded(format({ encoding: 'float', bitDepth: 32 }))).toBe(false);
    expect(listeningCopyNeeded(format({ container: 'flac' }))).toBe(false);
    expect(listeningCopyNeeded(format({ container: 'mp3', encoding: 'lossy', bitDepth: null }))).toBe(false);
    expect(listeningCopyNeeded(format({ container: 'm4a', encoding: 'lossy', bitDepth: null }))).toBe(false);
    expect(listeningCopyNeeded(format({ container: 'm4a' }))).toBe(true);
    expect(listeningCopyNeeded(format({ bitDepth: 32 }))).toBe(true);
    expect(listeningCopyNeeded(format({ encoding: 'float', bitDepth: 64 }))).toBe(true);
    expect(listeningCopyNeeded(format({ container: 'aiff' }))).toBe(true);
    expect(listeningCopyNeeded(format({ container: 'aifc' }))).toBe(true);
  });

  it('of a 24-bit AIFF file is lossless', async () => {
    const data = Buffer.alloc(6 * 5000);
    for (let index = 0; index < 10_000; index++)
      data.writeIntBE(((index * 7919) % 16_777_216) - 8_388_608, index * 3, 3);
    const [source, target] = [join(folder, 'a.aiff'), join(folder, 'a.wav')];
    await writeFile(source, aiffBytes(data, { bits: 24, channelCount: 2, frameCount: 5000 }));
    const copy = await writeListeningCopy(source, target);
    expect(copy.kind).toBe('lossless');
    const read = await readWhole(target);
    expect(read.channels).toEqual((await readWhole(source)).channels);
    expect(listeningCopyNeeded(read.format)).toBe(false);
  });

  it('of 64-bit floats is declared', async () => {
    const data = Buffer.alloc(8 * 1000);
    for (let index = 0; index < 1000; index++) data.writeDoubleLE(Math.sin(index), index * 8);
    const [source, target] = [join(folder, 'b.wav'), join(folder, 'b copy.wav')];
    await writeFile(
      source,
      riff([chunk('fmt ', formatBody({ tag: 3, channelCount: 1, bits: 64 })), chunk('data', data)]),
    );
    const copy = await writeListeningCopy(source, target);
    expect(copy).toMatchObject({ kind: 'declared', description: expect.stringContaining('rounded') });
    expect((await readWhole(target)).channels[0]![1]).toBe(Math.fround(Math.sin(1)));
  });

  it('leaves nothing behind when the original does not read', async () => {
    const [source, target] = [join(folder, 'c.wav'), join(folder, 'c copy.wav')];
    await writeFile(source, 'no audio');
    await expect(writeListeningCopy(source, target)).rejects.toMatchObject({ code: 'not_audio' });
    await expect(access(target)).rejects.toThrow();
    await expect(access(`${target}.part`)).rejects.toThrow();
  });
});
