declare module '@echogarden/pffft-wasm/simd' {
  interface Pffft {
    _pffft_aligned_malloc(bytes: number): number;
    _pffft_aligned_free(address: number): void;
    /** `kind` 0 is real, 1 complex; the size is in real or in complex values. */
    _pffft_new_setup(size: number, kind: 0 | 1): number;
    _pffft_destroy_setup(setup: number): void;
    /** `direction` 0 is forward. */
    _pffft_transform_ordered(
      setup: number,
      input: number,
      output: number,
      work: number,
      direction: 0 | 1,
    ): void;
  }
  /** `instantiateWasm` takes over the making of the instance, and hands it on. */
  export default function load(options: {
    instantiateWasm(
      imports: WebAssembly.Imports,
      receive: (instance: WebAssembly.Instance) => void,
    ): WebAssembly.Exports;
  }): Promise<Pffft>;
}
