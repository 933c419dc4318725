/** The value below which the share `share` (0 to 1) of the values lies, on a straight line between neighbours. */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const place = share * (sorted.length - 1);
  const below = sorted[Math.floor(place)] ?? Number.NaN;
  const above = sorted[Math.ceil(place)] ?? Number.NaN;
  return below + (above - below) * (place - Math.floor(place));
}

export const median = (values: readonly number[]): number => quantile(values, 0.5);
