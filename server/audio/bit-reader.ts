/** The bytes end before what was to be read from them. */
export class EndOfBytes extends Error {}

/** Bits, most significant first, of a part of a byte array. Reading past its end throws `EndOfBytes`. */
export class BitReader {
  readonly #view: DataView;
  readonly #endBit: number;
  /** The next bit, counted from the start of the array. */
  bit: number;

  /**
   * @param bytes holds at least eight bytes of any value behind `endByte`, so that words can be read without looking.
   */
  constructor(bytes: Uint8Array, startByte: number, endByte: number) {
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.bit = startByte * 8;
    this.#endBit = endByte * 8;
  }

  /** The next `count` bits, 0 to 24, as an unsigned number. */
  unsigned(count: number): number {
    const from = this.bit;
    this.#advance(count);
    return count === 0 ? 0 : (this.#view.getUint32(from >>> 3) << (from & 7)) >>> (32 - count);
  }

  /** The next `count` bits, 0 to 48, as a signed number in two's complement. */
  signed(count: number): number {
    if (count > 24) return this.signed(count - 24) * 2 ** 24 + this.unsigned(24);
    const from = this.bit;
    this.#advance(count);
    return count === 0 ? 0 : (this.#view.getInt32(from >>> 3) << (from & 7)) >> (32 - count);
  }

  /** The zeros up to the next one, which is passed over. */
  unary(): number {
    let zeros = 0;
    for (;;) {
      const found = Math.clz32(this.#view.getUint32(this.bit >>> 3) << (this.bit & 7));
      if (found < 25) {
        this.#advance(found + 1);
        return zeros + found;
      }
      this.#advance(24);
      zeros += 24;
    }
  }

  /**
   * Fills `target` from `first` to `last` with Rice codes: the quotient in unary, then `parameter` bits, folded so that
   * 0, 1, 2, 3 stand for 0, −1, 1, −2. The one loop that a whole song goes through, hence by hand.
   */
  rice(target: Float64Array, first: number, last: number, parameter: number): void {
    const view = this.#view;
    const endBit = this.#endBit;
    const longestInWord = 24 - parameter;
    const drop = 31 - parameter;
    let bit = this.bit;
    for (let index = first; index < last; index++) {
      if (bit >= endBit) throw new EndOfBytes();
      const word = view.getUint32(bit >>> 3) << (bit & 7);
      const zeros = Math.clz32(word);
      if (zeros <= longestInWord) {
        // The one that ends the quotient is shifted out; the parameter's bits are what remains on top.
        const folded = (zeros << parameter) | (((word << zeros) & 0x7fffffff) >>> drop);
        target[index] = (folded >>> 1) ^ -(folded & 1);
        bit += zeros + 1 + parameter;
      } else {
        this.bit = bit;
        const folded = this.unary() * 2 ** parameter + this.#long(parameter);
        target[index] = folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
        bit = this.bit;
      }
    }
    if (bit > endBit) throw new EndOfBytes();
    this.bit = bit;
  }

  /** Goes on to the next whole byte; its index. */
  align(): number {
    this.bit = (this.bit + 7) & ~7;
    return this.bit >>> 3;
  }

  #long(count: number): number {
    return count > 24 ? this.unsigned(count - 24) * 2 ** 24 + this.unsigned(24) : this.unsigned(count);
  }

  #advance(count: number): void {
    this.bit += count;
    if (this.bit > this.#endBit) throw new EndOfBytes();
  }
}
