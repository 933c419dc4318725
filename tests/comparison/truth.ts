import FFT from 'fft.js';

/**
 * What a comparison should find, worked out from the parts by the standards' definitions, with nothing of the engine's
 * own: the K-weighting coefficients are the published 48 kHz ones, spectra are long averaged periodograms.
 */

type Signal = readonly [ArrayLike<number>, ArrayLike<number>];

/** Stage 1 and stage 2 at 48 kHz. @source ITU-R BS.1770-5, Annex 1, Tables 1 and 2 */
const stages = [
  [1.53512485958697, -2.69169619938638, 1.19839281085285, -1.69065929318241, 0.73248077421585],
  [1, -2, 1, -1.99004745483398, 0.99007225036621],
] as const;

function kWeighted(channel: ArrayLike<number>, from: number, to: number): Float64Array {
  let signal = Float64Array.from({ length: to - from }, (_, frame) => channel[from + frame]!);
  for (const [b0, b1, b2, a1, a2] of stages) {
    const output = new Float64Array(signal.length);
    let [x1, x2, y1, y2] = [0, 0, 0, 0];
    for (let frame = 0; frame < signal.length; frame++) {
      const x = signal[frame]!;
      const y = b0 * x + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
      output[frame] = y;
      [x2, x1, y2, y1] = [x1, x, y1, y];
    }
    signal = output;
  }
  return signal;
}

/** Gated loudness of a stretch at 48 kHz. @source ITU-R BS.1770-5, Annex 1, (2) to (7) */
export function loudnessLufs(signal: Signal, from: number, to: number): number {
  const channels = signal.map((channel) => kWeighted(channel, from, to));
  const powers: number[] = [];
  for (let start = 0; start + 19_200 <= to - from; start += 4800) {
    let sum = 0;
    for (const channel of channels)
      for (let frame = start; frame < start + 19_200; frame++) sum += channel[frame]! ** 2;
    powers.push(sum / 19_200);
  }
  const loudness = (power: number) => -0.691 + 10 * Math.log10(power);
  const mean = (some: number[]) => some.reduce((sum, power) => sum + power, 0) / some.length;
  const absolute = powers.filter((power) => loudness(power) > -70);
  const gate = loudness(mean(absolute)) - 10;
  return loudness(mean(absolute.filter((power) => loudness(power) > gate)));
}

/** RMS of a stretch in dB; differences of it need no reference. */
export function rmsDb(signal: Signal, from: number, to: number): number {
  let sum = 0;
  for (const channel of signal) for (let frame = from; frame < to; frame++) sum += channel[frame]! ** 2;
  return 10 * Math.log10(sum / (2 * (to - from)));
}

/**
 * Power by third-octave band, in dB on a scale of its own, from 40 Hz up: Hann windows of two thirds of a second, wholly
 * inside the stretch; edge bins are shared.
 *
 * @source IEC 61260-1:2014, 5.3 and 5.4
 */
export function bandLevelsDb(
  signal: Signal,
  from: number,
  to: number,
  sampleRateHz = 48_000,
): Map<number, number> {
  const size = 32_768;
  const fft = new FFT(size);
  const input = new Float64Array(2 * size);
  const spectrum = new Float64Array(2 * size);
  const power = new Float64Array(size / 2);
  for (let start = from; start + size <= to; start += size / 4) {
    for (let frame = 0; frame < size; frame++) {
      const weight = 0.5 - 0.5 * Math.cos((2 * Math.PI * frame) / size);
      input[2 * frame] = weight * signal[0][start + frame]!;
      input[2 * frame + 1] = weight * signal[1][start + frame]!;
    }
    fft.transform(spectrum, input);
    // Left and right stand in one complex transform: the powers of a bin and of its mirror add up to both.
    for (let bin = 1; bin < size / 2; bin++)
      power[bin] =
        power[bin]! +
        spectrum[2 * bin]! ** 2 +
        spectrum[2 * bin + 1]! ** 2 +
        spectrum[2 * (size - bin)]! ** 2 +
        spectrum[2 * (size - bin) + 1]! ** 2;
  }
  const levels = new Map<number, number>();
  const nominals = [
    40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
    4000, 5000, 6300, 8000, 10_000, 12_500, 16_000,
  ];
  for (const [index, nominalHz] of nominals.entries()) {
    const middle = 1000 * 10 ** ((index - 14) / 10);
    const lower = ((middle / 10 ** 0.05) * size) / sampleRateHz;
    const upper = (middle * 10 ** 0.05 * size) / sampleRateHz;
    let sum = 0;
    for (let bin = Math.floor(lower + 0.5); bin <= Math.floor(upper + 0.5); bin++)
      sum += power[bin]! * Math.max(0, Math.min(upper, bin + 0.5) - Math.max(lower, bin - 0.5));
    levels.set(nominalHz, 10 * Math.log10(sum));
  }
  return levels;
}
