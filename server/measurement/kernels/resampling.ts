import { product } from './reduction';

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
