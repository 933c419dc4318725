/**
 * A channel at other places in time: each value is a filter's, whose taps belong to the phase that its place falls on,
 * or to the two phases that it falls between, in their proportion.
 *
 * @param from address of the frame under the first tap at place 0
 * @param table f32, one row of taps a phase and one row more
 * @param sixteens how many times 16 taps a row has
 * @param phases from one frame to the next
 * @param place of the first value, in phases
 * @param step phases from one value to the next
 */
export function resample(
  from: usize,
  table: usize,
  sixteens: i32,
  phases: i32,
  place: f64,
  step: f64,
  target: usize,
  count: i32,
): void {
  const rowBytes = (<usize>sixteens) << 6;
  for (let value = 0; value < count; value++) {
    const exact = place + <f64>value * step;
    const wholePhase = Math.floor(exact);
    const within = <f32>(exact - wholePhase);
    const frame = <i32>(wholePhase / <f64>phases);
    const phase = <i32>wholePhase - frame * phases;
    const at = from + ((<usize>frame) << 2);
    const row = table + <usize>phase * rowBytes;
    const here = product(at, row, sixteens);
    store<f32>(target, within < 1e-6 ? here : here + within * (product(at, row + rowBytes, sixteens) - here));
    target += 4;
  }
}

function product(at: usize, taps: usize, sixteens: i32): f32 {
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
