/** The periodic Hann window of a length: what overlaps by half sums to one. */
export function hannWindow(frames: number): Float64Array {
  return new Float64Array(frames).map((_, frame) => 0.5 - 0.5 * Math.cos((2 * Math.PI * frame) / frames));
}
