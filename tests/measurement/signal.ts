import type { Measurement, SectionSpan } from '../../server/measurement/measurement.ts';
import { createMeter } from '../../server/measurement/meter.ts';

/** Test signals: channels of samples, ±1 at full scale. */
export type Channels = Float32Array[];

export const fromDb = (db: number) => 10 ** (db / 20);

export interface Tone {
  hz: number;
  /** Peak level; −Infinity for silence. */
  peakDbfs: number;
  seconds: number;
  sampleRateHz?: number;
  phaseDegrees?: number;
}

/** One sine after another in one channel, each beginning at its own phase. */
export function tones(...parts: Tone[]): Float32Array {
  const lengths = parts.map(({ seconds, sampleRateHz = 48_000 }) => Math.round(seconds * sampleRateHz));
  const samples = new Float32Array(lengths.reduce((sum, length) => sum + length, 0));
  let at = 0;
  for (const [index, { hz, peakDbfs, sampleRateHz = 48_000, phaseDegrees = 0 }] of parts.entries()) {
    const amplitude = fromDb(peakDbfs);
    const phase = (phaseDegrees * Math.PI) / 180;
    for (let frame = 0; frame < lengths[index]!; frame++, at++) {
      samples[at] = amplitude * Math.sin((2 * Math.PI * hz * frame) / sampleRateHz + phase);
    }
  }
  return samples;
}

/** A 1 kHz tone at several levels in a row, as most cases of Tech 3341 and 3342 ask: `[seconds, peak dBFS]`. */
export const steps = (...parts: [number, number][]) =>
  tones(...parts.map(([seconds, peakDbfs]) => ({ hz: 1000, peakDbfs, seconds })));

export const inBoth = (channel: Float32Array): Channels => [channel, channel];

/** The same numbers in −1 … 1 on every run (a linear congruential generator, Numerical Recipes' constants). */
export function whiteNoise(frames: number, seed: number, amplitude = 1): Float32Array {
  let state = seed >>> 0;
  return Float32Array.from({ length: frames }, () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return amplitude * (state / 2 ** 31 - 1);
  });
}

/** Pushes a signal through a meter in blocks of a size that no grid of the meter's shares. */
export function measure(
  channels: Channels,
  sampleRateHz = 48_000,
  sections: SectionSpan[] = [],
  channelMask: number | null = null,
): Measurement {
  const meter = createMeter({ sampleRateHz, channelCount: channels.length, sections, channelMask });
  const frames = channels[0]!.length;
  const blockFrames = 5003;
  for (let from = 0; from < frames; from += blockFrames) {
    const count = Math.min(blockFrames, frames - from);
    meter.push(
      channels.map((channel) => channel.subarray(from, from + count)),
      count,
    );
  }
  return meter.finish();
}
