/** A named stretch of a song, in seconds from the start of its versions. */
export interface Section {
  id: string;
  name: string;
  startSeconds: number;
  endSeconds: number;
}

/** A song's sections with the tempo and metre that turn seconds into bars and beats. */
export interface SectionMap {
  sections: Section[];
  tempoBpm: number | null;
  beatsPerBar: number | null;
  /** Where bar 1, beat 1 stands. */
  firstBarSeconds: number;
  /** Counts up with each naming; a change must name the one that it was made from. */
  revision: number;
}

/** The section that holds a moment; a moment on an edge belongs to the section that starts there. */
export function sectionAt(sections: readonly Section[], seconds: number): Section | null {
  return sections.find((section) => seconds >= section.startSeconds && seconds < section.endSeconds) ?? null;
}

/** `null` for sections that are in order, inside the song and apart; else what is wrong, in words. */
export function sectionFault(sections: readonly Section[]): string | null {
  for (const [index, section] of sections.entries()) {
    if (!section.name.trim()) return 'A section has no name.';
    if (!(section.startSeconds >= 0) || !(section.endSeconds > section.startSeconds))
      return `“${section.name}” ends before it starts.`;
    const next = sections[index + 1];
    if (next && next.startSeconds < section.endSeconds - 1e-6)
      return `“${section.name}” and “${next.name}” overlap.`;
  }
  return null;
}
