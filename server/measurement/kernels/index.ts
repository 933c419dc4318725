// Compiled to WebAssembly by `npm run build:kernels`. Addresses are bytes in the memory of `kernel-memory.ts`.
export { findPeak } from './peak';
export { reduce } from './reduction';
export { resample } from './resampling';
export { interleave, interleaveFaded, sumBands } from './spectrum';
export { weigh } from './weighting';
