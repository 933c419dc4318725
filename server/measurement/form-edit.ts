import type { AlignedPiece } from './alignment.ts';
import type { Change } from './change.ts';
import type { Tempo } from './comparison.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import type { SectionSpan } from './measurement.ts';
import type { TimelineEdit } from './timeline-map.ts';

/** The edits between, before and after the pieces. */
export function editsOf(
  pieces: readonly AlignedPiece[],
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  sampleRateHz: number,
  tempo: Tempo | null,
): TimelineEdit[] {
  const edits: TimelineEdit[] = [];
  const add = (kind: TimelineEdit['kind'], atFrame: number, frames: number) => {
    const lengthSeconds = frames / sampleRateHz;
    const lengthBars = tempo && (lengthSeconds * tempo.tempoBpm) / 60 / tempo.beatsPerBar;
    edits.push({ kind, atSeconds: atFrame / sampleRateHz, lengthSeconds, lengthBars });
  };
  const shortest = comparisonThreshold.shortestEditSeconds * sampleRateHz;
  const silent = (channels: readonly Float32Array[], from: number, to: number) =>
    channels.every((channel) => channel.subarray(from, to).every((value) => Math.abs(value) < 0.001));
  const addGap = (fromA: number, toA: number, fromB: number, toB: number, inside: boolean) => {
    const gone = toA - fromA;
    const come = toB - fromB;
    if (gone >= shortest) {
      const kind = silent(a, fromA, toA) ? 'silence removed' : 'cut';
      add(kind, fromB, gone);
    }
    if (come >= shortest || (inside && come > 0 && gone === 0)) {
      const kind = silent(b, fromB, toB) ? 'silence added' : 'inserted';
      add(kind, fromB, come);
    }
  };
  let endA = 0;
  let endB = 0;
  for (const [index, { startFrameA, startFrameB, frames }] of pieces.entries()) {
    addGap(endA, startFrameA, endB, startFrameB, index > 0);
    endA = startFrameA + frames;
    endB = startFrameB + frames;
  }
  addGap(endA, a[0]!.length, endB, b[0]!.length, false);
  return edits;
}

/**
 * Whether an edit of the form falls within a section; a cut on an edge belongs to the section that starts there, one at
 * the end of B to the last. Silence that came or went at head or tail changes no section.
 */
export function touches(
  edit: TimelineEdit,
  { start, end }: SectionSpan,
  pieces: readonly AlignedPiece[],
  framesB: number,
  sampleRateHz: number,
): boolean {
  const { kind, atSeconds, lengthSeconds } = edit;
  const last = pieces.at(-1)!;
  const inside =
    atSeconds * sampleRateHz > pieces[0]!.startFrameB &&
    atSeconds * sampleRateHz < last.startFrameB + last.frames;
  if (kind.startsWith('silence') && !inside) return false;
  if (comes(edit)) return atSeconds < end - 0.05 && atSeconds + lengthSeconds > start + 0.05;
  const durationSeconds = framesB / sampleRateHz;
  const atTheEnd = atSeconds > durationSeconds - 0.02 && end > durationSeconds - 0.02;
  return atSeconds >= start - 0.02 && (atSeconds < end - 0.02 || atTheEnd);
}

/** Whether an edit makes the song longer. */
const comes = ({ kind }: TimelineEdit) => kind === 'inserted' || kind === 'silence added';

/** A change of the form as it stands among a section’s changes. */
export function changeOfEdit(edit: TimelineEdit): Change {
  return {
    kind: comes(edit) ? 'inserted' : 'cut',
    band: null,
    confidence: 1,
    partGainDb: null,
    towards: null,
  };
}
