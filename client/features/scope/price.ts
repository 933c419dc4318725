/** The amount that hours come to, in minor units, as the ledger will hold it; `null` where they are no hours. */
export function priceMinorUnits(hours: number, rateMinorUnits: number): number | null {
  return hours > 0 && hours < 10_000 ? Math.round(hours * rateMinorUnits) : null;
}
