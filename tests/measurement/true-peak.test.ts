import { describe, expect, it } from 'vitest';
import { KernelMemory } from '../../server/measurement/kernel-memory.ts';
import { createTruePeakFinder, interpolationPhases } from '../../server/measurement/true-peak.ts';
import { fromDb, inBoth, measure, tones, whiteNoise } from './signal.ts';

/**
 * Proves that true peak is never worse than the interpolator that ITU-R BS.1770-5 gives, that leaving out what can't
 * matter leaves the result as it is, and that overs are found where they are.
 */

/** @source ITU-R BS.1770-5, Annex 2: the 48 coefficients in four phases, as multiples of 1/8192 */
const published = [
  [14, 90, -161, 272, -487, 1125, 7964, -838, 390, -218, 122, -68],
  [-239, 240, -424, 730, -1364, 3810, 6388, -1641, 832, -477, 271, -155],
  [-155, 271, -477, 832, -1641, 6388, 3810, -1364, 730, -424, 240, -239],
  [-68, 122, -218, 390, -838, 7964, 1125, -487, 272, -161, 90, 14],
].map((phase) => phase.map((numerator) => numerator / 8192));

/** What a set of phases makes of a steady sine: the largest absolute value over two periods at least, in dB. */
function readingDb(phases: readonly ArrayLike<number>[], frequency: number, startPhase: number): number {
  const frames = Math.max(120, Math.ceil(2 / frequency));
  let peak = 0;
  for (let frame = 0; frame < frames; frame++) {
    for (const phase of phases) {
      let value = 0;
      for (let tap = 0; tap < phase.length; tap++) {
        value += phase[tap]! * Math.sin(2 * Math.PI * frequency * (frame - tap) + startPhase);
      }
      peak = Math.max(peak, Math.abs(value));
    }
    peak = Math.max(
      peak,
      phases === published ? 0 : Math.abs(Math.sin(2 * Math.PI * frequency * frame + startPhase)),
    );
  }
  return 20 * Math.log10(peak);
}

function worstErrorDb(phases: readonly ArrayLike<number>[], frequency: number): number {
  let worst = 0;
  for (let step = 0; step < 24; step++) {
    worst = Math.max(worst, Math.abs(readingDb(phases, frequency, (2 * Math.PI * step) / 24)));
  }
  return worst;
}

describe('the interpolator', () => {
  const phases = interpolationPhases();

  /** What meters show; where the published filter's error changes its sign it is smaller for a frequency or two. */
  const hundredth = 0.01;

  it('errs less than the published 48 taps for a steady sine of any frequency to 0.45 of the rate', () => {
    for (let frequency = 0.005; frequency <= 0.4501; frequency += 0.005) {
      expect(worstErrorDb(phases, frequency)).toBeLessThanOrEqual(
        worstErrorDb(published, frequency) + hundredth,
      );
    }
  });

  it('errs by 0.05 dB at most', () => {
    for (let frequency = 0.003; frequency <= 0.45; frequency += 0.007) {
      expect(worstErrorDb(phases, frequency)).toBeLessThanOrEqual(0.05);
    }
  });

  it('has at least four points a frame, at every rate', () => {
    expect(phases.length + 1).toBeGreaterThanOrEqual(4);
  });
});

describe('leaving out what can not be the peak', () => {
  const phases = interpolationPhases();
  /** The definition, without leaving anything out. */
  const byDefinition = (channel: Float32Array, from: number, end: number) => {
    let peak = 0;
    for (let frame = from; frame < end; frame++) {
      peak = Math.max(peak, Math.abs(channel[frame]!));
      for (const phase of phases) {
        let value = 0;
        for (let tap = 0; tap < phase.length; tap++) value += phase[tap]! * channel[frame - 15 + tap]!;
        peak = Math.max(peak, Math.abs(value));
      }
    }
    return peak;
  };
  const smooth = (noise: Float32Array) => {
    let state = 0;
    return noise.map((sample) => {
      state = 0.9 * state + 0.1 * sample;
      return state;
    });
  };
  const kinds: [string, (seed: number) => Float32Array][] = [
    ['white noise', (seed) => whiteNoise(3000, seed)],
    ['smooth noise', (seed) => smooth(whiteNoise(3000, seed))],
    ['rare clicks', (seed) => whiteNoise(3000, seed).map((sample) => (Math.abs(sample) > 0.99 ? sample : 0))],
    [
      'a hard-clipped sine',
      (seed) => whiteNoise(3000, seed).map((_, frame) => Math.sign(Math.sin(frame * 0.7 + seed))),
    ],
  ];
  it.each(kinds)('gives the very same value on %s', (_, make) => {
    const memory = new KernelMemory();
    const find = createTruePeakFinder(memory, 2600);
    const area = memory.floats(3000);
    for (let seed = 1; seed <= 12; seed++) {
      const channel = make(seed);
      const end = 2700 + seed * 7;
      area.values.set(channel);
      const { peak } = find([area], 200, end, 0, channel.length);
      expect(Math.abs(peak - byDefinition(channel, 200, end))).toBeLessThanOrEqual(1e-6);
    }
    memory.free();
  });
});

describe('true peak of a file', () => {
  it('is never under the sample peak', () => {
    for (let seed = 1; seed <= 8; seed++) {
      const { truePeakDbtp, samplePeakDbfs } = measure([whiteNoise(9000, seed, 0.7)]);
      expect(truePeakDbtp!).toBeGreaterThanOrEqual(samplePeakDbfs!);
    }
  });

  it.each([44_100, 48_000, 96_000, 192_000])('finds a peak between samples at %i Hz', (sampleRateHz) => {
    const tone = tones({ hz: sampleRateHz / 4, peakDbfs: 0, seconds: 0.5, phaseDegrees: 45, sampleRateHz });
    const { truePeakDbtp, samplePeakDbfs } = measure(inBoth(tone), sampleRateHz);
    expect(samplePeakDbfs).toBeCloseTo(-3.01, 2);
    expect(Math.abs(truePeakDbtp!)).toBeLessThanOrEqual(0.05);
  });

  it('lists overs with their times and levels', () => {
    const quiet = { hz: 12_000, peakDbfs: -6, seconds: 1, phaseDegrees: 45 };
    const over = { hz: 12_000, peakDbfs: 2, seconds: 0.02, phaseDegrees: 45 };
    const { overs, oversCount, truePeakDbtp } = measure([tones(quiet, over, quiet, over, quiet)]);
    expect(oversCount).toBe(2);
    expect(Math.abs(overs[0]!.timeSeconds - 1.01)).toBeLessThanOrEqual(0.0101);
    expect(Math.abs(overs[1]!.timeSeconds - 2.03)).toBeLessThanOrEqual(0.0101);
    for (const { truePeakDbtp: peak } of overs) expect(Math.abs(peak - 2)).toBeLessThanOrEqual(0.6);
    expect(truePeakDbtp).toBe(Math.max(...overs.map((spot) => spot.truePeakDbtp)));
  });

  it('is found in any channel and at any place', () => {
    for (const at of [20, 479, 480, 4799, 4800, 9599, 12_000]) {
      const channel = new Float32Array(12_100);
      channel[at] = fromDb(-3);
      expect(measure([new Float32Array(channel.length), channel]).samplePeakDbfs).toBeCloseTo(-3, 4);
    }
  });
});
