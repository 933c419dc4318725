import { hannWindow } from './hann.ts';
import type { KernelMemory } from './kernel-memory.ts';
import { tradeBands } from './third-octave.ts';

/** Frames of one window: about a sixth of a second, so that every trade band holds bins of its own. */
export function stemWindowFramesAt(sampleRateHz: number): number {
  return 2 ** Math.round(Math.log2(sampleRateHz * 0.17));
}

/** Takes the next frames of all stems; the arrays may be used again afterwards. */
export type OnStems = (stems: readonly (readonly Float32Array[])[], frames: number) => void;

/** Reads all stems together, each stereo, from their first frame to the last; what has ended brings zeros. */
export type StemStream = (onStems: OnStems) => Promise<void>;

/** One window of the stems with the place of each print there, and the cell that its products are added to. */
export interface StemWindow {
  /** First frame of the stems. */
  start: number;
  /** First frame of each print, in the order of the prints. */
  prints: readonly number[];
  cell: number;
}

/** Left, then right, each in every trade band. */
export const stemParts = 2 * tradeBands.length;
export const partOf = (side: 0 | 1, band: number) => side * tradeBands.length + band;

/** Bands end here: above, converters and encoders differ more than mixes do. */
const highestHz = 16_000;

/**
 * Products of every column with every other one (stems first, then prints), summed over the windows of a cell: the
 * normal equations of any regression among them. Powers are relative, not calibrated.
 */
export interface StemGram {
  columns: number;
  cells: number;
  /** Product of two columns in one cell and one part. */
  product(cell: number, part: number, one: number, other: number): number;
}

export interface StemGramOptions {
  sampleRateHz: number;
  stemCount: number;
  /** Whole prints on the stems' sample rate. */
  prints: readonly (readonly Float32Array[])[];
  /** Ordered by `start`. */
  windows: readonly StemWindow[];
  cells: number;
}

export interface StemGramMeter {
  push: OnStems;
  /** Silence follows the last frame. */
  finish(): StemGram;
}

/**
 * Sums products of stems and prints while the stems stream by, all together, from their first frame to the last: what
 * is held is one window a stem, and the sums.
 *
 * Windows are Hann windows and transforms single precision: rounding stands about 130 dB under each column.
 */
export function createStemGram(
  memory: KernelMemory,
  { sampleRateHz, stemCount, prints, windows, cells }: StemGramOptions,
): StemGramMeter {
  const size = stemWindowFramesAt(sampleRateHz);
  const transform = memory.transform(size);
  const hann = hannWindow(size);
  const columns = stemCount + prints.length;
  const binHz = sampleRateHz / size;
  const binAt = (hertz: number) => Math.min(size / 2, Math.ceil(Math.min(hertz, highestHz) / binHz));
  const edges = tradeBands.map(({ lowerEdgeHz, upperEdgeHz }) => [binAt(lowerEdgeHz), binAt(upperEdgeHz)]);
  const bins = edges.at(-1)![1]!;
  const pairs = (columns * (columns + 1)) / 2;
  const sums = new Float64Array(cells * stemParts * pairs);
  const spectra = Array.from({ length: columns }, () => [
    new Float32Array(2 * bins),
    new Float32Array(2 * bins),
  ]);
  const sounds = new Array<boolean>(columns).fill(false);

  const load = (column: number, channels: readonly Float32Array[], start: number) => {
    const input = transform.input.values;
    const [left, right] = channels as [Float32Array, Float32Array];
    let any = false;
    for (let frame = 0; frame < size; frame++) {
      const l = left[start + frame] ?? 0;
      const r = right[start + frame] ?? 0;
      any ||= l !== 0 || r !== 0;
      input[2 * frame] = l * hann[frame]!;
      input[2 * frame + 1] = r * hann[frame]!;
    }
    sounds[column] = any;
    if (!any) return;
    transform.run();
    const output = transform.output.values;
    const [spectrumLeft, spectrumRight] = spectra[column] as [Float32Array, Float32Array];
    for (let bin = 1; bin < bins; bin++) {
      const up = 2 * bin;
      const down = 2 * (size - bin);
      spectrumLeft[up] = output[up]! + output[down]!;
      spectrumLeft[up + 1] = output[up + 1]! - output[down + 1]!;
      spectrumRight[up] = output[up + 1]! + output[down + 1]!;
      spectrumRight[up + 1] = output[down]! - output[up]!;
    }
  };

  const follow = followWindows(stemCount, size, windows, (stems, first, { start, prints: starts, cell }) => {
    for (let stem = 0; stem < stemCount; stem++) load(stem, stems[stem]!, start - first);
    for (const [index, print] of prints.entries()) load(stemCount + index, print, starts[index]!);
    for (let one = 0, pair = 0; one < columns; one++) {
      for (let other = 0; other <= one; other++, pair++) {
        if (!sounds[one] || !sounds[other]) continue;
        for (const side of [0, 1] as const) {
          const x = spectra[one]![side]!;
          const y = spectra[other]![side]!;
          for (let band = 0; band < edges.length; band++) {
            const [from, to] = edges[band]!;
            const at = (cell * stemParts + partOf(side, band)) * pairs + pair;
            sums[at] = sums[at]! + product(x, y, 2 * from!, 2 * to!);
          }
        }
      }
    }
  });

  return {
    push: follow.push,
    finish() {
      follow.finish();
      return {
        columns,
        cells,
        product(cell, part, one, other) {
          const [high, low] = one > other ? [one, other] : [other, one];
          return sums[(cell * stemParts + part) * pairs + (high * (high + 1)) / 2 + low]!;
        },
      };
    },
  };
}

/**
 * Follows windows along stems that stream by, holding no more of them than the windows still to come want.
 *
 * @param windows Ordered by `start`.
 * @param onWindow Gets what is held of each stem, and which frame of the stems that begins with.
 */
export function followWindows(
  stemCount: number,
  size: number,
  windows: readonly StemWindow[],
  onWindow: (stems: readonly (readonly Float32Array[])[], first: number, window: StemWindow) => void,
): { push: OnStems; finish(): void } {
  const pushFrames = 8192;
  const buffers = Array.from({ length: stemCount }, () =>
    [0, 1].map(() => new Float32Array(2 * size + pushFrames)),
  );
  let first = 0;
  let held = 0;
  let next = 0;
  const drop = () => {
    // One frame more than is wanted, so that a difference can be taken.
    const wanted = (windows[next]?.start ?? Number.POSITIVE_INFINITY) - 1;
    const gone = Math.min(held, Math.max(0, wanted - first));
    if (gone === 0) return;
    for (const channels of buffers) for (const channel of channels) channel.copyWithin(0, gone, held);
    held -= gone;
    first += gone;
  };
  const push = (stems: readonly (readonly Float32Array[])[] | null, frames: number) => {
    for (let at = 0; at < frames; at += pushFrames) {
      const count = Math.min(pushFrames, frames - at);
      for (const [stem, channels] of buffers.entries()) {
        for (const [side, channel] of channels.entries()) {
          if (stems) channel.set(stems[stem]![side]!.subarray(at, at + count), held);
          else channel.fill(0, held, held + count);
        }
      }
      held += count;
      for (; next < windows.length && windows[next]!.start + size <= first + held; next++)
        onWindow(buffers, first, windows[next]!);
      drop();
    }
  };
  return {
    push,
    finish() {
      if (next < windows.length) push(null, Math.max(0, windows.at(-1)!.start + size - first - held));
    },
  };
}

function product(x: Float32Array, y: Float32Array, from: number, to: number): number {
  let even = 0;
  let odd = 0;
  for (let at = from; at < to; at += 2) {
    even += x[at]! * y[at]!;
    odd += x[at + 1]! * y[at + 1]!;
  }
  return even + odd;
}
