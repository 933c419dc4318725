import { type StemGram, stemParts } from './stem-gram.ts';

/** What each of several columns is multiplied by in a sum that comes closest to a target. */
export interface StemFit {
  /** One gain a column, linear and signed. */
  gains: Float64Array;
  /** Cell by cell, what the cell moves each gain by: their squares sum to the gain's variance. */
  influences: Float64Array[];
  /** One a column: 1 stands alone, without bound where other columns sum to it (variance inflation). */
  inflation: Float64Array;
  /** Power of what the columns don't explain, and of the target, over all the parts asked, unweighted. */
  unexplained: number;
  target: number;
}

/** Rounds of weighting: parts by what stays unexplained in them, cells by how far they stand from the usual. */
const rounds = 5;
/** The unexplained share that weighting no longer looks under: −90 dB. */
const leastUnexplained = 1e-9;
/** A cell left with more than this many times the usual share counts less in proportion. *Common practice* (Huber). */
const usualTimes = 2;
/** Keeps an exactly dependent set of columns solvable; a column with an inflation near its inverse stands for nothing. */
const ridge = 1e-10;

/**
 * Least squares of one column on others over some cells and parts of a Gram. Parts are weighted by the inverse of what
 * stays unexplained in them, so that the bass, which holds most of a song's power, doesn't decide alone; cells where
 * something else happened are given less weight.
 *
 * @returns `null` where the target or every column is silent.
 * @source feasible generalised least squares; errors by clusters (sandwich estimator), *common practice*
 */
export function regressOnStems(
  gram: StemGram,
  cells: readonly number[],
  parts: readonly number[],
  columns: readonly number[],
  target: number,
): StemFit | null {
  const all = [...columns, target];
  const count = columns.length;
  const matrices = cells.map((cell) => parts.map((part) => matrixOf(gram, cell, part, all)));
  const targets = parts.map((_, part) => matrices.reduce((sum, cell) => sum + last(cell[part]!), 0));
  if (count === 0 || cells.length === 0 || !targets.some((power) => power > 0)) return null;
  const loudest = Math.max(...targets);

  let partWeights = targets.map((power) => (power > loudest * leastUnexplained ? 1 / power : 0));
  let cellWeights = cells.map(() => 1);
  let gains: Float64Array = new Float64Array(count);
  let inverse: Float64Array[] = [];
  let weighted: Float64Array[] = [];
  for (let round = 0; round < rounds; round++) {
    weighted = matrices.map((cell) => weightedSum(cell, partWeights));
    const normal = weightedSum(weighted, cellWeights);
    const solved = solve(normal, count);
    if (!solved) return null;
    ({ gains, inverse } = solved);
    const perPart = parts.map((_, part) =>
      weightedSum(
        matrices.map((cell) => cell[part]!),
        cellWeights,
      ),
    );
    partWeights = perPart.map((matrix) => {
      const power = last(matrix);
      if (power <= loudest * leastUnexplained * 1e-3) return 0;
      return 1 / (Math.max(0, unexplainedIn(matrix, gains)) + leastUnexplained * power);
    });
    const shares = weighted.map((matrix) => {
      const power = last(matrix);
      return power > 0 ? Math.max(leastUnexplained, unexplainedIn(matrix, gains) / power) : leastUnexplained;
    });
    const usual = [...shares].sort((one, other) => one - other)[Math.floor(shares.length / 2)]!;
    cellWeights = shares.map((share) => Math.min(1, (usualTimes * usual) / share));
  }
  const size = count + 1;
  const influences = weighted.map((matrix, cell) => {
    const pull = new Float64Array(count);
    for (let row = 0; row < count; row++) {
      let sum = matrix[row * size + count]!;
      for (let column = 0; column < count; column++) sum -= matrix[row * size + column]! * gains[column]!;
      pull[row] = cellWeights[cell]! * sum;
    }
    return new Float64Array(count).map((_, row) =>
      inverse[row]!.reduce((sum, value, column) => sum + value * pull[column]!, 0),
    );
  });
  const normal = weightedSum(weighted, cellWeights);
  const plain = matrices.flat();
  const total = weightedSum(
    plain,
    plain.map(() => 1),
  );
  return {
    gains,
    influences,
    inflation: new Float64Array(count).map((_, row) => inverse[row]![row]! * normal[row * size + row]!),
    unexplained: Math.max(0, unexplainedIn(total, gains)),
    target: last(total),
  };
}

/** The square, unweighted, of the target less the columns at given gains, over parts and cells; and the target's. */
export function residualOfGains(
  gram: StemGram,
  cells: readonly number[],
  parts: readonly number[],
  columns: readonly number[],
  target: number,
  gains: Float64Array,
): { residual: number; target: number } {
  const all = [...columns, target];
  const matrices = cells.flatMap((cell) => parts.map((part) => matrixOf(gram, cell, part, all)));
  const total = weightedSum(
    matrices,
    matrices.map(() => 1),
  );
  return { residual: Math.max(0, unexplainedIn(total, gains)), target: last(total) };
}

export const allParts: readonly number[] = Array.from({ length: stemParts }, (_, part) => part);

function matrixOf(gram: StemGram, cell: number, part: number, columns: readonly number[]): Float64Array {
  const matrix = new Float64Array(columns.length ** 2);
  for (const [row, one] of columns.entries())
    for (const [column, other] of columns.entries())
      matrix[row * columns.length + column] = gram.product(cell, part, one, other);
  return matrix;
}

const last = (matrix: Float64Array) => matrix[matrix.length - 1]!;

function weightedSum(matrices: readonly Float64Array[], weights: readonly number[]): Float64Array {
  const sum = new Float64Array(matrices[0]!.length);
  for (const [index, matrix] of matrices.entries()) {
    const weight = weights[index]!;
    if (weight !== 0) for (let at = 0; at < sum.length; at++) sum[at] = sum[at]! + weight * matrix[at]!;
  }
  return sum;
}

/** (1, −gains) times the matrix times the same: the square of the target less its model. */
function unexplainedIn(matrix: Float64Array, gains: Float64Array): number {
  const size = gains.length + 1;
  let sum = 0;
  for (let row = 0; row < size; row++) {
    const one = row < gains.length ? -gains[row]! : 1;
    for (let column = 0; column < size; column++) {
      const other = column < gains.length ? -gains[column]! : 1;
      sum += one * other * matrix[row * size + column]!;
    }
  }
  return sum;
}

/**
 * Gains, and the inverse of the columns' own products, by Cholesky's decomposition of their correlations.
 *
 * @param normal Products of columns and, last, the target: a square of one more than `count`.
 * @returns `null` where a column is silent.
 */
export function solve(
  normal: Float64Array,
  count: number,
): { gains: Float64Array; inverse: Float64Array[] } | null {
  const size = count + 1;
  const scale = Array.from({ length: count }, (_, row) => Math.sqrt(normal[row * size + row]!));
  if (scale.some((value) => !(value > 0))) return null;
  const lower = Array.from({ length: count }, () => new Float64Array(count));
  for (let row = 0; row < count; row++) {
    for (let column = 0; column <= row; column++) {
      let sum = normal[row * size + column]! / (scale[row]! * scale[column]!) + (row === column ? ridge : 0);
      for (let at = 0; at < column; at++) sum -= lower[row]![at]! * lower[column]![at]!;
      lower[row]![column] =
        row === column ? Math.sqrt(Math.max(sum, ridge * 1e-2)) : sum / lower[column]![column]!;
    }
  }
  const solveFor = (right: Float64Array) => {
    const result = right.slice();
    for (let row = 0; row < count; row++) {
      for (let at = 0; at < row; at++) result[row] = result[row]! - lower[row]![at]! * result[at]!;
      result[row] = result[row]! / lower[row]![row]!;
    }
    for (let row = count - 1; row >= 0; row--) {
      for (let at = row + 1; at < count; at++) result[row] = result[row]! - lower[at]![row]! * result[at]!;
      result[row] = result[row]! / lower[row]![row]!;
    }
    return result;
  };
  const right = new Float64Array(count).map((_, row) => normal[row * size + count]! / scale[row]!);
  const gains = solveFor(right).map((value, row) => value / scale[row]!);
  const inverse = Array.from({ length: count }, (_, row) => {
    const unit = new Float64Array(count);
    unit[row] = 1;
    return solveFor(unit).map((value, column) => value / (scale[row]! * scale[column]!));
  });
  return { gains, inverse };
}
