/** Lays two channels side by side, as the real and imaginary parts of one signal. `frames` is even. */
export function interleave(left: usize, right: usize, frames: i32, target: usize): void {
  for (let frame = 0; frame < frames; frame += 2) {
    const pair = v128.shuffle<f32>(v128.load64_zero(left), v128.load64_zero(right), 0, 4, 1, 5);
    v128.store(target, pair);
    left += 8;
    right += 8;
    target += 16;
  }
}

/** The same, each frame by its own weight. */
export function interleaveFaded(left: usize, right: usize, weights: usize, frames: i32, target: usize): void {
  for (let frame = 0; frame < frames; frame += 2) {
    const pair = v128.shuffle<f32>(v128.load64_zero(left), v128.load64_zero(right), 0, 4, 1, 5);
    const weight = v128.load64_zero(weights);
    v128.store(target, f32x4.mul(pair, v128.shuffle<f32>(weight, weight, 0, 0, 1, 1)));
    left += 8;
    right += 8;
    weights += 8;
    target += 16;
  }
}

/**
 * Adds the powers of a transform's bins up by bands. Two real channels went in as one complex signal: bins `k` and
 * `N − k` hold both. With Z and W for these two, the powers of the channels sum to (|Z|² + |W|²) / 2, differ by Re(Z·W),
 * and their product has the real part Im(Z·W) / 2.
 *
 * @param spectrum `frames` complex f32
 * @param bands a list of bands, each: i32 place, i32 first bin, i32 pairs of bins, i32 unused; then a share for each
 *   bin, f32 twice
 * @param count bands in the list
 * @param scale what the sums are multiplied by
 * @param stride bytes between the three sums of one band: powers, products, differences
 * @param energies f64, added to
 */
export function sumBands(
  spectrum: usize,
  frames: i32,
  bands: usize,
  count: i32,
  scale: f64,
  stride: i32,
  energies: usize,
): void {
  for (let band = 0; band < count; band++) {
    const place = load<i32>(bands);
    const firstBin = load<i32>(bands, 4);
    const pairs = load<i32>(bands, 8);
    bands += 16;
    let powers = f32x4.splat(0);
    let products = f32x4.splat(0);
    let differences = f32x4.splat(0);
    let low = spectrum + ((<usize>firstBin) << 3);
    let high = spectrum + ((<usize>(frames - firstBin - 1)) << 3);
    for (let pair = 0; pair < pairs; pair++) {
      const z = v128.load(low);
      const mirrored = v128.load(high);
      const w = v128.shuffle<f32>(mirrored, mirrored, 2, 3, 0, 1);
      const crossed = v128.shuffle<f32>(mirrored, mirrored, 3, 2, 1, 0);
      const share = v128.load(bands);
      powers = f32x4.add(powers, f32x4.mul(share, f32x4.add(f32x4.mul(z, z), f32x4.mul(w, w))));
      products = f32x4.add(products, f32x4.mul(share, f32x4.mul(z, crossed)));
      differences = f32x4.add(differences, f32x4.mul(share, f32x4.mul(z, w)));
      bands += 16;
      low += 16;
      high -= 16;
    }
    const at = energies + ((<usize>place) << 3);
    store<f64>(at, load<f64>(at) + scale * sumOf(powers));
    store<f64>(at + stride, load<f64>(at + stride) + scale * sumOf(products));
    const alternating =
      <f64>f32x4.extract_lane(differences, 0) -
      <f64>f32x4.extract_lane(differences, 1) +
      (<f64>f32x4.extract_lane(differences, 2) - <f64>f32x4.extract_lane(differences, 3));
    store<f64>(at + 2 * stride, load<f64>(at + 2 * stride) + 2 * scale * alternating);
  }
}

function sumOf(values: v128): f64 {
  return (
    <f64>f32x4.extract_lane(values, 0) +
    <f64>f32x4.extract_lane(values, 1) +
    (<f64>f32x4.extract_lane(values, 2) + <f64>f32x4.extract_lane(values, 3))
  );
}
