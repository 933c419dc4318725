import type { SectionMap } from '../domain/section.ts';
import type { SectionSpan } from '../measurement/measurement.ts';

/** A song's sections as the engine takes them. */
export function sectionSpans({ sections }: SectionMap): SectionSpan[] {
  return sections.map(({ name, startSeconds, endSeconds }) => ({
    name,
    start: startSeconds,
    end: endSeconds,
  }));
}
