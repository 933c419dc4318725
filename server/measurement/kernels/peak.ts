/** Eight vectors of four frames make the stretch of 32 frames whose bounds are kept together, and the 32 taps too. */
const vectors: i32 = 8;
const phases: i32 = 15;
const framesInStretch: i32 = 32;
const roundingMargin: f32 = 1.00001;

/**
 * Raises `found` to the largest absolute value of a channel in the frames `from` to `end` and between them and their next
 * frames, where it is larger. The loudest stretch is looked at first, so that most others need no second look.
 *
 * @param channel address of frame 0
 * @param firstWhole the first frame all of whose taps are known, and
 * @param endWhole the one after the last
 * @param totalCurvature sum of the curvature weights
 * @param tables the fifteen phases of 32 f32 each, then 32 f32: what each second difference can add
 * @param scratch room for two f32 a stretch and two stretches more
 * @param found f32 and i32, read and written: the largest value yet, and its frame
 */
export function findPeak(
  channel: usize,
  from: i32,
  end: i32,
  firstWhole: i32,
  endWhole: i32,
  totalCurvature: f32,
  tables: usize,
  scratch: usize,
  found: usize,
): void {
  const stretches = (end - from + framesInStretch - 1) / framesInStretch;
  const peaks = scratch;
  const bends = scratch + ((<usize>(stretches + 2)) << 2);
  bounds(channel + ((<usize>(from - framesInStretch)) << 2), stretches + 2, peaks, bends);
  let loudest = 0;
  for (let stretch = 1; stretch < stretches; stretch++)
    if (load<f32>(peaks + ((<usize>stretch) << 2), 4) > load<f32>(peaks + ((<usize>loudest) << 2), 4))
      loudest = stretch;
  for (let turn = -1; turn < stretches; turn++) {
    if (turn === loudest) continue;
    const stretch = turn < 0 ? loudest : turn;
    const at = (<usize>stretch) << 2;
    const first = from + stretch * framesInStretch;
    const last = min(end, first + framesInStretch);
    const peak = load<f32>(peaks + at, 4);
    if (peak > load<f32>(found)) takeSamples(channel, first, last, found);
    const bend =
      max(max(load<f32>(bends + at), load<f32>(bends + at, 4)), load<f32>(bends + at, 8)) * totalCurvature;
    // Rounding must not rule a stretch out.
    if ((peak + bend) * roundingMargin <= load<f32>(found)) continue;
    interpolate(channel, max(first, firstWhole), min(last, endWhole), bend * roundingMargin, tables, found);
  }
}

function takeSamples(channel: usize, from: i32, end: i32, found: usize): void {
  let highest = load<f32>(found);
  for (let frame = from; frame < end; frame++) {
    const size = abs(load<f32>(channel + ((<usize>frame) << 2)));
    if (size <= highest) continue;
    highest = size;
    store<i32>(found, frame, 4);
  }
  store<f32>(found, highest);
}

/**
 * For each of `stretches` stretches from `first` on: the largest absolute sample, that of the next stretch's first frame
 * among them, and the largest second difference.
 *
 * @param peaks one f32 a stretch
 * @param bends one f32 a stretch
 */
function bounds(first: usize, stretches: i32, peaks: usize, bends: usize): void {
  for (let stretch = 0; stretch < stretches; stretch++) {
    let peak = f32x4.splat(0);
    let bend = f32x4.splat(0);
    for (let vector = 0; vector < vectors; vector++) {
      const here = v128.load(first);
      const beside = f32x4.add(v128.load(first - 4), v128.load(first, 4));
      peak = f32x4.pmax(peak, f32x4.abs(here));
      bend = f32x4.pmax(bend, f32x4.abs(f32x4.sub(beside, f32x4.add(here, here))));
      first += 16;
    }
    store<f32>(peaks, max(largest(peak), abs(load<f32>(first))));
    store<f32>(bends, largest(bend));
    peaks += 4;
    bends += 4;
  }
}

/**
 * Looks between the frames `from` to `end` of a channel for a value over `found`'s.
 *
 * @param bend what second differences can add to a frame here, at most
 */
function interpolate(channel: usize, from: i32, end: i32, bend: f32, tables: usize, found: usize): void {
  let highest = load<f32>(found);
  const curvature = tables + phases * vectors * 16;
  for (let frame = from; frame < end; frame++) {
    const here = channel + ((<usize>frame) << 2);
    const beside = max(abs(load<f32>(here)), abs(load<f32>(here, 4)));
    if (beside + bend <= highest) continue;
    const taps = here - 15 * 4;
    let reach = f32x4.splat(0);
    for (let vector = 0; vector < vectors; vector++) {
      const at = taps + vector * 16;
      const value = v128.load(at);
      const around = f32x4.add(v128.load(at - 4), v128.load(at, 4));
      const twist = f32x4.abs(f32x4.sub(around, f32x4.add(value, value)));
      reach = f32x4.add(reach, f32x4.mul(twist, v128.load(curvature + vector * 16)));
    }
    if ((beside + sumOf(reach)) * roundingMargin <= highest) continue;
    const t0 = v128.load(taps);
    const t1 = v128.load(taps, 16);
    const t2 = v128.load(taps, 32);
    const t3 = v128.load(taps, 48);
    const t4 = v128.load(taps, 64);
    const t5 = v128.load(taps, 80);
    const t6 = v128.load(taps, 96);
    const t7 = v128.load(taps, 112);
    for (let phase = 0; phase < phases; phase++) {
      const weights = tables + phase * vectors * 16;
      const value = f32x4.add(
        f32x4.add(
          f32x4.add(f32x4.mul(t0, v128.load(weights)), f32x4.mul(t7, v128.load(weights, 112))),
          f32x4.add(f32x4.mul(t1, v128.load(weights, 16)), f32x4.mul(t6, v128.load(weights, 96))),
        ),
        f32x4.add(
          f32x4.add(f32x4.mul(t2, v128.load(weights, 32)), f32x4.mul(t5, v128.load(weights, 80))),
          f32x4.add(f32x4.mul(t3, v128.load(weights, 48)), f32x4.mul(t4, v128.load(weights, 64))),
        ),
      );
      const size = abs(sumOf(value));
      if (size > highest) {
        highest = size;
        store<i32>(found, frame, 4);
      }
    }
  }
  store<f32>(found, highest);
}

function largest(values: v128): f32 {
  return max(
    max(f32x4.extract_lane(values, 0), f32x4.extract_lane(values, 1)),
    max(f32x4.extract_lane(values, 2), f32x4.extract_lane(values, 3)),
  );
}

function sumOf(values: v128): f32 {
  return (
    f32x4.extract_lane(values, 0) +
    f32x4.extract_lane(values, 1) +
    (f32x4.extract_lane(values, 2) + f32x4.extract_lane(values, 3))
  );
}
