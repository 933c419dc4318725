import { describe, expect, it } from 'vitest';
import { formatMoney, minorUnitDigits } from '../../server/domain/money.ts';

/**
 * Proves that amounts are written with their currency and as many decimal places as ISO 4217 gives it (table A.1,
 * column “minor unit”; values as published there).
 */
const digits: [currency: string, minorUnits: number][] = [
  ['EUR', 2],
  ['USD', 2],
  ['GBP', 2],
  ['CHF', 2],
  ['SEK', 2],
  ['JPY', 0],
  ['KRW', 0],
  ['KWD', 3],
];

describe('money', () => {
  for (const [currency, expected] of digits)
    it(`${currency} has ${expected} decimal places`, () => {
      expect(minorUnitDigits(currency)).toBe(expected);
    });

  const written: [minorUnits: number, currency: string, words: string][] = [
    [8000, 'EUR', '€ 80.00'],
    [9000, 'EUR', '€ 90.00'],
    [17_000, 'EUR', '€ 170.00'],
    [5, 'EUR', '€ 0.05'],
    [0, 'EUR', '€ 0.00'],
    [123_456_789, 'EUR', '€ 1,234,567.89'],
    [8000, 'USD', '$ 80.00'],
    [8000, 'GBP', '£ 80.00'],
    [8000, 'JPY', '¥ 8,000'],
    [8000, 'KWD', 'KWD 8.000'],
  ];
  for (const [minorUnits, currency, words] of written)
    it(`${minorUnits} minor units of ${currency} are ${words}`, () => {
      expect(formatMoney({ minorUnits, currency })).toBe(words);
    });
});
