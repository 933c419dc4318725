import { read } from './call.ts';
import { recordPath } from './record-calls.ts';
import type { SongSheet } from './types.ts';

/** Reads the sheet of one song, for a page that stands on several. */
export const readSongSheet = (recordId: string, songId: string) =>
  read<SongSheet>(`${recordPath(recordId)}/songs/${encodeURIComponent(songId)}`);
