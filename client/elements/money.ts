/** An amount in minor units as people read it: `€ 80.00`. */
export function money(minorUnits: number, currency: string): string {
  const format = new Intl.NumberFormat('en', {
    style: 'currency',
    currency,
    currencyDisplay: 'narrowSymbol',
  });
  const digits = format.resolvedOptions().maximumFractionDigits ?? 2;
  const parts = format.formatToParts(minorUnits / 10 ** digits);
  const symbol = parts.find((part) => part.type === 'currency')?.value ?? currency;
  const number = parts
    .filter((part) => part.type !== 'currency' && part.type !== 'literal')
    .map((part) => part.value)
    .join('');
  return `${symbol} ${number}`;
}
