import type { Range, Request } from '../domain/note.ts';
import type { Song } from '../domain/record.ts';
import { sectionAt } from '../domain/section.ts';
import type { PlacedRequest } from '../triage/contradiction.ts';

type Placed = Pick<Request, 'text' | 'kind' | 'target' | 'direction' | 'range'>;

/** A moment stands for the section that it lies in; without sections, for the two seconds around it. */
function spanOf(song: Song, range: Range | null): { start: number; end: number } {
  if (!range) return { start: 0, end: Number.MAX_SAFE_INTEGER };
  if (range.endSeconds !== null) return { start: range.startSeconds, end: range.endSeconds };
  const section = sectionAt(song.sectionMap.sections, range.startSeconds);
  return section
    ? { start: section.startSeconds, end: section.endSeconds }
    : { start: Math.max(0, range.startSeconds - 1), end: range.startSeconds + 1 };
}

/** A request with the stretch of the song that it is about, in seconds, as requests are compared. */
export function placedIn(song: Song, { text, kind, target, direction, range }: Placed): PlacedRequest {
  return { text, kind, target, direction, ...spanOf(song, range) };
}
