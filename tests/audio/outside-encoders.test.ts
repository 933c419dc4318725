import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { measureFile } from '../../server/analysis/measure-file.ts';
import { openAudio, readWhole } from '../../server/audio/open-audio.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import { ffmpeg } from '../ffmpeg.ts';
import { musicLike } from '../measurement/music.ts';
import { expectSameSamples } from './same-samples.ts';

/** Proves that what other programs write is read: each file is made by ffmpeg from one 24-bit original. */
let folder = '';
let original = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
  original = join(folder, 'original.wav');
  const channels = musicLike(48_000, 12, 7, false).map((channel) => channel.map((sample) => sample * 0.6));
  await writeWav(original, channels, { sampleRateHz: 48_000, bitDepth: 24, encoding: 'integer' });
});
afterAll(() => rm(folder, { recursive: true, force: true }));

const encoded = (name: string, ...options: string[]) => {
  const path = join(folder, name);
  ffmpeg('-i', original, ...options, path);
  return path;
};

describe('a file that ffmpeg wrote', () => {
  it.each([
    ['fmt-extensible.wav', ['-c:a', 'pcm_s24le'], 'wav'],
    ['float.wav', ['-c:a', 'pcm_f32le'], 'wav'],
    ['double.wav', ['-c:a', 'pcm_f64le'], 'wav'],
    ['thirty-two.wav', ['-c:a', 'pcm_s32le'], 'wav'],
    ['long.wav', ['-c:a', 'pcm_s24le', '-rf64', 'always'], 'rf64'],
    ['big.aiff', ['-c:a', 'pcm_s24be'], 'aiff'],
    ['float.aif', ['-c:a', 'pcm_f32be', '-f', 'aiff'], 'aifc'],
    ['packed.flac', ['-c:a', 'flac', '-sample_fmt', 's32', '-bits_per_raw_sample', '24'], 'flac'],
    ['packed-hard.flac', ['-c:a', 'flac', '-sample_fmt', 's32', '-compression_level', '12'], 'flac'],
  ])('%s holds the original, sample for sample, and measures the same', async (name, options, container) => {
    const path = encoded(name, ...options);
    const [{ channels, format }, expected] = [await readWhole(path), await readWhole(original)];
    expect(format.container).toBe(container);
    expectSameSamples(channels, expected.channels);
    const [one, other] = [await measureFile(path), await measureFile(original)];
    expect(one.measurement).toEqual(other.measurement);
  });

  it.each([
    ['constant.mp3', ['-b:a', '320k']],
    ['variable.mp3', ['-q:a', '2']],
  ])('%s has the original’s length to the frame, and its loudness', async (name, options) => {
    const path = encoded(name, ...options);
    const reader = await openAudio(path);
    const { frameCount } = await reader.read(() => {});
    await reader.close();
    expect(reader.format).toMatchObject({
      container: 'mp3',
      encoding: 'lossy',
      bitDepth: null,
      frameCount: 576_000,
    });
    expect(frameCount).toBe(576_000);
    const [lossy, exact] = [await measureFile(path), await measureFile(original)];
    const difference = lossy.measurement.integratedLoudnessLufs! - exact.measurement.integratedLoudnessLufs!;
    expect(Math.abs(difference)).toBeLessThanOrEqual(0.2);
  });

  it('a mono MP3 has one channel', async () => {
    const { format, channels } = await readWhole(encoded('mono.mp3', '-ac', '1', '-b:a', '128k'));
    expect(format.channelCount).toBe(1);
    expect(channels).toHaveLength(1);
  });
});
