import type { NoteView, Range, Section, SectionMap } from '../../api/types.ts';

/** One line of the song sheet: a section, a stretch between sections, or a quarter of a song without sections. */
export interface SheetLine {
  id: string;
  name: string;
  startSeconds: number;
  endSeconds: number;
  /** The section behind the line, if it has one. */
  section: Section | null;
}

/** Gaps shorter than this are drawn with the line before them. */
const shortestGapSeconds = 0.5;
const linesWithoutSections = 4;

/**
 * The lines that a song is drawn on, without a gap from 0 to its end: one a section, unnamed stretches on their own, and
 * four equal ones before any section is named.
 */
export function sheetLines(map: SectionMap, durationSeconds: number): SheetLine[] {
  if (!map.sections.length) {
    const length = durationSeconds / linesWithoutSections;
    return Array.from({ length: linesWithoutSections }, (_, index) => ({
      id: `part-${index + 1}`,
      name: `Part ${index + 1}`,
      startSeconds: index * length,
      endSeconds: (index + 1) * length,
      section: null,
    }));
  }
  const lines: SheetLine[] = [];
  let at = 0;
  const gap = (to: number) => {
    const previous = lines.at(-1);
    if (to - at >= shortestGapSeconds)
      lines.push({
        id: `gap-${lines.length}`,
        name: 'Unnamed',
        startSeconds: at,
        endSeconds: to,
        section: null,
      });
    else if (previous && to > at) previous.endSeconds = to;
  };
  for (const section of map.sections) {
    if (section.startSeconds >= durationSeconds) break;
    gap(section.startSeconds);
    const startSeconds =
      section.startSeconds - at < shortestGapSeconds && !lines.length ? 0 : section.startSeconds;
    const endSeconds = Math.min(section.endSeconds, durationSeconds);
    lines.push({ id: section.id, name: section.name, startSeconds, endSeconds, section });
    at = endSeconds;
  }
  gap(durationSeconds);
  return lines;
}

/** The line that holds a moment; the last one also holds the song's end. */
export function lineAt(lines: readonly SheetLine[], seconds: number): SheetLine | null {
  return (
    lines.find((line) => seconds >= line.startSeconds && seconds < line.endSeconds) ??
    (lines.length && seconds >= lines.at(-1)!.startSeconds ? lines.at(-1)! : null)
  );
}

/** Where a note stands: where its author put it, or else where its words say (“in the bridge”). */
export function placeOfNote(note: Pick<NoteView, 'range' | 'requests'>): Range | null {
  return note.range ?? note.requests.find((request) => request.range)?.range ?? null;
}

/** Notes by the line that they start on; those about the whole song are under `null`. */
export function notesByLine(
  notes: readonly NoteView[],
  lines: readonly SheetLine[],
  secondsOf: (note: NoteView) => number | null,
): Map<SheetLine | null, NoteView[]> {
  const byLine = new Map<SheetLine | null, NoteView[]>();
  const placed = notes
    .map((note) => ({ note, seconds: secondsOf(note) }))
    .sort((one, other) => (one.seconds ?? -1) - (other.seconds ?? -1));
  for (const { note, seconds } of placed) {
    const line = seconds === null ? null : lineAt(lines, seconds);
    byLine.set(line, [...(byLine.get(line) ?? []), note]);
  }
  return byLine;
}
