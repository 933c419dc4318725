/** What is known of a thing to classify: named features with their strength. */
export type Features = Map<string, number>;

/** Log-odds for each class before anything was learned. */
export type Prior = (features: Features) => Float64Array;

/**
 * A multinomial logistic regression over named features, added to a prior. Weights are stored in steps of 1/`stepsPerUnit`,
 * one signed byte a class, so that a model is small and the same to the byte wherever it is trained.
 */
export interface Model {
  classes: string[];
  features: Map<string, number>;
  weights: Int8Array;
}

/**
 * Models as a file holds them. `names` are all their features, sorted, each as the number of characters shared with the one
 * before and the rest. A model's `weights`, in base64, are for each name a count, then for each class that has a weight one
 * byte: the distance from the class before in the upper half, the place in `weightSteps` in the lower.
 */
export interface StoredModels {
  names: string;
  models: Record<string, { classes: string[]; weights: string }>;
}

/** A weight is one of these, in units of 1/`stepsPerUnit`. */
const magnitudes = [2, 4, 7, 11, 17, 26, 40] as const;
const weightSteps = [0, ...magnitudes, ...magnitudes.map((magnitude) => -magnitude)];

function nearestStep(weight: number, least: number): number {
  const size = Math.abs(weight * stepsPerUnit);
  if (Math.abs(weight) < least) return 0;
  let nearest = 0;
  for (let index = 1; index < magnitudes.length; index++)
    if (Math.abs(magnitudes[index]! - size) < Math.abs(magnitudes[nearest]! - size)) nearest = index;
  return Math.sign(weight) * magnitudes[nearest]!;
}

export const stepsPerUnit = 24;

export interface Example {
  features: Features;
  label: number;
  /** How much this example counts. */
  weight: number;
}

export interface TrainingOptions {
  epochs: number;
  learningRate: number;
  /** Pull of every weight towards zero, that is towards the prior. */
  decay: number;
  /** What every weight loses towards zero after each epoch, so that features that say little say nothing. */
  sparsity: number;
  /** Smaller weights are left out: among thousands of features they decide nothing, among a few they do together. */
  leastWeight: number;
  /** A feature is learned when it occurs in so many examples. */
  minimumCount: (feature: string) => number;
}

function softmaxInPlace(scores: Float64Array): Float64Array {
  let highest = -Infinity;
  for (const score of scores) highest = Math.max(highest, score);
  let sum = 0;
  for (let index = 0; index < scores.length; index++)
    sum += scores[index] = Math.exp(scores[index]! - highest);
  for (let index = 0; index < scores.length; index++) scores[index]! /= sum;
  return scores;
}

/** The probability of each class; the prior's own where no feature was learned. */
export function probabilities(model: Model, features: Features, prior: Prior): Float64Array {
  const scores = prior(features);
  const count = model.classes.length;
  for (const [name, value] of features) {
    const row = model.features.get(name);
    if (row === undefined) continue;
    for (let index = 0; index < count; index++)
      scores[index]! += (model.weights[row * count + index]! / stepsPerUnit) * value;
  }
  return softmaxInPlace(scores);
}

/** Order of the examples in an epoch: a fixed stride through them, so that training is the same every time. */
function strideFor(count: number): number {
  const apart = (a: number, b: number): boolean => (b === 0 ? a === 1 : apart(b, a % b));
  let stride = Math.max(1, Math.floor(count * 0.618));
  while (!apart(stride, count)) stride++;
  return stride;
}

/** A class as good as right in an example has nothing to learn from it. */
const settledError = 1e-3;

/** Trains by stochastic gradient with per-weight steps (Duchi, Hazan and Singer, *Adaptive Subgradient Methods*, 2011). */
export function train(
  classes: readonly string[],
  examples: readonly Example[],
  prior: Prior,
  options: TrainingOptions,
): Model {
  const counts = new Map<string, number>();
  for (const { features } of examples)
    for (const name of features.keys()) counts.set(name, (counts.get(name) ?? 0) + 1);
  const names = [...counts]
    .filter(([name, count]) => count >= options.minimumCount(name))
    .map(([name]) => name)
    .sort();
  const rows = new Map(names.map((name, row) => [name, row]));
  const size = classes.length;
  const weights = new Float64Array(names.length * size);
  const squares = new Float64Array(names.length * size).fill(1e-6);
  const prepared = examples.map(({ features, label, weight }) => {
    const known = [...features].filter(([name]) => rows.has(name));
    return {
      at: Int32Array.from(known, ([name]) => rows.get(name)! * size),
      value: Float64Array.from(known, ([, value]) => value),
      prior: prior(features),
      label,
      weight,
    };
  });
  const stride = strideFor(prepared.length);
  const averaged = new Float64Array(weights.length);
  const scores = new Float64Array(size);
  const astrays = new Uint8Array(size);
  const settled = Math.floor(options.epochs / 2);
  const { decay } = options;
  for (let epoch = 0; epoch < options.epochs; epoch++) {
    // Falls to nothing, so that the order of the examples decides little (Bottou, *Stochastic Gradient Descent Tricks*, 2012).
    const left = 1 - epoch / options.epochs;
    const learningRate = options.learningRate * left;
    const sparsity = options.sparsity * left;
    for (let step = 0, turn = epoch; step < prepared.length; step++, turn += stride) {
      const { at, value, prior: before, label, weight } = prepared[turn % prepared.length]!;
      scores.set(before);
      for (let known = 0; known < at.length; known++) {
        const row = at[known]!;
        const strength = value[known]!;
        for (let index = 0; index < size; index++) scores[index]! += weights[row + index]! * strength;
      }
      softmaxInPlace(scores);
      scores[label]! -= 1;
      let astray = 0;
      for (let index = 0; index < size; index++)
        if (Math.abs(scores[index]!) > settledError) astrays[astray++] = index;
      for (let known = 0; known < at.length; known++) {
        const row = at[known]!;
        const strength = weight * value[known]!;
        for (let which = 0; which < astray; which++) {
          const index = astrays[which]!;
          const place = row + index;
          const slope = scores[index]! * strength + decay * weights[place]!;
          const square = squares[place]! + slope * slope;
          squares[place] = square;
          weights[place]! -= (learningRate * slope) / Math.sqrt(square);
        }
      }
    }
    for (let place = 0; place < weights.length; place++) {
      const weight = weights[place]!;
      weights[place] = Math.sign(weight) * Math.max(0, Math.abs(weight) - sparsity);
    }
    if (epoch >= settled)
      for (let place = 0; place < weights.length; place++)
        averaged[place]! += weights[place]! / (options.epochs - settled);
  }
  const steps = new Int8Array(weights.length);
  for (const [place, weight] of averaged.entries()) steps[place] = nearestStep(weight, options.leastWeight);
  return withoutIdleFeatures({ classes: [...classes], features: rows, weights: steps });
}

/** A feature whose weights all round to nothing decides nothing and is left out. */
function withoutIdleFeatures(model: Model): Model {
  const size = model.classes.length;
  const kept = [...model.features].filter(([, row]) =>
    model.weights.subarray(row * size, (row + 1) * size).some((weight) => weight !== 0),
  );
  const weights = new Int8Array(kept.length * size);
  for (const [index, [, row]] of kept.entries())
    weights.set(model.weights.subarray(row * size, (row + 1) * size), index * size);
  return { classes: model.classes, features: new Map(kept.map(([name], index) => [name, index])), weights };
}

const longestShared = 35;

export function storeModels(models: Readonly<Record<string, Model>>): StoredModels {
  const names = [...new Set(Object.values(models).flatMap((model) => [...model.features.keys()]))].sort();
  let previous = '';
  const lines = names.map((name) => {
    let shared = 0;
    while (
      shared < Math.min(name.length, previous.length, longestShared) &&
      name[shared] === previous[shared]
    )
      shared++;
    previous = name;
    return shared.toString(36) + name.slice(shared);
  });
  const stored: StoredModels = { names: lines.join('\n'), models: {} };
  for (const [title, model] of Object.entries(models)) {
    const size = model.classes.length;
    const bytes: number[] = [];
    for (const name of names) {
      const row = model.features.get(name);
      const at = bytes.push(0) - 1;
      if (row === undefined) continue;
      let last = -1;
      for (let index = 0; index < size; index++) {
        const weight = model.weights[row * size + index]!;
        // The distance fits sixteen classes; one that is further off is reached over one without weight.
        if (weight === 0 && index - last < 16) continue;
        bytes.push(((index - last - 1) << 4) | weightSteps.indexOf(weight));
        last = index;
        bytes[at]!++;
      }
    }
    stored.models[title] = { classes: model.classes, weights: Buffer.from(bytes).toString('base64') };
  }
  return stored;
}

export function readModels<Title extends string>(stored: StoredModels): Record<Title, Model> {
  const names: string[] = [];
  let previous = '';
  for (const line of stored.names ? stored.names.split('\n') : []) {
    previous = previous.slice(0, Number.parseInt(line[0]!, 36)) + line.slice(1);
    names.push(previous);
  }
  const read: Record<string, Model> = {};
  for (const [title, { classes, weights }] of Object.entries(stored.models)) {
    const bytes = Buffer.from(weights, 'base64');
    const features = new Map<string, number>();
    const rows: number[] = [];
    let at = 0;
    for (const name of names) {
      const count = bytes[at++]!;
      if (count === 0) continue;
      features.set(name, features.size);
      const start = rows.length;
      for (let index = 0; index < classes.length; index++) rows.push(0);
      let last = -1;
      for (let index = 0; index < count; index++) {
        const byte = bytes[at++]!;
        last += (byte >> 4) + 1;
        rows[start + last] = weightSteps[byte & 15]!;
      }
    }
    read[title] = { classes, features, weights: Int8Array.from(rows) };
  }
  return read as Record<Title, Model>;
}
