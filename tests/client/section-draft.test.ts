import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Section } from '../../client/api/types.ts';
import {
  cutAt,
  draftFault,
  drawSection,
  moveEdges,
  nameSuggestions,
  shortestSectionSeconds,
  snapToBar,
} from '../../client/features/sections/section-draft.ts';
import { sectionFault } from '../../server/domain/section.ts';

let count = 0;
const newId = () => `new-${++count}`;
const duration = 120;
const sections: Section[] = [
  { id: 'i', name: 'Intro', startSeconds: 0, endSeconds: 20 },
  { id: 'v', name: 'Verse 1', startSeconds: 20, endSeconds: 60 },
  { id: 'c', name: 'Chorus 1', startSeconds: 70, endSeconds: 110 },
];
const edges = (list: readonly Section[]) =>
  list.map(({ startSeconds, endSeconds }) => [startSeconds, endSeconds]);

/** Proves that cutting while listening names the stretches on both sides. */
describe('a cut', () => {
  it('makes the first two sections', () => {
    expect(edges(cutAt([], 30, duration, newId))).toEqual([
      [0, 30],
      [30, 120],
    ]);
  });

  it('divides the section it lies in, which keeps its name in front', () => {
    const cut = cutAt(sections, 40, duration, newId);
    expect(edges(cut)).toEqual([
      [0, 20],
      [20, 40],
      [40, 60],
      [70, 110],
    ]);
    expect(cut[1]).toMatchObject({ id: 'v', name: 'Verse 1' });
  });

  it('in a gap starts a section that lasts to the next one', () => {
    expect(edges(cutAt(sections, 62, duration, newId))).toContainEqual([62, 70]);
    expect(edges(cutAt(sections, 115, duration, newId))).toContainEqual([115, 120]);
  });

  it('that would leave a sliver is not made', () => {
    expect(cutAt(sections, 20.1, duration, newId)).toEqual(sections);
    expect(cutAt([], 0.1, duration, newId)).toEqual([]);
  });
});

/** Proves that an edge takes its neighbour along, and that nothing is drawn over something else. */
describe('drawing and moving', () => {
  it('a shared edge moves both sections', () => {
    expect(edges(moveEdges(sections, 'v', 24, 60, duration)).slice(0, 2)).toEqual([
      [0, 24],
      [24, 60],
    ]);
  });

  it('an edge over a gap leaves the neighbour until it touches it', () => {
    expect(edges(moveEdges(sections, 'v', 20, 65, duration))[2]).toEqual([70, 110]);
    expect(edges(moveEdges(sections, 'v', 20, 75, duration)).slice(1)).toEqual([
      [20, 75],
      [75, 110],
    ]);
  });

  it('a section drawn inside another leaves what is on both sides of it', () => {
    expect(edges(drawSection(sections, 30, 40, newId))).toEqual([
      [0, 20],
      [20, 30],
      [30, 40],
      [40, 60],
      [70, 110],
    ]);
  });

  it('any sequence keeps the sections in order, apart and inside the song, as the server asks', () => {
    const seconds = fc.double({ min: 0, max: duration, noNaN: true });
    const step = fc.oneof(
      seconds.map((at) => (list: Section[]) => cutAt(list, at, duration, newId)),
      fc.tuple(seconds, seconds).map(
        ([from, to]) =>
          (list: Section[]) =>
            drawSection(list, from, to, newId),
      ),
      fc.tuple(fc.nat(9), seconds, seconds).map(([index, start, end]) => (list: Section[]) => {
        const section = list[index % Math.max(1, list.length)];
        return section ? moveEdges(list, section.id, start, end, duration) : list;
      }),
    );
    fc.assert(
      fc.property(fc.array(step, { maxLength: 12 }), (steps) => {
        const list = steps.reduce((found, change) => change(found), sections);
        expect(sectionFault(list)).toBeNull();
        expect(new Set(list.map(({ id }) => id)).size).toBe(list.length);
        for (const { startSeconds, endSeconds } of list) {
          expect(endSeconds).toBeLessThanOrEqual(duration);
          expect(endSeconds - startSeconds).toBeGreaterThan(shortestSectionSeconds - 1e-9);
        }
      }),
    );
  });
});

/** Proves what is offered and what is asked for before saving. */
describe('names and bars', () => {
  it('offers the next number and what is still free', () => {
    const offered = nameSuggestions(sections);
    expect(offered).toContain('Verse 2');
    expect(offered).toContain('Chorus 2');
    expect(offered).toContain('Bridge');
    expect(offered).not.toContain('Intro');
  });

  it('snaps to the nearest bar: at 120 beats a minute in four, every 2 s from bar 1', () => {
    const grid = { tempoBpm: 120, beatsPerBar: 4, firstBarSeconds: 0.5 };
    expect(snapToBar(7.2, grid)).toBe(6.5);
    expect(snapToBar(7.6, grid)).toBe(8.5);
    expect(snapToBar(7.2, { ...grid, tempoBpm: null })).toBe(7.2);
  });

  it('asks for a name, and for tempo and beats together', () => {
    const draft = { sections, tempoBpm: null, beatsPerBar: null, firstBarSeconds: 0, basedOnRevision: 0 };
    expect(draftFault(draft)).toBeNull();
    expect(draftFault({ ...draft, sections: [{ ...sections[0]!, name: ' ' }] })).toMatch(/no name/);
    expect(draftFault({ ...draft, tempoBpm: 120 })).toMatch(/tempo/);
  });
});
