import { describe, expect, it } from 'vitest';
import { resample } from '../../server/measurement/rate-conversion.ts';

/** A sine by its definition, so that its value is known at every place between frames, too. */
const sine = (frequencyHz: number, rateHz: number, frames: number, startFrame = 0) =>
  Float32Array.from({ length: frames }, (_, frame) =>
    Math.sin((2 * Math.PI * frequencyHz * (frame + startFrame)) / rateHz),
  );

/** The largest difference, in dB under full scale, away from both ends, where the filter reaches into silence. */
function errorDb(one: Float32Array, other: Float32Array): number {
  let most = 0;
  for (let frame = 300; frame < one.length - 300; frame++)
    most = Math.max(most, Math.abs(one[frame]! - other[frame]!));
  return 20 * Math.log10(most);
}

describe('a sine at another rate is the sine that its definition gives there, 90 dB down', () => {
  for (const [from, to] of [
    [44_100, 48_000],
    [48_000, 44_100],
    [96_000, 48_000],
    [44_100, 96_000],
    [48_000, 48_000 * (1 + 41.7e-6)],
  ] as const)
    for (const frequencyHz of [55, 1_000, 0.45 * Math.min(from, to)])
      it(`${frequencyHz} Hz from ${from} to ${to.toFixed(0)} Hz`, () => {
        const frames = Math.floor((20_000 * to) / from);
        const [converted] = resample([sine(frequencyHz, from, 20_000)], to / from, frames);
        expect(errorDb(converted!, sine(frequencyHz, to, frames))).toBeLessThan(-90);
      });
});

it('starts between two frames, before the first and behind the last', () => {
  for (const startFrame of [0.37, -137.25, 500.5]) {
    const [moved] = resample([sine(997, 48_000, 9_000)], 1, 9_000, startFrame);
    const expected = sine(997, 48_000, 9_000, startFrame);
    const [first, end] = [
      Math.max(0, Math.ceil(-startFrame)) + 100,
      Math.min(9_000, 9_000 - startFrame) - 100,
    ];
    expect(errorDb(moved!.subarray(first, end), expected.subarray(first, end))).toBeLessThan(-90);
  }
  const [before] = resample([sine(997, 48_000, 200)], 1, 100, -400);
  expect(before!.every((value) => value === 0)).toBe(true);
});

it('works its blocks out as if they were one', () => {
  const input = sine(3_000, 44_100, 40_000);
  const [whole] = resample([input], 48_000 / 44_100, 43_000);
  const [tail] = resample([input], 48_000 / 44_100, 1_000, (4_100 * 44_100) / 48_000);
  expect(errorDb(whole!.subarray(4_100, 5_100), tail!)).toBeLessThan(-90);
});
