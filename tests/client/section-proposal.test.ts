import { describe, expect, it } from 'vitest';
import type { SectionProposal } from '../../client/api/types.ts';
import { barAndBeat } from '../../client/elements/time-code.ts';
import { proposedDraft, type SectionDraft } from '../../client/features/sections/section-draft.ts';
import { sectionFault } from '../../server/domain/section.ts';

/** Proves what becomes of a proposal in the draft: whole sections, a sure tempo, and a named tempo left alone. */
let count = 0;
const newId = () => `new-${++count}`;
const duration = 40;
const empty: SectionDraft = {
  sections: [],
  tempoBpm: null,
  beatsPerBar: null,
  firstBarSeconds: 0,
  basedOnRevision: 3,
};
const proposal: SectionProposal = {
  durationSeconds: duration,
  tempo: { tempoBpm: 120, confidence: 0.9, firstBeatSeconds: 0.25, beatsPerBar: 4, firstBarSeconds: 0.2504 },
  boundaries: [
    { seconds: 10.2504, confidence: 0.8 },
    { seconds: 24.2504, confidence: 0.2 },
  ],
  sections: [
    { name: 'Part A 1', start: 0, end: 10.2504 },
    { name: 'Part B', start: 10.2504, end: 24.2504 },
    { name: 'Part A 2', start: 24.2504, end: 40 },
  ],
};
const edges = ({ sections }: SectionDraft) =>
  sections.map(({ startSeconds, endSeconds }) => [startSeconds, endSeconds]);

describe('a proposal in the draft', () => {
  it('brings its sections to the millisecond, its tempo, and how sure each start is', () => {
    const { draft, startConfidence } = proposedDraft(empty, proposal, duration, newId);
    expect(edges(draft)).toEqual([
      [0, 10.25],
      [10.25, 24.25],
      [24.25, 40],
    ]);
    expect(draft).toMatchObject({ tempoBpm: 120, beatsPerBar: 4, firstBarSeconds: 0.25, basedOnRevision: 3 });
    expect(draft.sections.map(({ id }) => startConfidence.get(id))).toEqual([undefined, 0.8, 0.2]);
    expect(sectionFault(draft.sections)).toBeNull();
    expect(empty.sections).toEqual([]);
  });

  it('leaves a tempo that somebody named, and puts its edges on the bars of that', () => {
    // At 100 beats a minute in four a bar lasts 2.4 s: 9.6 and 24 are the nearest starts of bars.
    const named = { ...empty, tempoBpm: 100, beatsPerBar: 4 };
    const { draft } = proposedDraft(named, proposal, duration, newId);
    expect([draft.tempoBpm, draft.firstBarSeconds]).toEqual([100, 0]);
    expect(edges(draft)).toEqual([
      [0, 9.6],
      [9.6, 24],
      [24, 40],
    ]);
  });

  it('starts each section with the first beat of a bar, at a tempo whose bars are no whole milliseconds', () => {
    const barSeconds = (60 / 124) * 4;
    const bars = [5, 13, 21, 29, 37, 45, 53];
    const boundaries = bars.map((bar) => ({ seconds: (bar - 1) * barSeconds + 0.004, confidence: 1 }));
    const starts = [0, ...boundaries.map(({ seconds }) => seconds)];
    const sections = starts.map((start, index) => ({ name: 'Part', start, end: starts[index + 1] ?? 120 }));
    const tempo = { ...proposal.tempo!, tempoBpm: 124, firstBarSeconds: 0.004 };
    const { draft } = proposedDraft(empty, { ...proposal, tempo, boundaries, sections }, 120, newId);
    const places = draft.sections.slice(1).map(({ startSeconds }) => barAndBeat(startSeconds, draft));
    expect(places).toEqual(bars.map((bar) => ({ bar, beat: 1 })));
  });

  it('takes no tempo that is unsure or has no metre', () => {
    for (const part of [{ confidence: 0.4 }, { beatsPerBar: null, firstBarSeconds: null }]) {
      const unsure = { ...proposal, tempo: { ...proposal.tempo!, ...part } };
      expect(proposedDraft(empty, unsure, duration, newId).draft.tempoBpm).toBeNull();
    }
    expect(proposedDraft(empty, { ...proposal, tempo: null }, duration, newId).draft.tempoBpm).toBeNull();
  });

  it('drops what would be a sliver, as in a version that ends earlier', () => {
    const { draft } = proposedDraft(empty, proposal, 24.5, newId);
    expect(edges(draft)).toEqual([
      [0, 10.25],
      [10.25, 24.5],
    ]);
    expect(sectionFault(draft.sections)).toBeNull();
  });
});
