/**
 * The value that most of the values agree on: the mean of the fullest window. What changed scatters, or gathers
 * elsewhere; what didn't change stands at one spot, so the answer holds even where most of the values changed.
 *
 * @param values Sorted here, in place.
 * @param widths Windows to try, narrowest first; the first that holds `share` of the values decides.
 * @returns the value, and the share of all values within that window; `null` for no values.
 */
export function densestValue(
  values: Float64Array,
  widths: readonly number[],
  share: number,
): { value: number; share: number; width: number } | null {
  if (values.length === 0) return null;
  values.sort();
  let best = { value: 0, share: 0, width: 0 };
  for (const width of widths) {
    best = { ...fullestWindow(values, width), width };
    if (best.share >= share) return best;
  }
  return best;
}

function fullestWindow(sorted: Float64Array, width: number): { value: number; share: number } {
  let first = 0;
  let sum = 0;
  let bestCount = 0;
  let bestMean = 0;
  for (let last = 0; last < sorted.length; last++) {
    sum += sorted[last]!;
    while (sorted[last]! - sorted[first]! > width) sum -= sorted[first++]!;
    const count = last - first + 1;
    if (count > bestCount) {
      bestCount = count;
      bestMean = sum / count;
    }
  }
  return { value: bestMean, share: bestCount / sorted.length };
}
