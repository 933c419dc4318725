/**
 * The most energy in any so many consecutive steps, found as they come: the maximum of momentary (400 ms) or short-term
 * (3 s) loudness. Neither is gated.
 *
 * @source EBU Tech 3341 v4, 2.2; a step of 20 ms or less keeps the maximum true
 */
export class LoudestWindow {
  /** Zero where no window was filled, or all were silent. */
  highest = 0;
  readonly #steps: Float64Array;
  #count = 0;
  #sum = 0;

  constructor(steps: number) {
    this.#steps = new Float64Array(steps);
  }

  /** @param energy weighted sum of squares within the next step */
  push(energy: number): void {
    const place = this.#count % this.#steps.length;
    this.#sum += energy - this.#steps[place]!;
    this.#steps[place] = energy;
    this.#count++;
    if (this.#count < this.#steps.length) return;
    // Summed anew each time round, so that rounding doesn't gather.
    if (place === 0) this.#sum = this.#steps.reduce((sum, step) => sum + step, 0);
    if (this.#sum > this.highest) this.highest = this.#sum;
  }
}
