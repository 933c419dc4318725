import type { Range } from '../../api/types.ts';

/** How many seconds the close-up shows, from nearest to farthest; the last one is the whole song. */
export const zoomSeconds = [4, 8, 16, 32, 64] as const;

/** Where the note that is being written will stand. */
export type NotePlace =
  /** Nothing chosen yet: at the playhead, wherever it is when the first word is typed. */
  { kind: 'playhead' } | { kind: 'range'; range: Range } | { kind: 'song' };

/** What a person sees and has chosen on the listening page; nothing of it is on the ledger. */
export interface ListenView {
  durationSeconds: number;
  playheadSeconds: number;
  place: NotePlace;
  /** Playback turns around at the end of the marked range. */
  loop: boolean;
  /** An index into `zoomSeconds`; one past its end is the whole song. */
  zoom: number;
}

export type ListenAction =
  | { type: 'durationKnown'; seconds: number }
  | { type: 'playheadMoved'; seconds: number }
  /** The note starts here; without `seconds`, at the playhead. */
  | { type: 'startMarked'; seconds?: number }
  /** The note ends here. `sectionStartSeconds` is where it starts when no start was marked. */
  | { type: 'endMarked'; seconds?: number; sectionStartSeconds: number }
  | { type: 'rangeDragged'; from: number; to: number }
  | { type: 'rangeTyped'; range: Range }
  | { type: 'wholeSongChosen' }
  | { type: 'placeCleared' }
  /** The first word was typed: the place stops following the playhead. */
  | { type: 'typingStarted' }
  | { type: 'loopSet'; loop: boolean }
  | { type: 'zoomed'; by: 1 | -1 };

/** A drag or a mark shorter than this is a moment. */
const shortestRangeSeconds = 0.1;

export const initialView: ListenView = {
  durationSeconds: 0,
  playheadSeconds: 0,
  place: { kind: 'playhead' },
  loop: false,
  zoom: 2,
};

/** The range that is marked on the waveform; `null` for none. */
export function markedRange(view: ListenView): Range | null {
  return view.place.kind === 'range' ? view.place.range : null;
}

/**
 * Where a note would stand if it were sent now; `null` for the whole song, which is also meant by somebody who writes
 * without having played or marked anything.
 */
export function noteRange(view: ListenView): Range | null {
  if (view.place.kind === 'song' || (view.place.kind === 'playhead' && view.playheadSeconds === 0))
    return null;
  return markedRange(view) ?? { startSeconds: view.playheadSeconds, endSeconds: null };
}

/** How many seconds the close-up shows. */
export function visibleSeconds(view: ListenView): number {
  const chosen = zoomSeconds[view.zoom] ?? view.durationSeconds;
  return view.durationSeconds ? Math.min(chosen, view.durationSeconds) : chosen;
}

/** The next view after an action. Times stay inside the song, a range's end after its start. */
export function reduceListenView(view: ListenView, action: ListenAction): ListenView {
  const inside = (seconds: number) =>
    Math.max(0, view.durationSeconds ? Math.min(seconds, view.durationSeconds) : seconds);
  const ranged = (from: number, to: number | null): ListenView => {
    const range = rangeOf(inside(from), to === null ? null : inside(to));
    return { ...view, place: { kind: 'range', range }, loop: view.loop && range.endSeconds !== null };
  };
  switch (action.type) {
    case 'durationKnown': {
      const playheadSeconds = Math.min(view.playheadSeconds, action.seconds);
      return { ...view, durationSeconds: action.seconds, playheadSeconds };
    }
    case 'playheadMoved':
      return { ...view, playheadSeconds: inside(action.seconds) };
    case 'startMarked': {
      const start = action.seconds ?? view.playheadSeconds;
      const end = markedRange(view)?.endSeconds ?? null;
      return ranged(start, end !== null && end > start ? end : null);
    }
    case 'endMarked': {
      const start = markedRange(view)?.startSeconds ?? action.sectionStartSeconds;
      return ranged(start, action.seconds ?? view.playheadSeconds);
    }
    case 'rangeDragged':
      return ranged(action.from, action.to);
    case 'rangeTyped':
      return ranged(action.range.startSeconds, action.range.endSeconds);
    case 'wholeSongChosen':
      return { ...view, place: { kind: 'song' }, loop: false };
    case 'placeCleared':
      return { ...view, place: { kind: 'playhead' }, loop: false };
    case 'typingStarted':
      if (view.place.kind !== 'playhead') return view;
      return noteRange(view) ? ranged(view.playheadSeconds, null) : { ...view, place: { kind: 'song' } };
    case 'loopSet':
      return { ...view, loop: action.loop && (markedRange(view)?.endSeconds ?? null) !== null };
    case 'zoomed':
      return { ...view, zoom: Math.max(0, Math.min(zoomSeconds.length, view.zoom + action.by)) };
  }
}

/** Where playback goes on when it loops; `null` while it need not turn around. */
export function loopTurn(view: ListenView, seconds: number): number | null {
  const range = markedRange(view);
  if (!view.loop || !range || range.endSeconds === null) return null;
  return seconds >= range.endSeconds ? range.startSeconds : null;
}

function rangeOf(from: number, to: number | null): Range {
  if (to === null) return { startSeconds: from, endSeconds: null };
  const [startSeconds, endSeconds] = from <= to ? [from, to] : [to, from];
  return { startSeconds, endSeconds: endSeconds - startSeconds < shortestRangeSeconds ? null : endSeconds };
}
