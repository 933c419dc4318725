import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { TimelinePiece } from '../../server/measurement/timeline-map.ts';
import {
  moveMoment,
  movePlace,
  moveSpan,
  nearestMoment,
  stepsBetween,
} from '../../server/measurement/timeline-position.ts';

/**
 * Proves where a place of one version stands in another: worked out by hand for a cut, an insertion and a late start,
 * and by property that the way back undoes the way there. Nothing is taken from the comparison that finds the pieces.
 */
const piece = (startSecondsA: number, startSecondsB: number, lengthSeconds: number): TimelinePiece => ({
  startSecondsA,
  startSecondsB,
  lengthSeconds,
  confidence: 1,
});
/** 10 s, from 0:20 on, were cut. */
const cut = [piece(0, 0, 20), piece(30, 20, 30)];
/** 4 s were put in at 0:20. */
const inserted = [piece(0, 0, 20), piece(20, 24, 40)];
const newer = (pieces: TimelinePiece[]) => ({ pieces, towards: 'newer' as const });
const older = (pieces: TimelinePiece[]) => ({ pieces, towards: 'older' as const });

describe('a moment', () => {
  it('after a cut stands earlier, before it where it stood, and inside it nowhere', () => {
    expect(moveMoment(12, newer(cut))).toBe(12);
    expect(moveMoment(35, newer(cut))).toBe(25);
    expect(moveMoment(24, newer(cut))).toBeNull();
    expect(moveMoment(25, older(cut))).toBe(35);
  });

  it('on the seam of a cut belongs to what follows, and on the seam of an insertion too', () => {
    expect(moveMoment(20, older(cut))).toBe(30);
    expect(moveMoment(20, newer(inserted))).toBe(24);
  });

  it('that misses a piece by less than a tenth of a second is at its edge', () => {
    const early = [piece(0.003, 0, 60)];
    expect(moveMoment(0, newer(early))).toBe(0);
    expect(moveMoment(60.05, newer(early))).toBe(60);
    expect(moveMoment(61, newer(early))).toBeNull();
  });
});

describe('the nearest moment', () => {
  it('is the moment itself, or the seam where it was cut', () => {
    expect(nearestMoment(35, newer(cut))).toBe(25);
    expect(nearestMoment(22, newer(cut))).toBe(20);
    expect(nearestMoment(28, newer(cut))).toBe(20);
    expect(nearestMoment(500, newer(cut))).toBe(50);
    expect(nearestMoment(21, older(inserted))).toBe(20);
  });
});

describe('a stretch', () => {
  it('keeps what is left of it', () => {
    expect(moveSpan({ startSeconds: 15, endSeconds: 25 }, newer(cut))).toEqual([
      { startSeconds: 15, endSeconds: 20 },
    ]);
    expect(moveSpan({ startSeconds: 22, endSeconds: 28 }, newer(cut))).toEqual([]);
    expect(moveSpan({ startSeconds: 15, endSeconds: 35 }, newer(cut))).toEqual([
      { startSeconds: 15, endSeconds: 25 },
    ]);
  });

  it('falls apart around what was put in', () => {
    expect(moveSpan({ startSeconds: 18, endSeconds: 22 }, newer(inserted))).toEqual([
      { startSeconds: 18, endSeconds: 20 },
      { startSeconds: 24, endSeconds: 26 },
    ]);
  });

  it('says whether all, part or nothing of it is left', () => {
    const place = (startSeconds: number, endSeconds: number | null) =>
      movePlace({ startSeconds, endSeconds }, [newer(cut)]);
    expect(place(2, 4)).toMatchObject({ left: 'all', range: { startSeconds: 2, endSeconds: 4 } });
    expect(place(15, 35)).toMatchObject({ left: 'part', range: { startSeconds: 15, endSeconds: 25 } });
    expect(place(22, 28)).toEqual({ left: 'none', range: null, spans: [] });
    expect(place(35, null)).toMatchObject({ left: 'all', range: { startSeconds: 25, endSeconds: null } });
    expect(place(24, null)).toMatchObject({ left: 'none', range: null });
  });
});

describe('a chain of versions', () => {
  const compared = [
    { older: 'v1', newer: 'v2', pieces: cut },
    { older: 'v2', newer: 'v3', pieces: inserted },
  ];

  it('is walked there and back', () => {
    const there = stepsBetween('v1', 'v3', compared)!;
    const back = stepsBetween('v3', 'v1', compared)!;
    expect(movePlace({ startSeconds: 35, endSeconds: null }, there).range?.startSeconds).toBe(29);
    expect(movePlace({ startSeconds: 29, endSeconds: null }, back).range?.startSeconds).toBe(35);
    expect(movePlace({ startSeconds: 24, endSeconds: null }, there).left).toBe('none');
  });

  it('takes the shortest way, needs none from a version to itself, and may not exist', () => {
    expect(stepsBetween('v1', 'v3', [...compared, { older: 'v1', newer: 'v3', pieces: cut }])).toHaveLength(
      1,
    );
    expect(stepsBetween('v2', 'v2', compared)).toEqual([]);
    expect(stepsBetween('v1', 'v4', compared)).toBeNull();
  });
});

/** Pieces in order in both versions, cuts and insertions of half a second and more between them. */
const timelines = fc
  .array(
    fc.record({
      cut: fc.oneof(fc.constant(0), fc.integer({ min: 5, max: 80 })),
      put: fc.oneof(fc.constant(0), fc.integer({ min: 5, max: 80 })),
      length: fc.integer({ min: 10, max: 600 }),
    }),
    { minLength: 1, maxLength: 8 },
  )
  .map((parts) => {
    let a = 0;
    let b = 0;
    return parts.map(({ cut: gone, put, length }) => {
      a += gone;
      b += put;
      const made = piece(a / 10, b / 10, length / 10);
      a += length;
      b += length;
      return made;
    });
  });

describe('every timeline', () => {
  it('is undone by its way back, wherever the other version has the moment', () => {
    fc.assert(
      fc.property(timelines, fc.double({ min: 0, max: 400, noNaN: true }), (pieces, seconds) => {
        const inside = pieces.some(
          ({ startSecondsA, lengthSeconds }) =>
            seconds >= startSecondsA && seconds < startSecondsA + lengthSeconds,
        );
        const there = moveMoment(seconds, newer(pieces));
        if (!inside) return;
        expect(there).not.toBeNull();
        expect(moveMoment(there!, older(pieces))).toBeCloseTo(seconds, 9);
      }),
      { seed: 20_261_126 },
    );
  });

  it('never makes a stretch longer than it was, and keeps its order', () => {
    fc.assert(
      fc.property(
        timelines,
        fc.double({ min: 0, max: 300, noNaN: true }),
        fc.double({ min: 0.2, max: 100, noNaN: true }),
        (pieces, startSeconds, length) => {
          const spans = moveSpan({ startSeconds, endSeconds: startSeconds + length }, newer(pieces));
          const left = spans.reduce((sum, span) => sum + span.endSeconds - span.startSeconds, 0);
          expect(left).toBeLessThanOrEqual(length + 1e-9);
          for (const [index, span] of spans.entries())
            if (index > 0) expect(span.startSeconds).toBeGreaterThan(spans[index - 1]!.endSeconds);
        },
      ),
      { seed: 20_261_127 },
    );
  });
});
