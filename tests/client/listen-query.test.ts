import { describe, expect, it } from 'vitest';
import type { SongSheet, VersionView } from '../../client/api/types.ts';
import { listenQuery } from '../../client/features/listen/listen-query.ts';
import { listeningPair } from '../../client/features/listen/listening-pair.ts';

const version = (id: string, gate: 'production' | 'mix', postedAt: string) =>
  ({ id, name: id, gate, postedAt }) as VersionView;

/** Proves that the address says what is heard and no more, and leads back to the same pair. */
describe('the address of what is heard', () => {
  const sheet: Pick<SongSheet, 'versions' | 'gate'> = {
    gate: 'mix',
    versions: [
      version('rough', 'production', '2026-03-01'),
      version('mix-1', 'mix', '2026-03-02'),
      version('mix-2', 'mix', '2026-03-03'),
      version('mix-3', 'mix', '2026-03-05'),
    ],
  };
  const back = (query: Record<string, string>) => listeningPair(sheet, query.v ?? null, query.a ?? null);

  it.each([
    [null, null, 0, {}],
    [null, null, 61.26, { t: '61.3' }],
    ['mix-3', 'mix-1', 0, { a: 'mix-1' }],
    ['mix-2', null, 0, { v: 'mix-2' }],
    ['mix-2', 'rough', 5, { v: 'mix-2', a: 'rough', t: '5.0' }],
  ])('%s over %s at %d s', (newer, older, seconds, query) => {
    const pair = listeningPair(sheet, newer, older)!;
    expect(listenQuery(sheet, pair, seconds)).toEqual(query);
    expect(back(listenQuery(sheet, pair, seconds))).toEqual(pair);
  });
});
