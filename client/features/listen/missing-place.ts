import type { Sorting } from '../../api/song-calls.ts';

/** Whether a request asks for something at no place in the song, by its words or by where the note is pinned. */
export function lacksPlace(sorting: Sorting | null): boolean {
  return (
    sorting?.requests.some(
      ({ level, range, place }) =>
        (level === 'mix' || level === 'production') && range === null && place === null,
    ) ?? false
  );
}
