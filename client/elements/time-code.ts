import type { Range, SectionMap } from '../api/types.ts';

/** Seconds as `m:ss`, or `m:ss.t` with tenths; cut, not rounded, as counters do. */
export function timeCode(seconds: number, { tenths = false }: { tenths?: boolean } = {}): string {
  const all = Math.max(0, Math.floor(seconds * 10 + 1e-6));
  const minutes = Math.floor(all / 600);
  const rest = Math.floor((all % 600) / 10);
  return `${minutes}:${String(rest).padStart(2, '0')}${tenths ? `.${all % 10}` : ''}`;
}

/**
 * Reads a typed time: `74.2`, `1:14`, `1:14.2` or `1:02:03`; a comma serves as a point.
 *
 * @returns seconds, or `null` where it is no time.
 */
export function parseTimeCode(text: string): number | null {
  const clean = text.trim().replace(',', '.');
  if (!/^(\d+:){0,2}\d+(\.\d*)?$/.test(clean)) return null;
  const pieces = clean.split(':').map(Number);
  if (pieces.slice(1).some((piece) => piece >= 60)) return null;
  return pieces.reduce((sum, piece) => sum * 60 + piece, 0);
}

/** A moment or a stretch: `1:02` or `0:28–0:36`. */
export function rangeCode(range: Range, options: { tenths?: boolean } = {}): string {
  const start = timeCode(range.startSeconds, options);
  return range.endSeconds === null ? start : `${start}–${timeCode(range.endSeconds, options)}`;
}

type Grid = Pick<SectionMap, 'tempoBpm' | 'beatsPerBar' | 'firstBarSeconds'>;

/** Bar and beat at a moment, from 1; `null` before bar 1 or without tempo and metre. */
export function barAndBeat(seconds: number, grid: Grid): { bar: number; beat: number } | null {
  if (!grid.tempoBpm || !grid.beatsPerBar || seconds < grid.firstBarSeconds - 1e-6) return null;
  const beats = Math.floor(((seconds - grid.firstBarSeconds) * grid.tempoBpm) / 60 + 1e-6);
  return { bar: Math.floor(beats / grid.beatsPerBar) + 1, beat: (beats % grid.beatsPerBar) + 1 };
}

/** How many bars a stretch lasts, to the nearest one; `null` without tempo and metre. */
export function barCount(startSeconds: number, endSeconds: number, grid: Grid): number | null {
  if (!grid.tempoBpm || !grid.beatsPerBar) return null;
  return Math.round(((endSeconds - startSeconds) * grid.tempoBpm) / 60 / grid.beatsPerBar);
}
