import type { Section, SectionMap, SectionProposal } from '../../api/types.ts';

/** Sections as they are being named; they become the song's when they are saved. */
export interface SectionDraft {
  sections: Section[];
  tempoBpm: number | null;
  beatsPerBar: number | null;
  firstBarSeconds: number;
  /** The naming that the draft was made from. */
  basedOnRevision: number;
}

/** No section is drawn shorter than this. */
export const shortestSectionSeconds = 0.5;
/** Edges nearer than this are one edge of two sections. */
const sharedEdgeSeconds = 0.02;

/** The trade's names for sections (*common practice*), those that a song has several of numbered as they come. */
const numberedNames = ['Verse', 'Pre-chorus', 'Chorus', 'Interlude', 'Solo', 'Breakdown', 'Drop'];
const singleNames = ['Intro', 'Bridge', 'Middle eight', 'Outro', 'Coda', 'Tag'];

export function draftOf(map: SectionMap): SectionDraft {
  const { sections, tempoBpm, beatsPerBar, firstBarSeconds, revision } = map;
  return {
    sections: sections.map((section) => ({ ...section })),
    tempoBpm,
    beatsPerBar,
    firstBarSeconds,
    basedOnRevision: revision,
  };
}

/** Names to offer for one more section: the numbered ones with their next number, the single ones that are still free. */
export function nameSuggestions(sections: readonly Section[]): string[] {
  const taken = new Set(sections.map(({ name }) => name.toLowerCase()));
  const numbered = numberedNames.map((name) => {
    let number = 1;
    while (taken.has(`${name} ${number}`.toLowerCase())) number += 1;
    return `${name} ${number}`;
  });
  return [...numbered, ...singleNames.filter((name) => !taken.has(name.toLowerCase()))];
}

/** The nearest start of a bar; the moment itself without tempo and metre. */
export function snapToBar(
  seconds: number,
  {
    tempoBpm,
    beatsPerBar,
    firstBarSeconds,
  }: Pick<SectionDraft, 'tempoBpm' | 'beatsPerBar' | 'firstBarSeconds'>,
): number {
  if (!tempoBpm || !beatsPerBar) return seconds;
  const bar = (60 / tempoBpm) * beatsPerBar;
  return Math.max(0, firstBarSeconds + Math.round((seconds - firstBarSeconds) / bar) * bar);
}

/** Only a tempo as sure as this is put into the draft. */
const surestTempo = 0.5;

/**
 * A draft with the sections that were proposed. A tempo and metre that somebody named stay, and the edges then lie on
 * their bars; otherwise those of the proposal come along where they are sure.
 *
 * @returns the draft, and for the id of each section but the first how sure its start is, 0 to 1
 */
export function proposedDraft(
  draft: SectionDraft,
  { tempo, boundaries, sections }: SectionProposal,
  durationSeconds: number,
  newId: () => string,
): { draft: SectionDraft; startConfidence: Map<string, number> } {
  const named = draft.tempoBpm !== null && draft.beatsPerBar !== null;
  const heard = !named && tempo?.beatsPerBar && tempo.confidence >= surestTempo ? tempo : null;
  const gridded = heard
    ? {
        ...draft,
        tempoBpm: heard.tempoBpm,
        beatsPerBar: heard.beatsPerBar,
        firstBarSeconds: toMilliseconds(heard.firstBarSeconds ?? 0),
      }
    : draft;
  const startConfidence = new Map<string, number>();
  const made: Section[] = [];
  for (const [index, { name, start }] of sections.entries()) {
    // On the very start of a bar: rounded, it might lie before it.
    const startSeconds = index === 0 ? 0 : named || heard ? snapToBar(start, gridded) : toMilliseconds(start);
    const id = newId();
    const before = made.at(-1);
    if (before && startSeconds - before.startSeconds < shortestSectionSeconds) continue;
    if (durationSeconds - startSeconds < shortestSectionSeconds) continue;
    if (before) {
      before.endSeconds = startSeconds;
      startConfidence.set(id, boundaries[index - 1]?.confidence ?? 0);
    }
    made.push({ id, name, startSeconds, endSeconds: durationSeconds });
  }
  return { draft: { ...gridded, sections: made }, startConfidence };
}

const toMilliseconds = (seconds: number) => Math.round(seconds * 1000) / 1000;

/**
 * Cuts the section at a moment in two; in a song without sections it makes the first two, and in a gap it starts one that
 * lasts to the next section.
 *
 * @returns the same list where the cut would leave less than the shortest section.
 */
export function cutAt(
  sections: readonly Section[],
  seconds: number,
  durationSeconds: number,
  newId: () => string,
): Section[] {
  const make = (startSeconds: number, endSeconds: number): Section => ({
    id: newId(),
    name: `Section ${sections.length + 1}`,
    startSeconds,
    endSeconds,
  });
  if (!sections.length) {
    if (seconds < shortestSectionSeconds || durationSeconds - seconds < shortestSectionSeconds) return [];
    const first = { ...make(0, seconds), name: 'Section 1' };
    return [first, { ...make(seconds, durationSeconds), name: 'Section 2' }];
  }
  const inside = sections.find((section) => seconds > section.startSeconds && seconds < section.endSeconds);
  if (inside) {
    if (seconds - inside.startSeconds < shortestSectionSeconds) return [...sections];
    if (inside.endSeconds - seconds < shortestSectionSeconds) return [...sections];
    return sections.flatMap((section) =>
      section === inside
        ? [{ ...section, endSeconds: seconds }, make(seconds, section.endSeconds)]
        : [section],
    );
  }
  const next = sections.find((section) => section.startSeconds >= seconds)?.startSeconds ?? durationSeconds;
  return next - seconds < shortestSectionSeconds
    ? [...sections]
    : inOrder([...sections, make(seconds, next)]);
}

/** Draws a section over a stretch; what others have of that stretch goes to the new one. */
export function drawSection(
  sections: readonly Section[],
  from: number,
  to: number,
  newId: () => string,
): Section[] {
  const [startSeconds, endSeconds] = from <= to ? [from, to] : [to, from];
  if (endSeconds - startSeconds < shortestSectionSeconds) return [...sections];
  const kept = sections.flatMap((section) => {
    const before = { ...section, endSeconds: Math.min(section.endSeconds, startSeconds) };
    const after = { ...section, startSeconds: Math.max(section.startSeconds, endSeconds) };
    const parts = [before, after].filter(
      (part) => part.endSeconds - part.startSeconds >= shortestSectionSeconds,
    );
    return parts.map((part, index) => (index === 0 ? part : { ...part, id: newId() }));
  });
  const name = `Section ${sections.length + 1}`;
  return inOrder([...kept, { id: newId(), name, startSeconds, endSeconds }]);
}

/**
 * Moves a section's edges. A neighbour that shared an edge moves with it; one that would be overlapped gives way, but
 * never below the shortest length.
 */
export function moveEdges(
  sections: readonly Section[],
  id: string,
  startSeconds: number,
  endSeconds: number,
  durationSeconds: number,
): Section[] {
  const index = sections.findIndex((section) => section.id === id);
  const section = sections[index];
  if (!section) return [...sections];
  const previous = sections[index - 1];
  const next = sections[index + 1];
  const least = previous ? previous.startSeconds + shortestSectionSeconds : 0;
  const most = next ? next.endSeconds - shortestSectionSeconds : durationSeconds;
  const start = Math.min(Math.max(startSeconds, least), most - shortestSectionSeconds);
  const end = Math.max(Math.min(endSeconds, most), start + shortestSectionSeconds);
  return sections.map((each) => {
    if (each === section) return { ...each, startSeconds: start, endSeconds: end };
    if (each === previous) {
      const shared = Math.abs(each.endSeconds - section.startSeconds) < sharedEdgeSeconds;
      return shared || each.endSeconds > start ? { ...each, endSeconds: start } : each;
    }
    if (each === next) {
      const shared = Math.abs(each.startSeconds - section.endSeconds) < sharedEdgeSeconds;
      return shared || each.startSeconds < end ? { ...each, startSeconds: end } : each;
    }
    return each;
  });
}

/** What still stands in the way of saving, in words; `null` when nothing does. */
export function draftFault(draft: SectionDraft): string | null {
  for (const { name } of draft.sections) if (!name.trim()) return 'One section has no name yet.';
  for (const [index, section] of draft.sections.entries()) {
    if (section.endSeconds <= section.startSeconds) return `“${section.name}” ends before it starts.`;
    const next = draft.sections[index + 1];
    if (next && next.startSeconds < section.endSeconds - 1e-6)
      return `“${section.name}” and “${next.name}” overlap.`;
  }
  if ((draft.tempoBpm === null) !== (draft.beatsPerBar === null))
    return 'Bars need both a tempo and the beats of a bar.';
  return null;
}

const inOrder = (sections: Section[]) => sections.sort((one, other) => one.startSeconds - other.startSeconds);
