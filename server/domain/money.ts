/** An amount in the currency's smallest unit (cents for EUR), so that sums are exact. */
export interface Money {
  minorUnits: number;
  /** ISO 4217 code. */
  currency: string;
}

const formatOf = (currency: string) =>
  new Intl.NumberFormat('en', { style: 'currency', currency, currencyDisplay: 'narrowSymbol' });

/** How many decimal places the currency has by ISO 4217: 2 for EUR, 0 for JPY. */
export function minorUnitDigits(currency: string): number {
  return formatOf(currency).resolvedOptions().maximumFractionDigits ?? 2;
}

/** An amount as people read it: `€ 80.00`. */
export function formatMoney({ minorUnits, currency }: Money): string {
  const parts = formatOf(currency).formatToParts(minorUnits / 10 ** minorUnitDigits(currency));
  const symbol = parts.find((part) => part.type === 'currency')?.value ?? currency;
  const number = parts
    .filter((part) => part.type !== 'currency' && part.type !== 'literal')
    .map((part) => part.value)
    .join('');
  return `${symbol} ${number}`;
}
