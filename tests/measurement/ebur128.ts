import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';

/** The package's exports, as its compiler lays them out: pointers and lengths of float arrays. */
interface Exports {
  memory: { buffer: ArrayBuffer };
  __wbindgen_malloc(bytes: number): number;
  ebur128_integrated_stereo(
    rate: number,
    left: number,
    frames: number,
    right: number,
    sameFrames: number,
  ): number;
  ebur128_true_peak_stereo(
    rate: number,
    left: number,
    frames: number,
    right: number,
    sameFrames: number,
  ): number;
}

declare const WebAssembly: {
  instantiate(bytes: Uint8Array, imports: object): Promise<{ instance: { exports: Exports } }>;
  Module: { imports(module: object): { module: string; name: string }[] };
  compile(bytes: Uint8Array): Promise<object>;
};

/**
 * `ebur128-wasm`, an outside meter: libebur128's algorithm in Rust. A plain import fails under Node 20, so its module is
 * loaded by hand.
 */
export async function loadEbur128() {
  const folder = createRequire(import.meta.url).resolve('ebur128-wasm/package.json');
  const bytes = await readFile(folder.replace('package.json', 'ebur128_wasm_bg.wasm'));
  const imports: Record<string, Record<string, () => never>> = {};
  for (const { module, name } of WebAssembly.Module.imports(await WebAssembly.compile(bytes))) {
    imports[module] = { ...imports[module] };
    imports[module][name] = () => {
      throw new Error(`ebur128-wasm failed in ${name}`);
    };
  }
  const { exports } = (await WebAssembly.instantiate(bytes, imports)).instance;

  const stereo = (call: 'ebur128_integrated_stereo' | 'ebur128_true_peak_stereo') => {
    return (sampleRateHz: number, left: Float32Array, right: Float32Array): number => {
      const [first, second] = [left, right].map((channel) => exports.__wbindgen_malloc(channel.byteLength));
      // Memory may have moved while it grew: the view is taken after both.
      const memory = new Float32Array(exports.memory.buffer);
      memory.set(left, first! / 4);
      memory.set(right, second! / 4);
      return exports[call](sampleRateHz, first!, left.length, second!, right.length);
    };
  };
  return {
    integratedLoudnessLufs: stereo('ebur128_integrated_stereo'),
    /** In dBTP. */
    truePeakDbtp: stereo('ebur128_true_peak_stereo'),
  };
}
