import { describe, expect, it } from 'vitest';
import { checkStemSum, type SummedPrint } from '../../server/measurement/stem-sum.ts';
import { alternatesOf, stemSet } from './stem-truth.ts';
import { decibels, later, mixDown, type Part, synthesiseSong, toFloat32 } from './synthetic-song.ts';
import { limited } from './truth-case.ts';

/** Proves what is said of stems that do and don't sum to their print: expectations are what was done to the print. */
const song = synthesiseSong({ bars: 8, barsInSection: 2 });
const exact = mixDown(song);
const rate = song.sampleRateHz;

async function sumOf(
  print: Float32Array[],
  parts: readonly Part[] = song.parts,
  more: Partial<SummedPrint> = {},
) {
  const { names, stream, frames } = stemSet(parts, rate);
  const { check } = await checkStemSum(
    names,
    rate,
    stream,
    { channels: print, sampleRateHz: rate, ...more },
    frames,
  );
  return check;
}

describe('the sum of stems against the print', () => {
  it('is rounding where they sum to it', async () => {
    const check = await sumOf(toFloat32(exact));
    expect(check).toMatchObject({ reading: 'rounding', offsetFrames: 0, polarity: 1, gainDb: 0 });
    expect(check.residualDb).toBeLessThan(-110);
    expect(check.sentence).toMatch(/^The 5 stems sum to the print to −1\d\d dB: rounding\.$/);
  });

  it('is the word length where the print has 16 bits', async () => {
    const print = exact.map((channel) =>
      Float32Array.from(channel, (value) => Math.round(value * 32_768) / 32_768),
    );
    const check = await sumOf(print);
    expect(check.reading).toBe('dither or word length');
    // Rounding to a step q leaves q² / 12: a known power beside the print's own.
    const power = print.reduce(
      (sum, channel) => sum + channel.reduce((all, value) => all + value * value, 0),
      0,
    );
    const expected = 10 * Math.log10((2 * song.frames * 32_768 ** -2) / 12 / power);
    expect(check.residualDb).toBeGreaterThan(expected - 0.5);
    expect(check.residualDb).toBeLessThan(expected + 0.5);
  });

  it('finds a late, upside-down and quieter print', async () => {
    const turned = later(exact, 137).map((channel) => channel.map((value) => -value * decibels(-1.5)));
    const check = await sumOf(toFloat32(turned));
    expect(check).toMatchObject({ reading: 'rounding', offsetFrames: 137, polarity: -1 });
    expect(check.gainDb).toBeCloseTo(-1.5, 3);
    expect(check.sentence).toContain('upside down');
  });

  it('says where a stem is missing: what is left is that stem', async () => {
    const bass = song.parts.find(({ name }) => name === 'bass')!;
    const check = await sumOf(
      toFloat32(exact),
      song.parts.filter(({ name }) => name !== 'bass'),
    );
    expect(check.reading).toBe('bus processor or missing stem');
    const power = (channels: readonly Float64Array[]) =>
      channels.reduce((sum, channel) => sum + channel.reduce((all, value) => all + value * value, 0), 0);
    const expected = 10 * Math.log10(power([bass.left, bass.right]) / power(exact));
    expect(check.residualDb).toBeCloseTo(expected, 0);
    expect(check.mostly!.lowestHz).toBeLessThan(100);
    expect(check.mostly!.highestHz).toBeLessThan(1000);
  });

  it('says that a limiter stands on the bus', async () => {
    const check = await sumOf(toFloat32(limited(exact, 1)));
    expect(check.reading).toBe('bus dynamics');
    expect(check.sentence).toContain('a limiter or compressor on the bus');
  });

  it('finds the one stem that sits at another gain in the print', async () => {
    const print = mixDown(song, (part) => (part === 'keys' ? decibels(-1) : 1));
    const check = await sumOf(toFloat32(print));
    expect(check.reading).toBe('stem gains differ');
    for (const { stem, gainDb } of check.stemGains) expect(gainDb).toBeCloseTo(stem === 'keys' ? -1 : 0, 2);
    expect(check.sentence).toContain('keys −1.0 dB');
  });

  it('matches instrumental and a cappella with the main', async () => {
    const check = await sumOf(toFloat32(exact), alternatesOf(song));
    expect(check.reading).toBe('rounding');
    expect(check.sentence).toMatch(/^Instrumental and a cappella sum to the print/);
  });

  it('refuses silent stems, and stems of another song', async () => {
    const silent = { name: 'bass', left: new Float64Array(rate * 2), right: new Float64Array(rate * 2) };
    await expect(sumOf(toFloat32(exact), [silent])).rejects.toMatchObject({ code: 'silent_file' });
    const other = synthesiseSong({ bars: 8, barsInSection: 2, seed: 99 });
    const lead = other.parts.filter(({ name }) => name === 'lead');
    await expect(
      sumOf(toFloat32(mixDown({ ...song, parts: song.parts.slice(0, 2) })), lead),
    ).rejects.toMatchObject({ code: 'different_songs' });
  });
});
