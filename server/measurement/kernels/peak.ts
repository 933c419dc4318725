/** Eight vectors of four frames make the stretch of 32 frames whose bounds are kept together, and the 32 taps too. */
const vectors: i32 = 8;
const phases: i32 = 15;

/**
 * For each of `stretches` stretches from `first` on: the largest absolute sample, that of the next stretch's first frame
 * among them, and the largest second difference.
 *
 * @param peaks one f32 a stretch
 * @param bends one f32 a stretch
 */
export function bounds(first: usize, stretches: i32, peaks: usize, bends: usize): void {
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
 * @param channel address of frame 0
 * @param bend what second differences can add to a frame here, at most
 * @param tables the fifteen phases of 32 f32 each, then 32 f32: what each second difference can add
 * @param found f32 and i32, read and written: the largest value yet, and its frame
 */
export function interpolate(
  channel: usize,
  from: i32,
  end: i32,
  bend: f32,
  tables: usize,
  found: usize,
): void {
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
    // Rounding must not rule a frame out.
    if ((beside + sumOf(reach)) * <f32>1.00001 <= highest) continue;
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
