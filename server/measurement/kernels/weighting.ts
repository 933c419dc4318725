/** Filter states smaller than this are set to zero: no sound, and numbers this small slow the processor down. */
const smallestState: f64 = 1e-30;

/**
 * K-weights two channels at once, one in each lane, and adds up what level and loudness need.
 *
 * @param ends for each of `pieces` pieces the frame where it ends, i32, counted from `left` and `right`
 * @param filter ten f64: b0 b1 b2 a1 a2 of the shelf, then of the high-pass
 * @param state six pairs of f64, kept from one call to the next: x₁ x₂ of the input, y₁ y₂ after the shelf, z₁ z₂ after
 *   the high-pass
 * @param sums four pairs of f64, added to: samples; squares; largest absolute sample; left times right (twice)
 * @param energies for each piece two pairs of f64: weighted squares; the square of the weighted sum of both (twice)
 */
export function weigh(
  left: usize,
  right: usize,
  ends: usize,
  pieces: i32,
  filter: usize,
  state: usize,
  sums: usize,
  energies: usize,
): void {
  const b0 = f64x2.splat(load<f64>(filter));
  const b1 = f64x2.splat(load<f64>(filter, 8));
  const b2 = f64x2.splat(load<f64>(filter, 16));
  const a1 = f64x2.splat(load<f64>(filter, 24));
  const a2 = f64x2.splat(load<f64>(filter, 32));
  const g0 = f64x2.splat(load<f64>(filter, 40));
  const g1 = f64x2.splat(load<f64>(filter, 48));
  const g2 = f64x2.splat(load<f64>(filter, 56));
  const c1 = f64x2.splat(load<f64>(filter, 64));
  const c2 = f64x2.splat(load<f64>(filter, 72));
  let x1 = v128.load(state);
  let x2 = v128.load(state, 16);
  let y1 = v128.load(state, 32);
  let y2 = v128.load(state, 48);
  let z1 = v128.load(state, 64);
  let z2 = v128.load(state, 80);
  let total = v128.load(sums);
  let squares = v128.load(sums, 16);
  let peaks = v128.load(sums, 32);
  let products = v128.load(sums, 48);
  const first = left;
  for (let piece = 0; piece < pieces; piece++) {
    let weighted = f64x2.splat(0);
    let folded = f64x2.splat(0);
    const end = first + ((<usize>load<i32>(ends)) << 2);
    ends += 4;
    for (; left < end; left += 4, right += 4) {
      const x = f64x2.promote_low_f32x4(v128.load32_lane(right, v128.load32_zero(left), 1));
      // The newest output comes last into each sum, so that the next frame waits for one product and one difference.
      const y = f64x2.sub(
        f64x2.add(
          f64x2.add(f64x2.mul(b0, x), f64x2.mul(b1, x1)),
          f64x2.sub(f64x2.mul(b2, x2), f64x2.mul(a2, y2)),
        ),
        f64x2.mul(a1, y1),
      );
      const z = f64x2.sub(
        f64x2.add(
          f64x2.mul(g0, y),
          f64x2.sub(f64x2.add(f64x2.mul(g1, y1), f64x2.mul(g2, y2)), f64x2.mul(c2, z2)),
        ),
        f64x2.mul(c1, z1),
      );
      weighted = f64x2.add(weighted, f64x2.mul(z, z));
      const both = f64x2.add(z, v128.shuffle<f64>(z, z, 1, 0));
      folded = f64x2.add(folded, f64x2.mul(both, both));
      total = f64x2.add(total, x);
      squares = f64x2.add(squares, f64x2.mul(x, x));
      peaks = f64x2.pmax(peaks, f64x2.abs(x));
      products = f64x2.add(products, f64x2.mul(x, v128.shuffle<f64>(x, x, 1, 0)));
      x2 = x1;
      x1 = x;
      y2 = y1;
      y1 = y;
      z2 = z1;
      z1 = z;
    }
    v128.store(energies, weighted);
    v128.store(energies, folded, 16);
    energies += 32;
  }
  v128.store(state, x1);
  v128.store(state, x2, 16);
  v128.store(state, settled(y1), 32);
  v128.store(state, settled(y2), 48);
  v128.store(state, settled(z1), 64);
  v128.store(state, settled(z2), 80);
  v128.store(sums, total);
  v128.store(sums, squares, 16);
  v128.store(sums, peaks, 32);
  v128.store(sums, products, 48);
}

function settled(state: v128): v128 {
  return v128.and(state, f64x2.ge(f64x2.abs(state), f64x2.splat(smallestState)));
}
