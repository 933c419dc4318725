import { expect } from 'vitest';

/** Expects the same samples to the last bit, and says where the first differs. */
export function expectSameSamples(actual: readonly Float32Array[], expected: readonly Float32Array[]): void {
  expect(actual.map((channel) => channel.length)).toEqual(expected.map((channel) => channel.length));
  for (const [channel, samples] of actual.entries()) {
    const other = expected[channel]!;
    const frame = samples.findIndex((sample, index) => !Object.is(sample, other[index]));
    if (frame >= 0)
      expect({ channel, frame, sample: samples[frame] }).toEqual({ channel, frame, sample: other[frame] });
  }
}
