const digitsOf = (currency: string) =>
  new Intl.NumberFormat('en', { style: 'currency', currency }).resolvedOptions().maximumFractionDigits ?? 2;

/** An amount as it stands in a field, without its currency: `80.00`. */
export function amountText(minorUnits: number, currency: string): string {
  const digits = digitsOf(currency);
  return (minorUnits / 10 ** digits).toFixed(digits);
}

/**
 * Reads a typed amount: `80`, `80.5`, `80,50`.
 *
 * @returns minor units of the currency, or `null` where it is no amount or has more decimals than the currency.
 */
export function parseAmount(text: string, currency: string): number | null {
  const digits = digitsOf(currency);
  const match = /^(\d+)(?:[.,](\d*))?$/.exec(text.replace(/\s/g, ''));
  const [, whole, part = ''] = match ?? [];
  if (whole === undefined || part.length > digits) return null;
  const minorUnits = Number(whole) * 10 ** digits + Number(part.padEnd(digits, '0') || 0);
  return Number.isSafeInteger(minorUnits) ? minorUnits : null;
}
