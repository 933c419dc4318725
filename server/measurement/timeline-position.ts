import { comparisonThreshold } from './comparison-threshold.ts';
import type { TimelinePiece } from './timeline-map.ts';

/** A stretch of one version, in its own seconds. */
export interface TimelineSpan {
  startSeconds: number;
  endSeconds: number;
}

/** How a place gets from one version to another: the pieces that both share, read from A to B or back. */
export interface TimelineStep {
  pieces: readonly TimelinePiece[];
  towards: 'newer' | 'older';
}

/** What a gap has to be longer than to be a change of form; a moment that misses a piece by less belongs to it. */
const edgeSeconds = comparisonThreshold.shortestEditSeconds;

interface Shared {
  from: number;
  to: number;
  length: number;
}

function sharedOf({ pieces, towards }: TimelineStep): Shared[] {
  return pieces
    .map(({ startSecondsA, startSecondsB, lengthSeconds }) =>
      towards === 'newer'
        ? { from: startSecondsA, to: startSecondsB, length: lengthSeconds }
        : { from: startSecondsB, to: startSecondsA, length: lengthSeconds },
    )
    .sort((one, other) => one.from - other.from);
}

/**
 * Where a moment of one version stands in the other, in seconds. On an edge between two pieces it belongs to the later
 * one. A step back is the inverse of the step there, wherever both have the moment.
 *
 * @returns `null` where the other version no longer has it, or doesn't have it yet. Within a tenth of a second of a shared
 * piece, which is less than what is called an edit, it is that piece's edge.
 */
export function moveMoment(seconds: number, step: TimelineStep): number | null {
  const shared = sharedOf(step).some(
    ({ from, length }) => seconds > from - edgeSeconds && seconds < from + length + edgeSeconds,
  );
  return shared ? nearestMoment(seconds, step) : null;
}

/**
 * The moment of the other version that lies nearest to one of this: itself, where it has it, else the seam that it was
 * cut out at, or into which it is not put yet. Before all and after all pieces it is their edge.
 */
export function nearestMoment(seconds: number, step: TimelineStep): number {
  let nearest: { distance: number; at: number } | null = null;
  for (const { from, to, length } of sharedOf(step)) {
    const into = seconds - from;
    const distance = Math.max(-into, into - length, 0);
    if (nearest && distance > nearest.distance) continue;
    nearest = { distance, at: to + Math.min(length, Math.max(0, into)) };
  }
  return nearest?.at ?? seconds;
}

/**
 * What the other version still has of a stretch, in the order of the first version: one span where nothing was cut out of
 * it or put into it, several around what was put in, none where all of it is gone. Neighbours within a tenth of a second
 * are one span.
 */
export function moveSpan(span: TimelineSpan, step: TimelineStep): TimelineSpan[] {
  const left: TimelineSpan[] = [];
  for (const { from, to, length } of sharedOf(step)) {
    const start = Math.max(span.startSeconds, from);
    const end = Math.min(span.endSeconds, from + length);
    if (end <= start) continue;
    const moved = { startSeconds: start - from + to, endSeconds: end - from + to };
    const last = left.at(-1);
    if (last && Math.abs(moved.startSeconds - last.endSeconds) < edgeSeconds)
      last.endSeconds = moved.endSeconds;
    else left.push(moved);
  }
  return left;
}

/** How much of a place is left after its way through other versions. */
export type PlaceLeft = 'all' | 'part' | 'none';

/** Where a place stands after its way; `endSeconds` is `null` for a moment. */
export interface MovedPlace {
  left: PlaceLeft;
  /** From the first to the last of what is left; `null` where nothing is. */
  range: { startSeconds: number; endSeconds: number | null } | null;
  /** What is left of a stretch, apart; empty for a moment. */
  spans: TimelineSpan[];
}

/**
 * A moment or a stretch taken through several versions, one step after another.
 *
 * @param range A moment where `endSeconds` is `null`.
 * @param steps None leaves it where it is.
 */
export function movePlace(
  range: { startSeconds: number; endSeconds: number | null },
  steps: readonly TimelineStep[],
): MovedPlace {
  if (range.endSeconds === null) {
    let at: number | null = range.startSeconds;
    for (const step of steps) if (at !== null) at = moveMoment(at, step);
    return at === null
      ? { left: 'none', range: null, spans: [] }
      : { left: 'all', range: { startSeconds: at, endSeconds: null }, spans: [] };
  }
  const whole = { startSeconds: range.startSeconds, endSeconds: range.endSeconds };
  let spans: TimelineSpan[] = [whole];
  for (const step of steps) spans = spans.flatMap((span) => moveSpan(span, step));
  const [first] = spans;
  const last = spans.at(-1);
  if (!first || !last) return { left: 'none', range: null, spans: [] };
  const length = spans.reduce((sum, { startSeconds, endSeconds }) => sum + endSeconds - startSeconds, 0);
  const lost = whole.endSeconds - whole.startSeconds - length;
  return {
    left: lost > edgeSeconds ? 'part' : 'all',
    range: { startSeconds: first.startSeconds, endSeconds: last.endSeconds },
    spans,
  };
}

/** A comparison as an edge between two files. */
export interface ComparedFiles {
  older: string;
  newer: string;
  pieces: readonly TimelinePiece[];
}

/**
 * The shortest way from one file to another through what was compared; empty from a file to itself.
 *
 * @returns `null` where no chain of comparisons joins the two.
 */
export function stepsBetween(
  from: string,
  to: string,
  compared: readonly ComparedFiles[],
): TimelineStep[] | null {
  const ways = new Map<string, TimelineStep[]>([[from, []]]);
  const waiting = [from];
  for (let here = waiting.shift(); here !== undefined; here = waiting.shift()) {
    const way = ways.get(here) ?? [];
    if (here === to) return way;
    for (const { older, newer, pieces } of compared) {
      const next = older === here ? newer : newer === here ? older : null;
      if (next === null || ways.has(next)) continue;
      ways.set(next, [...way, { pieces, towards: older === here ? 'newer' : 'older' }]);
      waiting.push(next);
    }
  }
  return null;
}
