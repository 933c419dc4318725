import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { writeWav } from '../../server/audio/write-wav.ts';
import { inBoth, steps } from '../measurement/signal.ts';
import { countoff } from './run-countoff.ts';

/** Proves the command line: stable keys, plain figures, and one line where it can't. */
let folder = '';
let song = '';
let sections = '';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
  song = join(folder, 'song.wav');
  sections = join(folder, 'sections.json');
  await writeWav(song, inBoth(steps([4, -23], [4, -33])), {
    sampleRateHz: 48_000,
    bitDepth: 24,
    encoding: 'integer',
  });
  await writeFile(
    sections,
    JSON.stringify([
      { name: 'verse 1', start: 0, end: 4 },
      { name: 'chorus 1', start: 4, end: 8 },
      { name: 'outro', start: 8, end: 20 },
    ]),
  );
});
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('countoff measure', () => {
  it('--json prints every figure under its key, for the file and each section', async () => {
    const { code, stdout, stderr } = await countoff('measure', song, '--sections', sections, '--json');
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    const measurement = JSON.parse(stdout);
    const keys = [
      'integratedLoudnessLufs',
      'loudnessRangeLu',
      'maxMomentaryLoudnessLufs',
      'maxShortTermLoudnessLufs',
      'truePeakDbtp',
      'samplePeakDbfs',
      'rmsDbfs',
      'rmsAes17Dbfs',
      'crestFactorDb',
      'plrDb',
      'correlation',
      'bands',
    ];
    for (const figures of [measurement, ...measurement.sections]) {
      for (const key of keys) expect(figures).toHaveProperty(key);
      expect(figures.bands).toHaveLength(31);
      expect(figures.bands[17]).toMatchObject({ nominalHz: 1000 });
    }
    // Tech 3341's case 1 and 2, each 4 s: the level of the tone is its loudness.
    expect(measurement.sections[0].integratedLoudnessLufs).toBeCloseTo(-22.99, 1);
    expect(measurement.sections[1].integratedLoudnessLufs).toBeCloseTo(-32.99, 1);
    expect(measurement.sections[0]).toMatchObject({ name: 'verse 1', start: 0, end: 4 });
    expect(measurement.sections[2]).toMatchObject({
      name: 'outro',
      integratedLoudnessLufs: null,
      rmsDbfs: null,
    });
    expect(measurement.sections[0].rmsDbfs).toBeCloseTo(-26.01, 1);
    expect(measurement.engine.name).toBe('countoff');
    expect(Object.values(measurement.standards).join()).toContain('BS.1770-5');
  });

  it('prints a table for people', async () => {
    const { code, stdout } = await countoff('measure', song, '--sections', sections);
    expect(code).toBe(0);
    expect(stdout).toMatch(/Integrated loudness\s+−2\d\.\d LUFS\s+−23\.0 LUFS\s+−33\.0 LUFS\s+–/);
    expect(stdout).toContain('ITU-R BS.1770-5');
  });

  it.each([
    ['no file', ['measure', 'nowhere.wav'], /nowhere\.wav/],
    ['no name', ['measure'], /Usage/],
    ['a folder', ['measure', '.'], /no file/],
    ['no audio', ['measure', 'package.json'], /no audio/],
    ['no sections file', ['measure', 'package.json', '--sections', 'nowhere.json'], /nowhere\.json/],
    ['sections that are none', ['measure', 'package.json', '--sections', 'package.json'], /start/],
    ['an option that is none', ['measure', 'package.json', '--loud'], /--loud/],
    ['a command that is none', ['mesure'], /mesure/],
  ])('%s: exit 2 and one line', async (_, args, line) => {
    const { code, stdout, stderr } = await countoff(...args);
    expect({ code, stdout }).toEqual({ code: 2, stdout: '' });
    expect(stderr).toMatch(line);
    expect(stderr.trimEnd().split('\n')).toHaveLength(1);
  });
});
