import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import FFT from 'fft.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { compareFiles } from '../../server/analysis/compare-files.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import { compareSounds } from '../../server/measurement/comparison.ts';
import { ComparisonError } from '../../server/measurement/comparison-error.ts';
import { decibels, mixDown, seededRandom, synthesiseSong, toFloat32 } from './synthetic-song.ts';
import { limited } from './truth-case.ts';

/**
 * Proves that pairs which can't be compared, or only in part, get a clear answer: never a wrong one, and never a crash.
 */
const song = synthesiseSong({ bars: 8, barsInSection: 2 });
const rate = song.sampleRateHz;
const mix = toFloat32(mixDown(song));
const sound = (channels: Float32Array[], sampleRateHz = rate) => ({ channels, sampleRateHz });
const compare = (a: Float32Array[], b: Float32Array[]) => compareSounds(sound(a), sound(b), song.sections);
const codeOf = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof ComparisonError) return error.code;
    throw error;
  }
  return 'compared';
};

describe('pairs that are refused', () => {
  it('different songs of one tempo and key', () => {
    const other = toFloat32(mixDown(synthesiseSong({ bars: 8, barsInSection: 2, seed: 7 })));
    expect(codeOf(() => compare(mix, other))).toBe('different_songs');
  });

  it('noise that has nothing in common', () => {
    const noise = (seed: number) => {
      const random = seededRandom(seed);
      return [0, 1].map(() => Float32Array.from({ length: 5 * rate }, () => 0.2 * (random() - 0.5)));
    };
    expect(codeOf(() => compare(noise(1), noise(2)))).toBe('different_songs');
  });

  it('one silent file, whichever', () => {
    const silence = mix.map((channel) => new Float32Array(channel.length));
    expect(codeOf(() => compare(mix, silence))).toBe('silent_file');
    expect(codeOf(() => compare(silence, mix))).toBe('silent_file');
  });

  it('a file of less than a second', () => {
    expect(
      codeOf(() =>
        compare(
          mix,
          mix.map((channel) => channel.subarray(0, rate / 2)),
        ),
      ),
    ).toBe('too_short');
  });

  it('six channels against two', () => {
    const surround = [...mix, ...mix, ...mix];
    expect(codeOf(() => compareSounds(sound(mix), sound(surround), []))).toBe('channel_counts_differ');
  });
});

describe('pairs that are compared in part', () => {
  it('mono against stereo: compared as it plays on two speakers, and said', () => {
    const mono = [mix[0]!.map((value, frame) => (value + mix[1]![frame]!) / 2)];
    const comparison = compare(mix, mono);
    expect(comparison.notes.join(' ')).toMatch(/B is mono and A is stereo/);
    expect(comparison.offsetFrames).toBe(0);
  });

  it('the same in mono and in stereo has no difference in loudness', () => {
    const comparison = compareSounds(sound([mix[0]!]), sound([mix[0]!, mix[0]!]), song.sections);
    expect(comparison.loudnessDifferenceLu).toBeCloseTo(0, 6);
    expect(comparison.sections.every(({ verdict }) => verdict === 'no change measured')).toBe(true);
  });

  it('one much shorter: what it holds is compared, the rest is named as cut', () => {
    const excerpt = mix.map((channel) => channel.subarray(5 * rate, 9 * rate));
    const comparison = compareSounds(sound(mix), sound(excerpt), [{ name: 'Excerpt', start: 0, end: 4 }]);
    expect(comparison.offsetFrames).toBe(-5 * rate);
    expect(comparison.sections[0]!.changes.map(({ kind }) => kind)).toEqual(['cut', 'cut']);
    expect(comparison.sections[0]!.residualDb).toBe(-150);
    expect(comparison.alignment.edits).toEqual([
      { kind: 'cut', atSeconds: 0, lengthSeconds: 5, lengthBars: null },
      { kind: 'cut', atSeconds: 4, lengthSeconds: 7, lengthBars: null },
    ]);
  });

  it('a section outside the file, one under 3 s, one that is silent in both', () => {
    const quiet = mix.map((channel) => channel.map((value, frame) => (frame > 12 * rate ? 0 : value)));
    const sections = [
      { name: 'Beyond', start: 100, end: 110 },
      { name: 'Short', start: 2, end: 3 },
      { name: 'Silent', start: 12, end: 16 },
    ];
    const comparison = compareSounds(sound(quiet), sound(quiet), sections);
    expect(comparison.sections.map(({ verdict }) => verdict)).toEqual([
      'too short to judge',
      'too short to judge',
      'too short to judge',
    ]);
    expect(comparison.sections.map(({ doubt }) => doubt)).toEqual([
      'outside_file',
      'too_short',
      'little_in_common',
    ]);
  });

  it('a lossy file: its noise is no change, a part 2 dB up is', () => {
    const lossy = withCodingNoise(mix);
    const calm = compareSounds(sound(mix), { ...sound(lossy), lossy: true }, song.sections);
    expect(calm.sections.map(({ verdict }) => verdict)).toEqual(
      song.sections.map(() => 'no change measured'),
    );
    const { start, end } = song.sections[2]!;
    const up = toFloat32(
      mixDown(song, (part, seconds) =>
        part === 'lead' && seconds >= start && seconds < end ? decibels(2) : 1,
      ),
    );
    const comparison = compareSounds(
      sound(mix),
      { ...sound(withCodingNoise(up)), lossy: true },
      song.sections,
    );
    expect(comparison.sections.map(({ verdict }) => verdict === 'changed')).toEqual([
      false,
      false,
      true,
      false,
    ]);
    expect(comparison.sections[2]!.changes[0]!.kind).toBe('up');
    expect(comparison.notes.join(' ')).toMatch(/lossy/);
  });

  it('where nothing is named, the whole song is one section', () => {
    const comparison = compareSounds(sound(mix), sound(mix), []);
    expect(comparison.sections).toHaveLength(1);
    expect(comparison.summary.plain).toBe('No change measured.');
  });
});

describe('a bus limiter that answers the part', () => {
  const band = mixDown(song, (part) => (part === 'guitar' ? 0 : 1));
  const guitar = song.parts.find(({ name }) => name === 'guitar')!.left;
  const { start, end } = song.sections[2]!;
  /** The guitar stands wholly on the left; in the third section at another gain. */
  const limitedMix = (gain: number) => {
    const left = band[0]!.map((value, frame) => {
      const inside = frame >= start * rate && frame < end * rate;
      return value + 3 * (inside ? gain : 1) * guitar[frame]!;
    });
    return toFloat32(limited([left, band[1]!], 1, 0.2));
  };
  const whole = limitedMix(1);

  it.each([
    ['up', decibels(2)],
    ['down', decibels(-2)],
    ['removed', 0],
  ] as const)('a part on one side that is %s did not move in the image', (kind, gain) => {
    const { sections } = compare(whole, limitedMix(gain));
    expect(sections.map(({ verdict }) => verdict === 'changed')).toEqual([false, false, true, false]);
    expect(sections[2]!.changes[0]!.kind).toBe(kind);
  });

  it('a part that comes in is added, not replaced', () => {
    const { sections } = compare(limitedMix(0), whole);
    expect(sections[2]!.changes[0]!.kind).toBe('added');
  });
});

describe('changes of the form', () => {
  it('silence put inside the song changes the section that it falls in', () => {
    const at = 6.2 * rate;
    const silence = Math.round(1.7 * rate);
    const later = mix.map((channel) => {
      const longer = new Float32Array(channel.length + silence);
      longer.set(channel.subarray(0, at));
      longer.set(channel.subarray(at), at + silence);
      return longer;
    });
    const sections = song.sections.map(({ name, start, end }) => ({
      name,
      start: start > 6.2 ? start + 1.7 : start,
      end: end > 6.2 ? end + 1.7 : end,
    }));
    const { alignment, sections: compared } = compareSounds(sound(mix), sound(later), sections);
    expect(alignment.edits).toEqual([
      { kind: 'silence added', atSeconds: 6.2, lengthSeconds: silence / rate, lengthBars: null },
    ]);
    expect(compared.map(({ verdict }) => verdict === 'changed')).toEqual([false, true, false, false]);
  });

  it('two bars played again are placed where the repeat starts, under 16-bit dither, too', () => {
    const random = seededRandom(3);
    const dithered = (value: number) => Math.round(value * 32_768 + random() + random() - 1) / 32_768;
    const [from, to] = [6 * rate, 10 * rate];
    const repeated = mix.map((channel) => {
      const longer = new Float32Array(channel.length + to - from);
      longer.set(channel.subarray(0, to));
      longer.set(channel.subarray(from), to);
      return longer.map(dithered);
    });
    const { alignment } = compareSounds(
      sound(mix.map((channel) => channel.map(dithered))),
      sound(repeated),
      [],
    );
    expect(alignment.edits).toHaveLength(1);
    expect(alignment.edits[0]).toMatchObject({ kind: 'inserted', lengthSeconds: 4 });
    expect(alignment.edits[0]!.atSeconds).toBeCloseTo(to / rate, 2);
  });
});

/**
 * Noise as a lossy codec leaves it, following the sound in time and frequency, 16 dB under it: each bin of overlapping
 * 1,024-frame windows is multiplied by 1 and a random sixth.
 */
function withCodingNoise(channels: Float32Array[]): Float32Array[] {
  const random = seededRandom(5);
  const size = 1024;
  const fft = new FFT(size);
  const window = Float64Array.from({ length: size }, (_, frame) =>
    Math.sin((Math.PI * (frame + 0.5)) / size),
  );
  const input = new Float64Array(2 * size);
  const spectrum = new Float64Array(2 * size);
  return channels.map((channel) => {
    const out = new Float32Array(channel.length);
    for (let start = -size / 2; start < channel.length; start += size / 2) {
      input.fill(0);
      for (let frame = 0; frame < size; frame++)
        input[2 * frame] = window[frame]! * (channel[start + frame] ?? 0);
      fft.transform(spectrum, input);
      for (let bin = 1; bin < size / 2; bin++) {
        const [real, imaginary] = [1 + 0.32 * (random() - 0.5), 0.32 * (random() - 0.5)];
        for (const [at, sign] of [
          [2 * bin, 1],
          [2 * (size - bin), -1],
        ] as const) {
          const [x, y] = [spectrum[at]!, spectrum[at + 1]!];
          spectrum[at] = x * real - sign * y * imaginary;
          spectrum[at + 1] = y * real + sign * x * imaginary;
        }
      }
      fft.inverseTransform(input, spectrum);
      for (let frame = 0; frame < size; frame++) {
        const at = start + frame;
        if (at >= 0 && at < out.length) out[at] = out[at]! + window[frame]! * input[2 * frame]!;
      }
    }
    return out;
  });
}

describe('the files and the command line', () => {
  let folder: string;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'countoff-comparison-'));
    const louder = mix.map((channel) => channel.map((value) => value * 0.5));
    const pcm = { bitDepth: 24, encoding: 'integer' } as const;
    await writeWav(join(folder, 'a.wav'), mix, { sampleRateHz: rate, ...pcm });
    await writeWav(join(folder, 'b.wav'), louder, { sampleRateHz: rate, ...pcm });
    writeFileSync(join(folder, 'sections.json'), JSON.stringify(song.sections));
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  const countoff = (...args: string[]) =>
    execFileSync(process.execPath, ['--import', 'tsx', 'server/countoff.ts', ...args], {
      encoding: 'utf8',
      stdio: 'pipe',
    });

  it('compares files, with progress from 0 to 1', async () => {
    const shares: number[] = [];
    const comparison = await compareFiles(join(folder, 'a.wav'), join(folder, 'b.wav'), song.sections, {
      onProgress: (share) => shares.push(share),
    });
    // Half the amplitude, by definition 20·log10(0.5).
    expect(comparison.gainDb).toBeCloseTo(20 * Math.log10(0.5), 3);
    expect(shares.at(-1)).toBe(1);
    expect([...shares].sort((one, other) => one - other)).toEqual(shares);
  });

  it('prints JSON with the documented keys', () => {
    const printed = JSON.parse(
      countoff(
        'compare',
        join(folder, 'a.wav'),
        join(folder, 'b.wav'),
        '--sections',
        join(folder, 'sections.json'),
        '--json',
      ),
    );
    expect(printed).toMatchObject({
      offsetFrames: 0,
      alignment: { offsetFrames: 0, offsetSeconds: 0, polarity: 1, edits: [] },
    });
    expect(Object.keys(printed)).toEqual(
      expect.arrayContaining([
        'summary',
        'sentences',
        'gainDb',
        'nullDepthDb',
        'loudnessDifferenceLu',
        'rmsDifferenceDb',
        'truePeakDifferenceDb',
        'bands',
        'sections',
        'engine',
        'standards',
      ]),
    );
    expect(printed.sections[0]).toMatchObject({
      name: 'intro',
      start: 0,
      end: 4,
      verdict: 'no change measured',
    });
    expect(Object.keys(printed.bands[0])).toEqual([
      'nominalHz',
      'differenceDb',
      'matchedDifferenceDb',
      'residualDb',
    ]);
    expect(Object.keys(printed.alignment.pieces[0])).toEqual([
      'startSecondsA',
      'startSecondsB',
      'lengthSeconds',
      'confidence',
    ]);
  });

  it('a missing file is exit code 2 and one line on standard error', () => {
    try {
      countoff('compare', join(folder, 'a.wav'), join(folder, 'missing.wav'));
      expect.unreachable();
    } catch (error) {
      const { status, stderr } = error as { status: number; stderr: string };
      expect(status).toBe(2);
      expect(stderr.trim().split('\n')).toHaveLength(1);
      expect(stderr).toMatch(/missing\.wav/);
    }
  });
});
