/**
 * JSON with object keys in order and no white space, so that equal values give equal bytes. Properties that are
 * `undefined` are left out; a number that JSON can't hold is an error.
 * @source RFC 8785, section 3.2
 */
export function canonicalJson(value: unknown): string {
  if (typeof value === 'number' && !Number.isFinite(value))
    throw new RangeError(`A ledger entry holds ${value}, which JSON has no word for.`);
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`;
  if (value && typeof value === 'object')
    return `{${Object.entries(value)
      .filter(([, each]) => each !== undefined)
      .sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0))
      .map(([key, each]) => `${JSON.stringify(key)}:${canonicalJson(each)}`)
      .join(',')}}`;
  return JSON.stringify(value) ?? 'null';
}

/** Whether two values say the same, whatever the order of their keys. */
export function sameValue(a: unknown, b: unknown): boolean {
  return canonicalJson(a) === canonicalJson(b);
}
