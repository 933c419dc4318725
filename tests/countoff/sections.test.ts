import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { writeWav } from '../../server/audio/write-wav.ts';
import { musicLike } from '../measurement/music.ts';
import { countoff } from './run-countoff.ts';

/** Proves that what `countoff sections` prints is what `countoff measure --sections` reads. */
let folder = '';
let song = '';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
  song = join(folder, 'song.wav');
  // Two parts that take turns every ten seconds, at 120 beats a minute.
  await writeWav(song, musicLike(48_000, 40, 1, true), {
    sampleRateHz: 48_000,
    bitDepth: 24,
    encoding: 'integer',
  });
});
afterAll(() => rm(folder, { recursive: true, force: true }));

interface Row {
  name: string;
  start: number;
  end: number;
  confidence: number;
}

describe('countoff sections', () => {
  it('prints a sections file that measure takes', async () => {
    const { code, stdout, stderr } = await countoff('sections', song, '--json');
    expect([code, stderr]).toEqual([0, expect.stringContaining('120.00 beats a minute')]);
    const rows = JSON.parse(stdout) as Row[];
    expect(rows.map(({ start, end }) => [Math.round(start), Math.round(end)])).toEqual([
      [0, 10],
      [10, 20],
      [20, 30],
      [30, 40],
    ]);
    const path = join(folder, 'sections.json');
    await writeFile(path, stdout);
    const measured = await countoff('measure', song, '--sections', path, '--json');
    const { sections } = JSON.parse(measured.stdout) as {
      sections: { name: string; problem: string | null; integratedLoudnessLufs: number | null }[];
    };
    expect(sections.map(({ name, problem }) => [name, problem])).toEqual(
      rows.map(({ name }) => [name, null]),
    );
    for (const { integratedLoudnessLufs } of sections) expect(integratedLoudnessLufs).not.toBeNull();
  });

  it('prints a table to be read, and takes a tempo that is known', async () => {
    const { stdout } = await countoff('sections', song, '--tempo', '60');
    expect(stdout).toContain('Tempo: 60.00 beats a minute');
    expect(stdout).toMatch(/Part A 1\s+0\.00\s+1\d\.\d\d/);
  });

  it('says in one line what it can’t do', async () => {
    for (const args of [
      [],
      [song, song],
      [join(folder, 'none.wav')],
      [song, '--tempo', 'fast'],
      [song, '--tempo', '0'],
    ]) {
      const { code, stdout, stderr } = await countoff('sections', ...args);
      expect([args.length, code, stdout]).toEqual([args.length, 2, '']);
      expect(stderr.trim().split('\n')).toHaveLength(1);
    }
  });
});
