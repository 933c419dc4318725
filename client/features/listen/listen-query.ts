import type { SongSheet } from '../../api/types.ts';
import { type ListeningPair, listeningPair } from './listening-pair.ts';

/** What the address says of what is heard, so that it can be passed on or come back to; what is usual is left out. */
export function listenQuery(
  sheet: Pick<SongSheet, 'versions' | 'gate'>,
  { newer, older }: ListeningPair,
  playheadSeconds: number,
): Record<string, string> {
  const query: Record<string, string> = {};
  if (newer.id !== listeningPair(sheet, null, null)?.newer.id) query.v = newer.id;
  if (older && older.id !== listeningPair(sheet, newer.id, null)?.older?.id) query.a = older.id;
  if (playheadSeconds > 0) query.t = playheadSeconds.toFixed(1);
  return query;
}
