import { kaiserWindow } from './kaiser.ts';

/**
 * Zero crossings of the sinc on either side of its centre, and the Kaiser window's shape: together they keep images
 * 90 dB down and the pass band flat to 0.9 of half the lower rate.
 *
 * @source J. F. Kaiser's design formulas: attenuation = 8.7 + beta / 0.1102
 */
const halfWidth = 32;
const kaiserBeta = 9;
/** Rate pairs whose reduced ratio has more phases than this are interpolated between phases. */
const mostPhases = 1024;

/**
 * The same sound at another sample rate, for comparing only: time 0 stays where it is.
 *
 * @param ratio Output frames for each input frame.
 * @param frames Output frames wanted.
 * @param startFrame Place in the input, in frames and fractions of one, that becomes output frame 0. Before the first
 * and after the last input frame is silence.
 * @returns one new array a channel.
 */
export function resample(
  channels: readonly Float32Array[],
  ratio: number,
  frames: number,
  startFrame = 0,
): Float32Array[] {
  const cutoff = Math.min(1, ratio);
  const reach = Math.ceil(halfWidth / cutoff);
  const taps = 2 * reach + 1;
  const firstWhole = Math.floor(startFrame);
  const phases = phaseCount(ratio);
  const table = sincTable(phases, reach, cutoff, startFrame - firstWhole);
  const stepInPhases = phases / ratio;
  const onPhases = Math.abs(stepInPhases - Math.round(stepInPhases)) < 1e-6;
  return channels.map((input) => {
    const output = new Float32Array(frames);
    for (let frame = 0; frame < frames; frame++) {
      const place = onPhases ? frame * Math.round(stepInPhases) : frame * stepInPhases;
      const whole = Math.floor(place / phases);
      const exactPhase = place - whole * phases;
      const phase = Math.floor(exactPhase);
      const first = firstWhole + whole - reach + 1;
      const row = phase * taps;
      const from = Math.max(0, -first);
      const to = Math.min(taps, input.length - first);
      let sum = 0;
      for (let tap = from; tap < to; tap++) sum += input[first + tap]! * table[row + tap]!;
      if (!onPhases) {
        let next = 0;
        for (let tap = from; tap < to; tap++) next += input[first + tap]! * table[row + taps + tap]!;
        sum += (exactPhase - phase) * (next - sum);
      }
      output[frame] = sum;
    }
    return output;
  });
}

/** How many phases make every output frame fall on one, or `mostPhases` where too many would. */
function phaseCount(ratio: number): number {
  for (let phases = 1; phases <= mostPhases; phases++) {
    if (Math.abs(phases / ratio - Math.round(phases / ratio)) < 1e-9) return phases;
  }
  return mostPhases;
}

/** One row of taps a phase, each later by `start` frames, and one row more, so that the last phase has a next one. */
function sincTable(phases: number, reach: number, cutoff: number, start: number): Float64Array {
  const taps = 2 * reach + 1;
  const table = new Float64Array((phases + 1) * taps);
  const atCentre = kaiserWindow(0, kaiserBeta);
  for (let phase = 0; phase <= phases; phase++) {
    for (let tap = 0; tap < taps; tap++) {
      const distance = tap - reach + 1 - phase / phases - start;
      const across = distance / reach;
      if (Math.abs(across) >= 1) continue;
      table[phase * taps + tap] =
        (kaiserWindow(across, kaiserBeta) / atCentre) * cutoff * sinc(distance * cutoff);
    }
  }
  return table;
}

function sinc(x: number): number {
  return x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
}
