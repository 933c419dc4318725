import { kaiserWindow } from './kaiser.ts';
import { KernelMemory, kernels } from './kernel-memory.ts';

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
/** Output frames that are worked out at once. */
const blockFrames = 4096;

/**
 * The same sound at another sample rate, for comparing only: time 0 stays where it is.
 *
 * @param ratio Output frames for each input frame.
 * @param frames Output frames wanted.
 * @param startFrame Place in the input, in frames and fractions of one, that becomes output frame 0. Before the first
 * and after the last input frame is silence.
 * @returns one new array a channel, which threads may share.
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
  const stepInPhases = stepOn(phases / ratio);
  const memory = new KernelMemory();
  try {
    const sixteens = Math.ceil(taps / 16);
    const table = memory.floats((phases + 1) * 16 * sixteens);
    fillSincTable(table.values, phases, 16 * sixteens, reach, cutoff, startFrame - firstWhole);
    const source = memory.floats(Math.ceil(blockFrames / ratio) + 2 + 16 * sixteens);
    const target = memory.floats(blockFrames);
    return channels.map((input) => {
      const output = new Float32Array(new SharedArrayBuffer(4 * frames));
      for (let frame = 0; frame < frames; frame += blockFrames) {
        const count = Math.min(blockFrames, frames - frame);
        const place = frame * stepInPhases;
        const whole = Math.floor(place / phases);
        const first = firstWhole + whole - reach + 1;
        const from = Math.min(source.length, Math.max(0, -first));
        const to = Math.max(from, Math.min(source.length, input.length - first));
        const { values } = source;
        values.fill(0, 0, from);
        values.fill(0, to);
        values.set(input.subarray(first + from, first + to), from);
        kernels.resample(
          source.address,
          table.address,
          sixteens,
          phases,
          place - whole * phases,
          stepInPhases,
          target.address,
          count,
        );
        output.set(target.values.subarray(0, count), frame);
      }
      return output;
    });
  } finally {
    memory.free();
  }
}

/** A step that rounding alone keeps from a whole number is one. */
function stepOn(step: number): number {
  const whole = Math.round(step);
  return Math.abs(step - whole) < 1e-6 ? whole : step;
}

/** How many phases make every output frame fall on one, or `mostPhases` where too many would. */
function phaseCount(ratio: number): number {
  for (let phases = 1; phases <= mostPhases; phases++) {
    if (Math.abs(phases / ratio - Math.round(phases / ratio)) < 1e-9) return phases;
  }
  return mostPhases;
}

/** One row of taps a phase, each later by `start` frames, and one row more, so that the last phase has a next one. */
function fillSincTable(
  table: Float32Array,
  phases: number,
  rowLength: number,
  reach: number,
  cutoff: number,
  start: number,
): void {
  const atCentre = kaiserWindow(0, kaiserBeta);
  for (let phase = 0; phase <= phases; phase++) {
    for (let tap = 0; tap <= 2 * reach; tap++) {
      const distance = tap - reach + 1 - phase / phases - start;
      const across = distance / reach;
      if (Math.abs(across) >= 1) continue;
      table[phase * rowLength + tap] =
        (kaiserWindow(across, kaiserBeta) / atCentre) * cutoff * sinc(distance * cutoff);
    }
  }
}

function sinc(x: number): number {
  return x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
}
