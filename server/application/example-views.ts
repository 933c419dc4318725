import type { RecordState } from '../domain/record.ts';
import type { StudioExample } from '../storage/example-store.ts';
import { nameOf, type PersonName } from './song-sheet.ts';

/** An example as its reader sees it: with the names of the record, the song and whoever re-sorted. */
export interface ExampleView extends Omit<StudioExample, 'recordId' | 'songId' | 'by'> {
  record: { id: string; title: string };
  song: { id: string; title: string };
  by: PersonName;
}

/** The examples of the given records, in the order in which they came. */
export function exampleViews(
  examples: readonly StudioExample[],
  records: readonly (RecordState | null)[],
): ExampleView[] {
  const byId = new Map(records.flatMap((record) => (record ? [[record.id, record] as const] : [])));
  return examples.flatMap(({ recordId, songId, by, ...example }) => {
    const record = byId.get(recordId);
    if (!record) return [];
    return [
      {
        record: { id: recordId, title: record.title },
        song: { id: songId, title: record.songs[songId]?.title ?? '' },
        ...example,
        by: nameOf(record, by),
      },
    ];
  });
}
