export type ByteRange =
  | { status: 'whole' }
  | { status: 'part'; start: number; end: number }
  | { status: 'unsatisfiable' };

/**
 * The bytes that a request asks for, both ends included (RFC 9110, section 14). Several ranges, other units and
 * malformed ones are answered with the whole, as the RFC allows; a range past the end is unsatisfiable. With an
 * `If-Range` that isn't the current strong ETag the whole is given, since the part would belong to another file.
 */
export function byteRange(
  range: string | undefined,
  ifRange: string | undefined,
  etag: string,
  byteLength: number,
): ByteRange {
  if (!range || (ifRange !== undefined && ifRange !== etag)) return { status: 'whole' };
  const match = /^bytes=(\d*)-(\d*)$/.exec(range.trim());
  const [, first, last] = match ?? [];
  if (first === undefined || last === undefined || (first === '' && last === '')) return { status: 'whole' };
  if (first === '') {
    const length = Math.min(Number(last), byteLength);
    return length > 0
      ? { status: 'part', start: byteLength - length, end: byteLength - 1 }
      : { status: 'unsatisfiable' };
  }
  const start = Number(first);
  const end = last === '' ? byteLength - 1 : Math.min(Number(last), byteLength - 1);
  if (last !== '' && Number(last) < start) return { status: 'whole' };
  return start < byteLength ? { status: 'part', start, end } : { status: 'unsatisfiable' };
}
