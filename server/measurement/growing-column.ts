/** Numbers that come one by one, in one array that grows by half when it is full. */
export class GrowingColumn {
  #values: Float32Array | Float64Array;
  #length = 0;

  /** @param kind single precision where the numbers are only drawn */
  constructor(kind: typeof Float32Array | typeof Float64Array = Float64Array) {
    this.#values = new kind(1024);
  }

  get length(): number {
    return this.#length;
  }

  /** What has come so far; not to be held across a `push`. */
  get values(): Float32Array | Float64Array {
    return this.#values.subarray(0, this.#length);
  }

  push(value: number): void {
    if (this.#length === this.#values.length) {
      const Kind = this.#values instanceof Float32Array ? Float32Array : Float64Array;
      const longer = new Kind(this.#length + (this.#length >> 1));
      longer.set(this.#values);
      this.#values = longer;
    }
    this.#values[this.#length++] = value;
  }

  /** Adds to the value at a place, with zeros before it where nothing has come yet. */
  addAt(place: number, term: number): void {
    while (this.#length <= place) this.push(0);
    this.#values[place]! += term;
  }
}
