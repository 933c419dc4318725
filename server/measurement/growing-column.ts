/** Numbers that come one by one, in one array that doubles when it is full. */
export class GrowingColumn {
  #values = new Float64Array(1024);
  #length = 0;

  get length(): number {
    return this.#length;
  }

  /** What has come so far; not to be held across a `push`. */
  get values(): Float64Array {
    return this.#values.subarray(0, this.#length);
  }

  push(value: number): void {
    if (this.#length === this.#values.length) {
      const longer = new Float64Array(2 * this.#length);
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
