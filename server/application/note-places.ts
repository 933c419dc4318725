import type { Note, Range, Request } from '../domain/note.ts';
import type { Song } from '../domain/record.ts';
import type { Version } from '../domain/version.ts';
import {
  type ComparedFiles,
  movePlace,
  nearestMoment,
  type PlaceLeft,
  stepsBetween,
} from '../measurement/timeline-position.ts';

/** Where a note on another version stands in the one that is heard. */
export interface NotePlace {
  noteId: string;
  /** In seconds of the version that is heard; in its own where `left` is `unknown`; `null` where nothing of it is left. */
  range: Range | null;
  /** How much of its place is left; `unknown` where no comparison joins the two versions yet. */
  left: PlaceLeft | 'unknown';
  /** Where to show it: its start, or the seam where it was cut. */
  seconds: number;
}

/** Where a note stands: where its author put it, or else where its words say (“in the bridge”). */
function rangeOf(note: Note, requests: readonly Request[]): Range | null {
  return note.range ?? requests.find((each) => each.noteId === note.id && each.range)?.range ?? null;
}

/**
 * Where the notes on other versions stand in one, through whatever chain of comparisons joins them. Nothing that is
 * stored moves; notes about the whole song have no place and are left out.
 */
export function notePlaces(song: Song, heard: Version, compared: readonly ComparedFiles[]): NotePlace[] {
  return song.notes.flatMap((note): NotePlace[] => {
    const range = rangeOf(note, song.requests);
    const version = song.versions.find(({ id }) => id === note.versionId);
    if (note.withdrawn || !range || !version || version.id === heard.id) return [];
    const steps = stepsBetween(version.file.sha256, heard.file.sha256, compared);
    if (!steps) return [{ noteId: note.id, range, left: 'unknown', seconds: range.startSeconds }];
    const moved = movePlace(range, steps);
    const seam = steps.reduce((seconds, step) => nearestMoment(seconds, step), range.startSeconds);
    return [
      {
        noteId: note.id,
        range: moved.range,
        left: moved.left,
        seconds: moved.range?.startSeconds ?? seam,
      },
    ];
  });
}
