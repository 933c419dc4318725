import type { Features } from './classifier.ts';

/** A question about one feature, with the answers below it: at most the bound, or above it; or a value to add. */
export type Tree = number | { feature: string; bound: number; below: Tree; above: Tree };

/** Trees whose values add up to the log-odds of a yes. */
export interface BoostedTrees {
  trees: Tree[];
}

export interface YesNoExample {
  features: Features;
  yes: boolean;
}

const treeCount = 200;
const depth = 4;
/** What each tree may add, so that many small steps are taken. */
const rate = 0.05;
/** What each tree sees of the examples, another share each time. */
const shareSeen = 0.7;
/** Pulls a leaf's value towards nothing; a leaf of less weight than `leastWeight` or less gain is not split off. */
const pull = 3;
const leastWeight = 3;
const leastGain = 0.5;

function valueIn(tree: Tree, features: Features): number {
  let at = tree;
  while (typeof at !== 'number') at = (features.get(at.feature) ?? 0) <= at.bound ? at.below : at.above;
  return at;
}

/** How likely the answer is yes; one half where no trees were grown. */
export function chanceOfYes({ trees }: BoostedTrees, features: Features): number {
  let sum = 0;
  for (const tree of trees) sum += valueIn(tree, features);
  return 1 / (1 + Math.exp(-sum));
}

interface Slope {
  features: Features;
  /** First and second derivative of the loss. */
  first: number;
  second: number;
}

const sumOf = (slopes: readonly Slope[], part: 'first' | 'second') =>
  slopes.reduce((sum, slope) => sum + slope[part], 0);

/** So that a file of trees is short. */
const rounded = (value: number) => (Math.round(value * 10_000) + 0) / 10_000;

function grow(slopes: readonly Slope[], names: readonly string[], levels: number): Tree {
  const first = sumOf(slopes, 'first');
  const second = sumOf(slopes, 'second');
  const leaf = rounded((-first / (second + pull)) * rate);
  if (levels === 0 || second < 2 * leastWeight) return leaf;
  let best: { gain: number; feature: string; bound: number } | null = null;
  for (const feature of names) {
    const sorted = slopes
      .map((slope) => ({ value: slope.features.get(feature) ?? 0, slope }))
      .sort((a, b) => a.value - b.value);
    let firstBelow = 0;
    let secondBelow = 0;
    for (let index = 0; index + 1 < sorted.length; index++) {
      const { value, slope } = sorted[index]!;
      firstBelow += slope.first;
      secondBelow += slope.second;
      const next = sorted[index + 1]!.value;
      if (value === next || secondBelow < leastWeight || second - secondBelow < leastWeight) continue;
      const gain =
        firstBelow ** 2 / (secondBelow + pull) +
        (first - firstBelow) ** 2 / (second - secondBelow + pull) -
        first ** 2 / (second + pull);
      if (gain > (best?.gain ?? leastGain)) best = { gain, feature, bound: rounded((value + next) / 2) };
    }
  }
  if (!best) return leaf;
  const { feature, bound } = best;
  const isBelow = (slope: Slope) => (slope.features.get(feature) ?? 0) <= bound;
  return {
    feature,
    bound,
    below: grow(slopes.filter(isBelow), names, levels - 1),
    above: grow(
      slopes.filter((slope) => !isBelow(slope)),
      names,
      levels - 1,
    ),
  };
}

/** Numbers from 0 to 1 that look like chance and are the same every time (Marsaglia, *Xorshift RNGs*, 2003). */
function chanceFrom(seed: number): () => number {
  let state = seed;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 2 ** 32;
  };
}

/**
 * Grows trees one after the other, each on what the ones before got wrong (Friedman, *Greedy Function Approximation*, 2001),
 * by first and second derivatives (Chen and Guestrin, *XGBoost*, 2016). The same examples give the same trees.
 */
export function growTrees(examples: readonly YesNoExample[]): BoostedTrees {
  const names = [...new Set(examples.flatMap(({ features }) => [...features.keys()]))].sort();
  const odds = new Float64Array(examples.length);
  const chance = chanceFrom(1);
  const trees: Tree[] = [];
  for (let count = 0; count < treeCount && examples.length > 0; count++) {
    const seen = examples.flatMap(({ features, yes }, index): Slope[] => {
      const likely = 1 / (1 + Math.exp(-odds[index]!));
      return chance() < shareSeen
        ? [{ features, first: likely - (yes ? 1 : 0), second: likely * (1 - likely) }]
        : [];
    });
    const tree = grow(seen, names, depth);
    trees.push(tree);
    for (const [index, { features }] of examples.entries()) odds[index]! += valueIn(tree, features);
  }
  return { trees };
}
