import { access, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { findFfmpeg } from '../../server/audio/ffmpeg.ts';
import { listeningCopyNeeded, writeListeningCopy } from '../../server/audio/listening-copy.ts';
import { openAudio, readWhole } from '../../server/audio/open-audio.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import { ffmpeg } from '../ffmpeg.ts';
import { expectSameSamples } from './same-samples.ts';

/** Proves that ALAC comes out as it went in and AAC in its place, that a cut file is told, and that nothing runs on. */
const frames = 100_003;
let folder = '';
let original = '';
let samples: Float32Array[] = [];
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
  original = join(folder, 'original.wav');
  let state = 1;
  const channels = [0, 1].map((channel) =>
    Float32Array.from({ length: frames }, (_, frame) => {
      state = (Math.imul(state, 1_664_525) + 1_013_904_223) | 0;
      const chirp = Math.sin((frame * frame) / 4e6 + channel);
      return 0.4 * chirp * Math.exp(-(frame % 24_000) / 6000) + state / 2 ** 40;
    }),
  );
  await writeWav(original, channels, { sampleRateHz: 48_000, bitDepth: 24, encoding: 'integer' });
  samples = (await readWhole(original)).channels;
});
afterAll(() => rm(folder, { recursive: true, force: true }));
afterEach(() => {
  delete process.env.COUNTOFF_FFMPEG;
});

let count = 0;
const encoded = (...options: string[]) => {
  const path = join(folder, `${count++}.m4a`);
  ffmpeg('-i', original, ...options, path);
  return path;
};
const alac24 = ['-c:a', 'alac', '-sample_fmt', 's32p'];
const stored = async (bytes: Uint8Array) => {
  const path = join(folder, `stored ${count++}`);
  await writeFile(path, bytes);
  return path;
};

describe('ALAC', () => {
  it.each([
    ['with its table behind the sound', []],
    ['with its table in front', ['-movflags', '+faststart']],
  ])('%s is the WAV that it was made from, sample for sample', async (_, options) => {
    const { format, channels } = await readWhole(encoded(...alac24, ...options));
    expectSameSamples(channels, samples);
    expect(format).toMatchObject({ container: 'm4a', encoding: 'integer', bitDepth: 24, frameCount: frames });
  });

  it('of 16 bits, 6 channels and 96 kHz', async () => {
    const wav = join(folder, 'surround.wav');
    ffmpeg(
      '-i',
      original,
      '-af',
      'pan=5.1|c0=c0|c1=c1|c2=c0|c3=c1|c4=c0|c5=c1',
      '-ar',
      '96000',
      '-c:a',
      'pcm_s16le',
      wav,
    );
    const path = join(folder, 'surround.m4a');
    ffmpeg('-i', wav, '-c:a', 'alac', '-sample_fmt', 's16p', path);
    const [lossless, exact] = [await readWhole(path), await readWhole(wav)];
    expectSameSamples(lossless.channels, exact.channels);
    expect(lossless.format).toMatchObject({ sampleRateHz: 96_000, channelCount: 6, bitDepth: 16 });
  });

  it('in fragments, whose length no header gives', async () => {
    const { format, channels } = await readWhole(encoded(...alac24, '-movflags', 'frag_keyframe+empty_moov'));
    expect(format.frameCount).toBeNull();
    expectSameSamples(channels, samples);
  });

  it('needs a listening copy, which is lossless', async () => {
    const path = encoded(...alac24);
    const target = join(folder, 'copy.wav');
    expect((await writeListeningCopy(path, target)).kind).toBe('lossless');
    expectSameSamples((await readWhole(target)).channels, samples);
  });
});

describe('AAC', () => {
  it('has the original’s length and place to the frame, though it was coded with a delay', async () => {
    const { format, channels } = await readWhole(encoded('-c:a', 'aac', '-b:a', '256k'));
    expect(format).toMatchObject({ container: 'm4a', encoding: 'lossy', bitDepth: null, frameCount: frames });
    expect(channels[0]).toHaveLength(frames);
    const likeness = (offset: number) => {
      let sum = 0;
      for (let frame = 2000; frame < 90_000; frame++)
        sum += channels[0]![frame + offset]! * samples[0]![frame]!;
      return sum;
    };
    const offsets = Array.from({ length: 41 }, (_, index) => index - 20);
    expect(Math.max(...offsets.map(likeness))).toBe(likeness(0));
    expect(
      Math.max(...[-1024, 1024, -2112, 2112].map((offset) => likeness(Math.max(-2000, offset)))),
    ).toBeLessThan(likeness(0));
    expect(listeningCopyNeeded(format)).toBe(false);
  });
});

describe('an .m4a file', () => {
  it.each([
    ['ALAC', alac24],
    ['AAC', ['-c:a', 'aac']],
  ])('%s that was cut off is truncated, wherever', async (_, options) => {
    for (const placing of [[], ['-movflags', '+faststart'], ['-movflags', 'frag_keyframe+empty_moov']]) {
      const bytes = await readFile(encoded(...options, ...placing));
      for (const length of [30, bytes.length * 0.5, bytes.length - 1]) {
        const path = await stored(bytes.subarray(0, length));
        await expect(readWhole(path), `${placing} ${length}`).rejects.toMatchObject({ code: 'truncated' });
      }
    }
  });

  it('that is damaged inside is told', async () => {
    const bytes = await readFile(encoded(...alac24));
    bytes.fill(0xff, 60_000, 60_400);
    await expect(readWhole(await stored(bytes))).rejects.toMatchObject({ code: 'damaged' });
  });

  it('of another kind of sound, or of none, is not taken', async () => {
    const other = encoded('-c:a', 'ac3', '-f', 'mp4');
    await expect(readWhole(other)).rejects.toMatchObject({ code: 'unsupported_format' });
    const path = join(folder, 'picture.mp4');
    ffmpeg('-f', 'lavfi', '-i', 'color=size=64x64:duration=0.2', '-c:v', 'mpeg4', path);
    await expect(readWhole(path)).rejects.toMatchObject({ code: 'unsupported_format' });
  });

  it('is refused where there is no ffmpeg, with what is taken instead', async () => {
    const path = encoded(...alac24);
    process.env.COUNTOFF_FFMPEG = join(folder, 'none');
    await expect(openAudio(path)).rejects.toMatchObject({
      code: 'unsupported_format',
      message: expect.stringMatching(/ffmpeg.*Formats taken: WAV/),
    });
  });

  it('leaves no process behind that was stopped early, failed in the middle, or was closed', {
    timeout: 20_000,
  }, async () => {
    const path = encoded(...alac24);
    const running = () => process.getActiveResourcesInfo().filter((kind) => kind === 'ProcessWrap').length;
    const reader = await openAudio(path);
    expect(await reader.read(() => false)).toEqual({ frameCount: 8192 });
    await expect.poll(running).toBe(0);
    const failing = reader.read(() => {
      expect(running()).toBe(1);
      throw new RangeError('ours');
    });
    await expect(failing).rejects.toThrow('ours');
    await expect.poll(running).toBe(0);
    const closed = reader.read(() => reader.close());
    await closed.catch(() => {});
    await expect.poll(running).toBe(0);
  });
});

describe('ffmpeg', () => {
  it('is what COUNTOFF_FFMPEG names, else the first on the path', async () => {
    const found = await findFfmpeg();
    expect(found).not.toBeNull();
    await access(found!);
    expect(await findFfmpeg({ PATH: `/nowhere:relative:${join(found!, '..')}` })).toBe(found);
    expect(await findFfmpeg({ PATH: '/nowhere' })).toBeNull();
    expect(await findFfmpeg({ PATH: join(found!, '..'), COUNTOFF_FFMPEG: '/nowhere/ffmpeg' })).toBeNull();
  });
});
