import type { LaidOver } from './lay-over.ts';
import { relativeDb } from './residual.ts';
import type { StemPlan } from './stem-gain.ts';
import { followWindows, type StemStream, stemWindowFramesAt } from './stem-gram.ts';
import { type StemFit, solve } from './stem-regression.ts';

/**
 * A print as its stems at fixed gains under one gain that moves: what a limiter or compressor on the bus makes of them.
 * The moving gain is free every few milliseconds, and 1 where it holds nothing down.
 */
export interface BusFit extends StemFit {
  /** Mean of the moving gain, by power: what the bus holds the section down by beside its freest moments. */
  busGainDb: number;
  /** What neither gain explains, relative to the print, highs lifted by 6 dB an octave; and with the stems' gains alone. */
  unexplainedDb: number;
  unexplainedWithoutDb: number;
}

/** Products of stems and prints every few milliseconds. */
export interface BusGram {
  columns: number;
  hops: number;
  /** Cell of each hop, as in the plan. */
  cellOf: Int32Array;
  /** Packed by pairs, hop after hop. */
  sums: Float32Array;
}

/** Frames of a hop: under 3 ms at 48 kHz. Many stems take longer hops, so that their products stay near 100 MB. */
const hopFramesFor = (stemCount: number) => (stemCount > 16 ? 256 : 128);
const rounds = 30;
/** Moments in which the bus is taken to be free: the tenth in which its gain is highest. */
const freeQuantile = 0.9;
/** A moment so far under the mean says nothing of the bus. */
const quietShare = 1e-4;

/**
 * Gathers what `fitBus` needs, while the stems stream by once more.
 *
 * @param sections Places of the plan's sections that are asked.
 */
export async function busGramOfStems(
  plan: StemPlan,
  sections: readonly number[],
  stemCount: number,
  prints: readonly LaidOver[],
  stream: StemStream,
): Promise<BusGram> {
  const asked = new Set(sections.flatMap((section) => plan.sections[section]!.cells));
  const windows = plan.windows.filter(({ cell }) => asked.has(cell));
  const size = stemWindowFramesAt(plan.sampleRateHz);
  const hop = hopFramesFor(stemCount);
  const hopsInWindow = size / 2 / hop;
  const columns = stemCount + prints.length;
  const pairs = (columns * (columns + 1)) / 2;
  const hops = windows.length * hopsInWindow;
  const gram: BusGram = {
    columns,
    hops,
    cellOf: new Int32Array(hops),
    sums: new Float32Array(hops * pairs),
  };
  const lifted = Array.from({ length: columns }, () => new Float32Array(2 * hop));
  let at = 0;
  const follow = followWindows(stemCount, size, windows, (stems, first, { start, prints: starts, cell }) => {
    // Windows overlap by half: the first half of each is enough.
    for (let part = 0; part < hopsInWindow; part++, at++) {
      for (let stem = 0; stem < stemCount; stem++)
        lift(stems[stem]!, start - first + part * hop, hop, lifted[stem]!);
      for (const [index, { channels }] of prints.entries())
        lift(channels, starts[index]! + part * hop, hop, lifted[stemCount + index]!);
      gram.cellOf[at] = cell;
      for (let one = 0, pair = 0; one < columns; one++)
        for (let other = 0; other <= one; other++, pair++) {
          const [x, y] = [lifted[one]!, lifted[other]!];
          let sum = 0;
          for (let frame = 0; frame < x.length; frame++) sum += x[frame]! * y[frame]!;
          gram.sums[at * pairs + pair] = sum;
        }
    }
  });
  await stream(follow.push);
  follow.finish();
  return gram;
}

/** Both channels in a row, highs lifted by 6 dB an octave so that the bass doesn't decide alone. */
function lift(channels: readonly Float32Array[], start: number, frames: number, target: Float32Array): void {
  for (const [side, channel] of channels.entries()) {
    let previous = channel[start - 1] ?? 0;
    for (let frame = 0; frame < frames; frame++) {
      const value = channel[start + frame] ?? 0;
      target[side * frames + frame] = value - previous;
      previous = value;
    }
  }
}

/**
 * Finds the stems' gains under a moving bus gain. The moving gain is solved for inside, hop by hop (variable
 * projection), so that what it is free to follow is counted in the errors.
 *
 * @param stems Columns that sound.
 * @param target The print's column.
 * @returns `null` where nothing sounds or nothing settles.
 */
export function fitBus(
  gram: BusGram,
  cells: readonly number[],
  stems: readonly number[],
  target: number,
): BusFit | null {
  const count = stems.length;
  const placeOf = new Map(cells.map((cell, place) => [cell, place]));
  const hops: number[] = [];
  for (let hop = 0; hop < gram.hops; hop++) if (placeOf.has(gram.cellOf[hop]!)) hops.push(hop);
  const matrices = hops.map((hop) => matrixOf(gram, hop, [...stems, target]));
  const size = count + 1;
  const powers = matrices.map((matrix) => matrix[size * size - 1]!);
  const mean = powers.reduce((sum, power) => sum + power, 0) / Math.max(1, powers.length);
  if (count === 0 || !(mean > 0)) return null;
  const weights = powers.map((power) => (power > mean * quietShare ? 1 / (power + 0.01 * mean) : 0));

  const plain = new Float64Array(size * size);
  for (const [index, matrix] of matrices.entries())
    for (let place = 0; place < plain.length; place++)
      plain[place] = plain[place]! + weights[index]! * matrix[place]!;
  const first = solve(plain, count);
  if (!first) return null;
  let gains: Float64Array = first.gains;
  const unexplainedWithout = matrices.reduce((sum, matrix) => sum + squareLeft(matrix, gains, 1), 0);

  const bus = new Float64Array(hops.length);
  const normal = new Float64Array(size * size);
  let inverse: Float64Array[] = first.inverse;
  for (let round = 0; round < rounds; round++) {
    normal.fill(0);
    const pin = new Float64Array(count);
    for (const [index, matrix] of matrices.entries()) {
      const weight = weights[index]!;
      if (weight === 0) continue;
      const { model, own, cross } = modelOf(matrix, gains);
      if (!(own > 0)) continue;
      const gain = Math.max(0, cross / own);
      bus[index] = gain;
      for (let row = 0; row < count; row++) {
        pin[row] = pin[row]! + weight * gain * gain * model[row]!;
        for (let column = 0; column < count; column++)
          normal[row * size + column] =
            normal[row * size + column]! +
            weight * gain * gain * (matrix[row * size + column]! - (model[row]! * model[column]!) / own);
        normal[row * size + count] =
          normal[row * size + count]! + weight * gain * (matrix[row * size + count]! - gain * model[row]!);
      }
    }
    // Gains that all grow together are the moving gain's affair: that direction is held.
    const scale = pin.reduce((sum, value, row) => sum + value * gains[row]!, 0);
    if (!(scale > 0)) return null;
    for (let row = 0; row < count; row++)
      for (let column = 0; column < count; column++)
        normal[row * size + column] = normal[row * size + column]! + (pin[row]! * pin[column]!) / scale;
    const step = solve(normal, count);
    if (!step) return null;
    inverse = step.inverse;
    gains = gains.map((gain, row) => gain + step.gains[row]!);
    if (step.gains.every((move, row) => Math.abs(move) < 1e-6 * Math.abs(gains[row]!) + 1e-9)) break;
  }
  if (gains.some((gain) => !Number.isFinite(gain))) return null;

  const influences = cells.map(() => new Float64Array(count));
  let unexplained = 0;
  let held = 0;
  let free = 0;
  const moving: number[] = [];
  for (const [index, matrix] of matrices.entries()) {
    const { model, own, cross } = modelOf(matrix, gains);
    const gain = own > 0 ? Math.max(0, cross / own) : 0;
    bus[index] = gain;
    unexplained += squareLeft(matrix, gains, gain);
    if (weights[index] === 0) continue;
    moving.push(gain);
    held += gain * gain * own;
    free += own;
    const pull = influences[placeOf.get(gram.cellOf[hops[index]!]!)!]!;
    for (let row = 0; row < count; row++)
      pull[row] = pull[row]! + weights[index]! * gain * (matrix[row * size + count]! - gain * model[row]!);
  }
  moving.sort((one, other) => one - other);
  const freeGain = moving[Math.floor(freeQuantile * (moving.length - 1))] ?? 1;
  if (!(freeGain > 0) || !(held > 0)) return null;
  const total = mean * powers.length;
  return {
    gains: gains.map((gain) => gain * freeGain),
    influences: influences.map((pull) =>
      new Float64Array(count).map(
        (_, row) => freeGain * inverse[row]!.reduce((sum, value, column) => sum + value * pull[column]!, 0),
      ),
    ),
    inflation: new Float64Array(count).map((_, row) => inverse[row]![row]! * normal[row * size + row]!),
    unexplained,
    target: total,
    busGainDb: 10 * Math.log10(held / free / freeGain ** 2),
    unexplainedDb: relativeDb(unexplained, total)!,
    unexplainedWithoutDb: relativeDb(unexplainedWithout, total)!,
  };
}

function matrixOf({ columns, sums }: BusGram, hop: number, asked: readonly number[]): Float64Array {
  const first = hop * ((columns * (columns + 1)) / 2);
  const size = asked.length;
  const matrix = new Float64Array(size * size);
  for (let row = 0; row < size; row++)
    for (let column = 0; column < size; column++) {
      const [one, other] = [asked[row]!, asked[column]!];
      const [high, low] = one > other ? [one, other] : [other, one];
      matrix[row * size + column] = sums[first + (high * (high + 1)) / 2 + low]!;
    }
  return matrix;
}

/** The stems' sum at some gains: its product with each stem, with itself, and with the print. */
function modelOf(matrix: Float64Array, gains: Float64Array) {
  const count = gains.length;
  const size = count + 1;
  const model = new Float64Array(count);
  let own = 0;
  let cross = 0;
  for (let row = 0; row < count; row++) {
    let sum = 0;
    for (let column = 0; column < count; column++) sum += matrix[row * size + column]! * gains[column]!;
    model[row] = sum;
    own += sum * gains[row]!;
    cross += matrix[row * size + count]! * gains[row]!;
  }
  return { model, own, cross };
}

function squareLeft(matrix: Float64Array, gains: Float64Array, bus: number): number {
  const { own, cross } = modelOf(matrix, gains);
  return Math.max(0, matrix[matrix.length - 1]! - 2 * bus * cross + bus * bus * own);
}
