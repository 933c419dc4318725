/**
 * A small song made of parts that are known exactly: every mix made of them has a truth that can be worked out from the
 * parts, without asking the comparison. Everything is seeded; nothing is taken from a recording.
 */

export interface Part {
  name: string;
  left: Float64Array;
  right: Float64Array;
}

export interface Song {
  sampleRateHz: number;
  frames: number;
  barSeconds: number;
  sections: { name: string; start: number; end: number }[];
  parts: Part[];
}

/** A small seeded generator of numbers from 0 to 1 (mulberry32). */
export function seededRandom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

export interface SongOptions {
  sampleRateHz?: number;
  seed?: number;
  bars?: number;
  barsInSection?: number;
}

/** The sum of weighted sines of whole multiples of a phase, each from the two before. */
function sines(phase: number, weights: readonly number[]): number {
  const twiceCosine = 2 * Math.cos(phase);
  let before = 0;
  let current = Math.sin(phase);
  let sum = 0;
  for (const weight of weights) {
    sum += weight * current;
    [before, current] = [current, twiceCosine * current - before];
  }
  return sum;
}

const tempoBpm = 120;
const scale = [0, 2, 3, 5, 7, 8, 10];
const hertz = (semitones: number) => 110 * 2 ** (semitones / 12);

/** Drums, bass, keys, guitar and lead in sections of a few bars; the lead rests in the first section. */
export function synthesiseSong({
  sampleRateHz = 48_000,
  seed = 1,
  bars = 20,
  barsInSection = 4,
}: SongOptions = {}): Song {
  const barSeconds = (4 * 60) / tempoBpm;
  const frames = Math.round(bars * barSeconds * sampleRateHz);
  const random = seededRandom(seed);
  const names = ['intro', 'verse 1', 'chorus 1', 'verse 2', 'chorus 2', 'bridge', 'chorus 3', 'outro'];
  const sections = [];
  for (let bar = 0, index = 0; bar < bars; bar += barsInSection, index++) {
    const name = names[index % names.length]!;
    sections.push({ name, start: bar * barSeconds, end: Math.min(bars, bar + barsInSection) * barSeconds });
  }
  const beat = barSeconds / 4;

  const drums = new Float64Array(frames);
  const bass = new Float64Array(frames);
  const keys = new Float64Array(frames);
  const keysFar = new Float64Array(frames);
  const guitar = new Float64Array(frames);
  const lead = new Float64Array(frames);
  const at = (seconds: number) => Math.round(seconds * sampleRateHz);
  const add = (target: Float64Array, start: number, seconds: number, value: (t: number) => number) => {
    const first = at(start);
    const end = Math.min(frames, first + at(seconds));
    for (let frame = first; frame < end; frame++)
      target[frame] = target[frame]! + value((frame - first) / sampleRateHz);
  };
  const tilts: Record<string, number[]> = {};
  const harmonics = (frequency: number, t: number, count: number, tilt: number) => {
    const key = `${count} ${tilt}`;
    const weights = tilts[key] ?? Array.from({ length: count }, (_, n) => 1 / (n + 1) ** tilt);
    tilts[key] = weights;
    return sines(2 * Math.PI * frequency * t, weights);
  };

  for (let bar = 0; bar < bars; bar++) {
    const root = [0, 5, 3, 7][bar % 4]!;
    const start = bar * barSeconds;
    for (let quarter = 0; quarter < 4; quarter++) {
      const time = start + quarter * beat;
      if (quarter % 2 === 0)
        add(
          drums,
          time,
          0.25,
          (t) => 0.5 * Math.exp(-t * 18) * Math.sin(2 * Math.PI * (50 * t + 3 * (1 - Math.exp(-t * 40)))),
        );
      else
        add(
          drums,
          time,
          0.2,
          (t) => Math.exp(-t * 22) * (0.3 * (2 * random() - 1) + 0.15 * Math.sin(2 * Math.PI * 190 * t)),
        );
      for (const half of [0, 0.5])
        add(drums, time + half * beat, 0.06, (t) => 0.08 * Math.exp(-t * 70) * (2 * random() - 1));
      const note = hertz(root - 12);
      add(
        bass,
        time,
        beat,
        (t) =>
          0.09 *
          Math.min(1, t * 200) *
          Math.exp(-t * 2) *
          harmonics(note, t, 6, 1.3) *
          Math.min(1, (beat - t) * 100),
      );
    }
    for (const [index, degree] of [0, 2, 4].entries()) {
      const note = hertz(root + scale[degree]!);
      const phase = random();
      add(
        keys,
        start,
        barSeconds,
        (t) =>
          0.022 *
          Math.min(1, t * 20) *
          Math.min(1, (barSeconds - t) * 20) *
          harmonics(note * (1 + 0.0007 * index), t + phase, 5, 1.2),
      );
      add(
        keysFar,
        start,
        barSeconds,
        (t) =>
          0.022 *
          Math.min(1, t * 20) *
          Math.min(1, (barSeconds - t) * 20) *
          harmonics(note * (1 - 0.0009 * index), t + phase * 1.7, 5, 1.2),
      );
    }
    for (let eighth = 0; eighth < 8; eighth++) {
      if (random() < 0.25) continue;
      const note = hertz(root + 12 + scale[Math.floor(random() * 7)]!);
      const grit = seededRandom(Math.floor(random() * 1e9));
      add(
        guitar,
        start + (eighth * beat) / 2,
        beat,
        (t) =>
          0.03 *
          Math.exp(-t * 7) *
          (harmonics(note, t, 10, 0.9) + 0.4 * Math.exp(-t * 60) * (2 * grit() - 1)),
      );
    }
    if (bar >= barsInSection) {
      for (let syllable = 0; syllable < 4; syllable++) {
        if (random() < 0.2) continue;
        const note = hertz(root + 12 + scale[Math.floor(random() * 7)]!);
        const vowel = 500 + 700 * random();
        const wobble = 4.5 + random();
        const length = beat * (0.6 + 0.35 * random());
        const shape = Array.from({ length: Math.floor(5000 / note) }, (_, index) => {
          const frequency = (index + 1) * note;
          const formants =
            Math.exp(-(((frequency - vowel) / 350) ** 2)) +
            0.5 * Math.exp(-(((frequency - 2600) / 700) ** 2));
          return formants + 0.1 / (index + 1);
        });
        const breath = seededRandom(Math.floor(random() * 1e9));
        add(lead, start + syllable * beat + 0.02 * random(), length, (t) => {
          const phase =
            2 * Math.PI * (note * t - (0.004 * note * Math.cos(2 * Math.PI * wobble * t)) / wobble);
          return (
            0.09 *
            Math.min(1, t * 40) *
            Math.min(1, (length - t) * 40) *
            (sines(phase, shape) + 0.1 * (2 * breath() - 1))
          );
        });
      }
    }
  }
  const panned = (name: string, mono: Float64Array, left: number, right: number): Part => ({
    name,
    left: mono.map((value) => value * left),
    right: mono.map((value) => value * right),
  });
  return {
    sampleRateHz,
    frames,
    barSeconds,
    sections,
    parts: [
      panned('drums', drums, 1, 1),
      panned('bass', bass, 1, 1),
      { name: 'keys', left: keys, right: keysFar },
      panned('guitar', guitar, 0.9, 0.45),
      panned('lead', lead, 1, 1),
    ],
  };
}

export const decibels = (value: number) => 10 ** (value / 20);

/** Gain of a part at a frame. */
export type Automation = (part: string, seconds: number) => number;

/** The sum of the parts, each at its gain; left and right. */
export function mixDown(song: Song, gain: Automation = () => 1): [Float64Array, Float64Array] {
  const left = new Float64Array(song.frames);
  const right = new Float64Array(song.frames);
  for (const part of song.parts) {
    for (let frame = 0; frame < song.frames; frame++) {
      const factor = gain(part.name, frame / song.sampleRateHz);
      left[frame] = left[frame]! + factor * part.left[frame]!;
      right[frame] = right[frame]! + factor * part.right[frame]!;
    }
  }
  return [left, right];
}

export const toFloat32 = (channels: readonly Float64Array[]) =>
  channels.map((channel) => Float32Array.from(channel));

/** Shifts a signal later by whole frames; what comes before is silence. */
export function later(channels: readonly Float64Array[], frames: number): Float64Array[] {
  return channels.map((channel) => {
    const shifted = new Float64Array(channel.length);
    shifted.set(channel.subarray(0, channel.length - frames), frames);
    return shifted;
  });
}

/** Takes `[from, to)` seconds out. */
export function without(
  channels: readonly Float64Array[],
  sampleRateHz: number,
  from: number,
  to: number,
): Float64Array[] {
  const first = Math.round(from * sampleRateHz);
  const end = Math.round(to * sampleRateHz);
  return channels.map((channel) => {
    const rest = new Float64Array(channel.length - (end - first));
    rest.set(channel.subarray(0, first));
    rest.set(channel.subarray(end), first);
    return rest;
  });
}
