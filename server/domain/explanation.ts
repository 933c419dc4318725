import type { Range } from './note.ts';
import type { PersonId } from './person.ts';
import type { VersionId } from './version.ts';

/**
 * What the engineer says about a change between two versions that nobody had asked for. The last one about a place
 * holds; all stay on the record.
 */
export interface Explanation {
  olderVersionId: VersionId;
  newerVersionId: VersionId;
  /** In seconds of the newer version; `null` where the whole song changed. */
  place: Range | null;
  text: string;
  by: PersonId;
  at: string;
}

/** Whether two places are one: equal to a hundredth of a second. */
export function samePlace(one: Range | null, other: Range | null): boolean {
  if (one === null || other === null) return one === other;
  const near = (a: number | null, b: number | null) =>
    a === null || b === null ? a === b : Math.abs(a - b) < 0.01;
  return near(one.startSeconds, other.startSeconds) && near(one.endSeconds, other.endSeconds);
}
