/**
 * Filters a channel and keeps every so-manieth value.
 *
 * @param from address of the frame under the first tap of the first value
 * @param step frames from one value to the next
 * @param taps f32, 16 at a time
 * @param sixteens how many times 16 taps there are
 */
export function reduce(from: usize, step: i32, taps: usize, sixteens: i32, target: usize, count: i32): void {
  for (let value = 0; value < count; value++) {
    store<f32>(target, product(from, taps, sixteens));
    from += (<usize>step) << 2;
    target += 4;
  }
}

/** The sum of frames times taps, 16 at a time. */
export function product(at: usize, taps: usize, sixteens: i32): f32 {
  let one = f32x4.splat(0);
  let two = f32x4.splat(0);
  let three = f32x4.splat(0);
  let four = f32x4.splat(0);
  for (let sixteen = 0; sixteen < sixteens; sixteen++) {
    one = f32x4.add(one, f32x4.mul(v128.load(at), v128.load(taps)));
    two = f32x4.add(two, f32x4.mul(v128.load(at, 16), v128.load(taps, 16)));
    three = f32x4.add(three, f32x4.mul(v128.load(at, 32), v128.load(taps, 32)));
    four = f32x4.add(four, f32x4.mul(v128.load(at, 48), v128.load(taps, 48)));
    at += 64;
    taps += 64;
  }
  const sum = f32x4.add(f32x4.add(one, two), f32x4.add(three, four));
  return (
    f32x4.extract_lane(sum, 0) +
    f32x4.extract_lane(sum, 1) +
    (f32x4.extract_lane(sum, 2) + f32x4.extract_lane(sum, 3))
  );
}
