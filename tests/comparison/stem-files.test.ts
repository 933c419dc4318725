import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openStemFolder } from '../../server/analysis/stem-folder.ts';
import { openAudio } from '../../server/audio/open-audio.ts';
import { readTogether } from '../../server/audio/read-together.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import { countoff } from '../countoff/run-countoff.ts';
import { alternatesOf, movedByFader } from './stem-truth.ts';
import { mixDown, type Part, synthesiseSong, toFloat32 } from './synthetic-song.ts';

/** Proves the way from a folder of stems to what is said of them: files read side by side, and the command line. */
const song = synthesiseSong({ bars: 6, barsInSection: 2 });
const louder = movedByFader(song, 1, { lead: 1.1 });
let folder = '';

const wav = (name: string, channels: Float32Array[], sampleRateHz = song.sampleRateHz) =>
  writeWav(join(folder, name), channels, { sampleRateHz, bitDepth: 24, encoding: 'integer' });

async function stemsIn(name: string, parts: readonly Part[]): Promise<void> {
  await mkdir(join(folder, name));
  for (const part of parts) await wav(`${name}/${part.name}.wav`, toFloat32([part.left, part.right]));
}

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
  await wav('a.wav', toFloat32(mixDown(song)));
  await wav('b.wav', toFloat32(mixDown(louder)));
  await stemsIn('stems', [...song.parts, ...alternatesOf(song)]);
  await writeFile(join(folder, 'stems/notes.txt'), 'Vocal up in the chorus.');
  await stemsIn('alternates', alternatesOf(song));
  await mkdir(join(folder, 'empty'));
  await mkdir(join(folder, 'mixed'));
  await wav('mixed/bass.wav', toFloat32([song.parts[1]!.left]));
  await wav('mixed/lead.wav', toFloat32([song.parts[4]!.left]), 44_100);
  await writeFile(join(folder, 'sections.json'), JSON.stringify(song.sections));
}, 60_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('files read side by side', () => {
  it('hands over every frame of each, zeros after the end of the shorter, mono on both sides', async () => {
    const long = Float32Array.from({ length: 20_001 }, (_, frame) => (frame % 1000) / 1024);
    const short = Float32Array.from({ length: 9000 }, (_, frame) => ((frame % 500) + 1) / 512);
    await wav('long.wav', [long, long]);
    await wav('short.wav', [short]);
    const readers = [await openAudio(join(folder, 'long.wav')), await openAudio(join(folder, 'short.wav'))];
    const read = readers.map(() => [new Float32Array(20_001), new Float32Array(20_001)]);
    let at = 0;
    await readTogether(readers, (files, frames) => {
      for (const [index, channels] of files.entries())
        for (const [side, channel] of channels.entries())
          read[index]![side]!.set(channel.subarray(0, frames), at);
      at += frames;
    });
    for (const reader of readers) await reader.close();
    expect(at).toBe(20_001);
    const padded = new Float32Array(20_001);
    padded.set(short);
    expect(read[0]![0]).toEqual(long);
    expect(read[1]![0]).toEqual(padded);
    expect(read[1]![1]).toEqual(padded);
  });

  it('ends, and leaves no file waiting, when the taker throws', async () => {
    const readers = [await openAudio(join(folder, 'a.wav')), await openAudio(join(folder, 'b.wav'))];
    const taking = readTogether(readers, () => {
      throw new RangeError('enough');
    });
    await expect(taking).rejects.toThrow('enough');
    for (const reader of readers) await reader.close();
  });
});

describe('a folder of stems', () => {
  it('takes each audio file as a stem, alternates as a set of their own, and says what it left out', async () => {
    const { stems, alternates, notes } = await openStemFolder(join(folder, 'stems'));
    expect(stems.names).toEqual(['bass', 'drums', 'guitar', 'keys', 'lead']);
    expect(alternates?.names).toEqual(['instrumental', 'a cappella']);
    expect(notes).toEqual(['notes.txt is no audio and was left out.']);
  });

  it('takes instrumental and a cappella as the stems where there are no others', async () => {
    const { stems, alternates } = await openStemFolder(join(folder, 'alternates'));
    expect(stems.names).toEqual(['instrumental', 'a cappella']);
    expect(alternates).toBeNull();
  });

  it('refuses what has nothing in it, is not there, or has several sample rates', async () => {
    await expect(openStemFolder(join(folder, 'empty'))).rejects.toMatchObject({ code: 'no_stems' });
    await expect(openStemFolder(join(folder, 'nowhere'))).rejects.toMatchObject({ code: 'no_stems' });
    await expect(openStemFolder(join(folder, 'mixed'))).rejects.toMatchObject({
      code: 'sample_rates_differ',
    });
  });
});

describe('countoff compare --stems-a', () => {
  const compare = (...args: string[]) =>
    countoff(
      'compare',
      join(folder, 'a.wav'),
      join(folder, 'b.wav'),
      '--sections',
      join(folder, 'sections.json'),
      ...args,
    );

  it('--json says under `stems` what each stem’s gain changed by, and null without stems', async () => {
    const { code, stdout } = await compare('--stems-a', join(folder, 'stems'), '--json');
    expect(code).toBe(0);
    const { stems, stemComparison, sentences } = JSON.parse(stdout);
    const inVerse = stems.filter(({ section }: { section: string }) => section.toLowerCase() === 'verse 1');
    expect(inVerse).toHaveLength(5);
    // What was done: the lead's fader alone, by 1.1 dB.
    for (const { name, gainChangeDb } of inVerse)
      expect(gainChangeDb).toBeCloseTo(name === 'lead' ? 1.1 : 0, 3);
    expect(sentences.join(' ')).toContain('lead +1.1 dB');
    expect(stemComparison.basis).toBe('stems of A');
    // Of 24-bit files, each rounded to 2^−23 of full scale.
    expect(stemComparison.sums.a.reading).toBe('rounding');
    const { stdout: without } = await compare('--json');
    expect(JSON.parse(without).stems).toBeNull();
  });

  it('prints a sentence a section and a table', async () => {
    const { code, stdout } = await compare('--stems-a', join(folder, 'stems'));
    expect(code).toBe(0);
    expect(stdout).toContain('Verse 1: lead +1.1 dB; the other stems: no change measured.');
    expect(stdout).toMatch(/^lead +silent +\+1\.10 dB +\+0\.00 dB$/m);
  });

  it('fails with one line for a folder without stems', async () => {
    const { code, stderr } = await compare('--stems-b', join(folder, 'empty'));
    expect(code).toBe(2);
    expect(stderr.trim().split('\n')).toHaveLength(1);
    expect(stderr).toContain('holds no audio files');
  });
});

describe('countoff stems', () => {
  it('says whether stems, and instrumental and a cappella, sum to the print', async () => {
    const { code, stdout } = await countoff('stems', join(folder, 'a.wav'), join(folder, 'stems'), '--json');
    expect(code).toBe(0);
    const { stems, alternates } = JSON.parse(stdout);
    for (const sum of [stems, alternates]) {
      expect(sum.reading).toBe('rounding');
      expect(sum.gainDb).toBe(0);
      expect(sum.offsetFrames).toBe(0);
      expect(sum.residualDb).toBeLessThan(-90);
    }
  });

  it('prints the sentence first', async () => {
    const { stdout } = await countoff('stems', join(folder, 'b.wav'), join(folder, 'stems'));
    expect(stdout.split('\n')[0]).toMatch(/^The 5 stems don’t sum to the print: −\d+ dB left/);
  });
});
