/// <reference path="./pffft-wasm.d.ts" />
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import loadPffft from '@echogarden/pffft-wasm/simd';

/** The kernels' functions, as `kernels/` describes them; addresses are bytes. */
interface Kernels {
  weigh(
    left: number,
    right: number,
    ends: number,
    pieces: number,
    filter: number,
    state: number,
    sums: number,
    energies: number,
  ): void;
  findPeak(
    channel: number,
    from: number,
    end: number,
    firstWhole: number,
    endWhole: number,
    totalCurvature: number,
    tables: number,
    scratch: number,
    found: number,
  ): void;
  reduce(from: number, step: number, taps: number, sixteens: number, target: number, count: number): void;
  resample(
    from: number,
    table: number,
    sixteens: number,
    phases: number,
    place: number,
    step: number,
    target: number,
    count: number,
  ): void;
  interleave(left: number, right: number, frames: number, target: number): void;
  interleaveFaded(left: number, right: number, weights: number, frames: number, target: number): void;
  sumBands(
    spectrum: number,
    frames: number,
    bands: number,
    count: number,
    scale: number,
    stride: number,
    energies: number,
  ): void;
}

const inSource = import.meta.url.endsWith('.ts');

/**
 * The transform's library brings a memory with an allocator; the kernels work in the same memory, so that nothing is
 * copied from one to the other. Loaded once a thread.
 */
async function load() {
  let memory: WebAssembly.Memory | null = null;
  const fft = await loadPffft({
    instantiateWasm(imports, receive) {
      const path = createRequire(import.meta.url)
        .resolve('@echogarden/pffft-wasm/simd')
        .replace(/\.js$/, '.wasm');
      const instance = new WebAssembly.Instance(new WebAssembly.Module(readFileSync(path)), imports);
      memory = Object.values(instance.exports).find((each) => each instanceof WebAssembly.Memory) ?? null;
      receive(instance);
      return instance.exports;
    },
  });
  if (memory === null) throw new Error('The transform has no memory of its own.');
  const built = new URL(
    inSource ? '../../dist/server/measurement/kernels.wasm' : './kernels.wasm',
    import.meta.url,
  );
  const module = new WebAssembly.Module(readFileSync(built));
  const { exports } = new WebAssembly.Instance(module, { env: { memory } });
  return { fft, memory: memory as WebAssembly.Memory, kernels: exports as unknown as Kernels };
}

const loaded = await load();

export const { kernels } = loaded;

/** A run of numbers in the kernels' memory, zero at first. */
export class Area<Values extends Float32Array | Float64Array | Int32Array> {
  readonly address: number;
  readonly length: number;
  readonly #view: new (
    buffer: ArrayBuffer,
    address: number,
    length: number,
  ) => Values;
  #values: Values;

  constructor(
    address: number,
    length: number,
    view: new (buffer: ArrayBuffer, address: number, length: number) => Values,
  ) {
    this.address = address;
    this.length = length;
    this.#view = view;
    this.#values = this.values;
  }

  /** Not to be held across an allocation: memory that grows leaves older views empty. */
  get values(): Values {
    const { buffer } = loaded.memory;
    if (this.#values?.buffer !== buffer) this.#values = new this.#view(buffer, this.address, this.length);
    return this.#values;
  }
}

/** A complex transform of fixed length; real and imaginary parts take turns. Neither direction is normalised. */
export interface Transform {
  input: Area<Float32Array>;
  output: Area<Float32Array>;
  /** Input to output, forward. */
  run(): void;
  /** Input to output, back. */
  runBack(): void;
}

/** What one user of the kernels holds of their memory, given back all at once. */
export class KernelMemory {
  readonly #addresses: number[] = [];
  readonly #setups: number[] = [];

  #allocate(bytes: number): number {
    const address = loaded.fft._pffft_aligned_malloc(bytes);
    if (address === 0) throw new RangeError('There is no memory left to measure in.');
    this.#addresses.push(address);
    new Uint8Array(loaded.memory.buffer, address, bytes).fill(0);
    return address;
  }

  floats(length: number): Area<Float32Array> {
    return new Area(this.#allocate(4 * length), length, Float32Array);
  }

  doubles(length: number): Area<Float64Array> {
    return new Area(this.#allocate(8 * length), length, Float64Array);
  }

  integers(length: number): Area<Int32Array> {
    return new Area(this.#allocate(4 * length), length, Int32Array);
  }

  /** A filter as `reduce` reads it: so many times sixteen taps, zeros behind the last. */
  taps(values: ArrayLike<number>): { taps: Area<Float32Array>; sixteens: number } {
    const sixteens = Math.ceil(values.length / 16);
    const taps = this.floats(16 * sixteens);
    taps.values.set(values);
    return { taps, sixteens };
  }

  /** A transform of `frames` complex values, a power of two from 16 on. */
  transform(frames: number): Transform {
    const setup = loaded.fft._pffft_new_setup(frames, 1);
    if (setup === 0) throw new RangeError(`There is no transform of ${frames} values.`);
    this.#setups.push(setup);
    const [input, output, work] = [this.floats(2 * frames), this.floats(2 * frames), this.floats(2 * frames)];
    const run = (direction: 0 | 1) =>
      loaded.fft._pffft_transform_ordered(setup, input.address, output.address, work.address, direction);
    return { input, output, run: () => run(0), runBack: () => run(1) };
  }

  /** Gives everything back; what was taken must not be used any more. */
  free(): void {
    for (const setup of this.#setups.splice(0)) loaded.fft._pffft_destroy_setup(setup);
    for (const address of this.#addresses.splice(0)) loaded.fft._pffft_aligned_free(address);
  }
}
