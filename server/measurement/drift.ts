import { whitenedCross } from './alignment.ts';
import { KernelMemory } from './kernel-memory.ts';

/**
 * How many places of B are looked for in A, and how long each is. Within one, B may slide by half a millisecond before
 * its place blurs: long places are surer and find some sixty millionths, short ones more.
 */
const placeCount = 16;
const placeSeconds = [4, 1] as const;
/** How far a place may have slid from where most of the song lies. */
const reachSeconds = 0.3;
/** A place counts where its best lag stands out from all others by so much. */
const leastProminence = 1.5;
/** Places on one line agree with it to half a value of the search copy; so many of them must. */
const agreementValues = 0.5;
const agreementShare = 0.75;
/** Less sliding than this over the whole song, in values of the search copy, is none. */
const leastSlideValues = 0.5;

/**
 * How much slower B runs than A: frames of B for each frame of A. Two machines whose clocks differ by some millionths, or
 * a tape in between, slide apart by whole frames over a song.
 *
 * @param lowA Search copies of the two, as `searchCopy` makes them.
 * @param lowRateHz Their rate.
 * @param nearLag Where A lies in B in the main, in values of the search copies.
 * @returns 1 where they run alike, where the form was edited, and where nothing can be told.
 */
export function speedRatio(
  lowA: Float32Array,
  lowB: Float32Array,
  lowRateHz: number,
  nearLag: number,
): number {
  for (const seconds of placeSeconds) {
    const ratio = speedRatioByPlaces(lowA, lowB, lowRateHz, nearLag, Math.round(seconds * lowRateHz));
    if (ratio !== null) return ratio;
  }
  return 1;
}

/** @returns 1 where the places stand still, `null` where they don't tell. */
function speedRatioByPlaces(
  lowA: Float32Array,
  lowB: Float32Array,
  lowRateHz: number,
  nearLag: number,
  length: number,
): number | null {
  const reach = Math.round(reachSeconds * lowRateHz);
  const first = Math.max(0, nearLag);
  const last = Math.min(lowB.length, lowA.length + nearLag) - length;
  if (last - first < 4 * length) return null;
  const memory = new KernelMemory();
  try {
    const correlate = createPlaceFinder(memory, length, reach);
    const placeIn = (index: number): Place | null => {
      const [from, to] = [index, index + 1].map((slot) =>
        Math.round(first + ((last - first) * slot) / placeCount),
      ) as [number, number];
      const at = loudestPlace(lowB, from, to, length);
      const lag = correlate(lowA, lowB, at, nearLag);
      return lag === null ? null : { at, lag };
    };
    const ends = [0, placeCount / 2, placeCount - 1].map(placeIn);
    const lags = ends.map((place) => place?.lag ?? Number.NaN);
    if (Math.max(...lags) - Math.min(...lags) < leastSlideValues / 2) return 1;
    const between = [...Array(placeCount).keys()].filter(
      (index) => index % (placeCount / 2) !== 0 && index !== placeCount - 1,
    );
    const places = [...ends, ...between.map(placeIn)].filter((place) => place !== null);
    return ratioOf(places, last - first);
  } finally {
    memory.free();
  }
}

/** A place of B, and how much later it is than in A, in values of the search copies. */
interface Place {
  at: number;
  lag: number;
}

/** Where so many values hold the most sound: a sparse song is silent at many places. */
function loudestPlace(copy: Float32Array, from: number, to: number, length: number): number {
  const step = Math.max(1, Math.floor(length / 8));
  let best = { at: from, power: -1 };
  for (let at = from; at <= to; at += step) {
    let power = 0;
    for (let index = at; index < at + length; index += 4) power += copy[index]! * copy[index]!;
    if (power > best.power) best = { at, power };
  }
  return best.at;
}

/** The line that most places lie on (Theil and Sen: the median of all slopes), if they lie on one that rises or falls. */
function ratioOf(places: readonly Place[], span: number): number | null {
  if (places.length < placeCount / 2) return null;
  const slopes: number[] = [];
  for (const [index, one] of places.entries())
    for (const other of places.slice(index + 1)) slopes.push((other.lag - one.lag) / (other.at - one.at));
  const slope = median(slopes);
  if (Math.abs(slope) * span < leastSlideValues) return 1;
  const start = median(places.map(({ at, lag }) => lag - slope * at));
  const agreeing = places.filter(({ at, lag }) => Math.abs(lag - slope * at - start) < agreementValues);
  if (agreeing.length < agreementShare * places.length) return null;
  // B's frame n is A's frame n − lag(n): so many frames of B go with one of A.
  return 1 / (1 - slope);
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((one, other) => one - other);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** Finds where a place of B lies in A, to a fraction of a value, by the whitened cross-correlation. */
function createPlaceFinder(memory: KernelMemory, length: number, reach: number) {
  const size = 2 ** Math.ceil(Math.log2(length + 2 * reach));
  const transform = memory.transform(size);
  return (lowA: Float32Array, lowB: Float32Array, at: number, nearLag: number): number | null => {
    const input = transform.input.values.fill(0);
    const startA = at - nearLag - reach;
    for (let index = 0; index < length + 2 * reach; index++) input[2 * index] = lowA[startA + index] ?? 0;
    for (let index = 0; index < length; index++) input[2 * index + 1] = lowB[at + index] ?? 0;
    transform.run();
    input.fill(0);
    for (let bin = 1; bin < size / 2; bin++) whitenedCross(transform.output.values, input, bin, size);
    transform.runBack();
    // A's stretch begins `reach` earlier: where B's place lies `place` later in it, B is so much early against it.
    const correlations = transform.output.values;
    const height = (place: number) => Math.abs(correlations[2 * (place === 0 ? 0 : size - place)]!);
    let best = 0;
    for (let place = 1; place <= 2 * reach; place++) if (height(place) > height(best)) best = place;
    if (best === 0 || best === 2 * reach) return null;
    let second = 0;
    for (let place = 0; place <= 2 * reach; place++)
      if (Math.abs(place - best) > 8) second = Math.max(second, height(place));
    if (height(best) < leastProminence * second) return null;
    // The peak of a whitened correlation is sin(πx) / πx: its two highest values stand as their distances from it.
    const [before, here, after] = [height(best - 1), height(best), height(best + 1)];
    const fraction = after > before ? after / (here + after) : -before / (here + before);
    return nearLag + reach - (best + fraction);
  };
}
