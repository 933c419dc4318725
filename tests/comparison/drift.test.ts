import { describe, expect, it } from 'vitest';
import { compareSounds } from '../../server/measurement/comparison.ts';
import { decibels, mixDown, synthesiseSong, toFloat32 } from './synthetic-song.ts';

/**
 * Proves that two prints which slide apart are laid over each other: B is A read at other places of the same bandlimited
 * sound, worked out here by the interpolation formula (Shannon, 1949) under a window of our own, not by the resampler
 * of the comparison.
 */
const song = synthesiseSong({ bars: 12, barsInSection: 3 });
const rate = song.sampleRateHz;

/** B's frame n is A's place n / ratio − lateFrames. */
function slid(channels: Float32Array[], ratio: number, lateFrames: number): Float32Array[] {
  const reach = 40;
  return channels.map((input) =>
    Float32Array.from({ length: Math.round(input.length * ratio) }, (_, frame) => {
      const place = frame / ratio - lateFrames;
      const whole = Math.floor(place);
      let sum = 0;
      for (let at = whole - reach + 1; at <= whole + reach; at++) {
        const distance = place - at;
        const sinc = distance === 0 ? 1 : Math.sin(Math.PI * distance) / (Math.PI * distance);
        const window = Math.cos((Math.PI * distance) / (2 * (reach + 1))) ** 2;
        sum += (input[at] ?? 0) * sinc * window;
      }
      return sum;
    }),
  );
}

const mix = toFloat32(mixDown(song));
const chorus = song.sections[2]!;
const louderLead = toFloat32(
  mixDown(song, (name, seconds) =>
    name === 'lead' && seconds >= chorus.start && seconds < chorus.end ? decibels(1) : 1,
  ),
);
const sound = (channels: Float32Array[]) => ({ channels, sampleRateHz: rate });

describe('two prints that slide apart', () => {
  it.each([
    [41.6667, 0],
    [-20, 137.4],
    [-220, 0],
    [60, -12.25],
  ])('by %f millionths, %f frames late: the speed is found, and nothing is called changed', (ppm, late) => {
    const comparison = compareSounds(sound(mix), sound(slid(mix, 1 + ppm * 1e-6, late)), song.sections);
    expect(comparison.alignment.driftPpm).toBeCloseTo(ppm, 1);
    expect(comparison.offsetFrames).toBeCloseTo(late, 1);
    expect(comparison.gainDb).toBeCloseTo(0, 2);
    expect(comparison.sections.map(({ verdict }) => verdict)).not.toContain('changed');
    expect(comparison.notes.join(' ')).toContain(ppm > 0 ? 'slower' : 'faster');
  });

  it('a part that moved is found through it', () => {
    const { sections } = compareSounds(sound(mix), sound(slid(louderLead, 1 + 30e-6, 50)), song.sections);
    expect(sections.map(({ verdict }) => verdict === 'changed')).toEqual(
      song.sections.map((section) => section === chorus),
    );
    expect(sections[2]!.changes[0]!.partGainDb).toBeCloseTo(1, 1);
  });

  it('a bar less is an edit, no sliding', () => {
    const [from, to] = [10, 10 + song.barSeconds].map((seconds) => Math.round(seconds * rate));
    const cut = mix.map((channel) => {
      const left = new Float32Array(channel.length - (to! - from!));
      left.set(channel.subarray(0, from));
      left.set(channel.subarray(to), from);
      return left;
    });
    const tempo = { tempoBpm: 240 / song.barSeconds, beatsPerBar: 4 };
    const { alignment, summary } = compareSounds(sound(mix), sound(cut), [], { tempo });
    expect(alignment.driftPpm).toBe(0);
    expect(alignment.edits).toHaveLength(1);
    expect(alignment.edits[0]!.lengthBars).toBeCloseTo(1, 2);
    expect(summary.figures).toContain('(1 bar) was cut');
  });
});

describe('where no sections are given', () => {
  it('the place that changed stands apart from the rest', () => {
    const { sections, changedPlaces } = compareSounds(sound(mix), sound(louderLead), []);
    const changed = sections.filter(({ verdict }) => verdict === 'changed');
    // The lead rests for more than a second within the chorus, so it may be two places.
    expect(changed.length).toBeGreaterThan(0);
    expect(changed[0]!.start).toBeCloseTo(changedPlaces[0]!.startSeconds, 6);
    expect(Math.abs(changed[0]!.start - chorus.start)).toBeLessThan(1);
    expect(Math.abs(changed.at(-1)!.end - chorus.end)).toBeLessThan(1.6);
  });
});

describe('the residual by band', () => {
  it('is that of the part that moved, by definition: 20·log10(10^(1/20) − 1) under the part, where it sounds alone', () => {
    const alone = toFloat32(mixDown(song, (name) => (name === 'lead' ? 1 : 0)));
    const raised = toFloat32(
      mixDown(song, (name, seconds) =>
        name !== 'lead' ? 0 : seconds >= chorus.start && seconds < chorus.end ? decibels(1) : 1,
      ),
    );
    const { sections } = compareSounds(sound(alone), sound(raised), song.sections);
    const expected = 20 * Math.log10((decibels(1) - 1) / decibels(1));
    const told = sections[2]!.bands.filter(({ residualDb }) => residualDb !== null);
    expect(told.length).toBeGreaterThan(8);
    const strongest = sections[2]!.bands.filter(({ nominalHz }) => nominalHz >= 400 && nominalHz <= 2000);
    for (const { residualDb } of strongest) expect(residualDb!).toBeCloseTo(expected, 0);
  });
});
