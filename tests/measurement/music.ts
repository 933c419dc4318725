import { fromDb, whiteNoise } from './signal.ts';

/**
 * Stereo with the rough dynamics of music: a kick and a noisy snare on the beat, a bass, chords that change every two
 * seconds, all decaying; with `quietParts`, every other ten seconds without drums and 14 dB down.
 */
export function musicLike(
  sampleRateHz: number,
  seconds: number,
  seed: number,
  quietParts: boolean,
): Float32Array[] {
  const frames = Math.round(sampleRateHz * seconds);
  const noise = whiteNoise(frames, seed);
  const roots = [55, 65.41, 49, 73.42];
  const beat = 0.5;
  const left = new Float32Array(frames);
  const right = new Float32Array(frames);
  for (let frame = 0; frame < frames; frame++) {
    const time = frame / sampleRateHz;
    const inBeat = time % beat;
    const beatNumber = Math.floor(time / beat);
    const root = roots[Math.floor(time / 2) % roots.length]!;
    const quiet = quietParts && Math.floor(time / 10) % 2 === 1;
    const tone = (hz: number) => Math.sin(2 * Math.PI * hz * time);
    const kick =
      Math.sin(2 * Math.PI * (50 * inBeat + 8 * (1 - Math.exp(-inBeat * 30)))) * Math.exp(-inBeat * 12);
    const snare = beatNumber % 2 === 1 ? noise[frame]! * Math.exp(-inBeat * 18) : 0;
    const bass = tone(root) * Math.exp(-(time % 0.25) * 4);
    const chord = tone(root * 4) + tone(root * 5) + 0.7 * tone(root * 6) + 0.3 * tone(root * 16);
    const drums = quiet ? 0 : 0.5 * kick + 0.35 * snare;
    const level = quiet ? fromDb(-14) : 1;
    const decay = Math.exp(-(time % 2) * 0.8);
    left[frame] = level * (drums + 0.22 * bass + 0.08 * chord * decay);
    right[frame] = level * (drums + 0.22 * bass + 0.08 * decay * (chord + 0.4 * tone(root * 8.02)));
  }
  return [left, right];
}
