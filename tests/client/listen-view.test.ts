import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  initialView,
  type ListenAction,
  type ListenView,
  loopTurn,
  noteRange,
  reduceListenView,
  visibleSeconds,
  zoomSeconds,
} from '../../client/features/listen/listen-view.ts';

const song: ListenView = { ...initialView, durationSeconds: 200, playheadSeconds: 60 };
const viewAfter = (...actions: ListenAction[]) => actions.reduce(reduceListenView, song);

/** Proves that a note stands where the person put it: at the playhead, over a marked range, or nowhere in particular. */
describe('where a note will stand', () => {
  it('is the playhead until something is marked', () => {
    expect(noteRange(viewAfter({ type: 'playheadMoved', seconds: 74.2 }))).toEqual({
      startSeconds: 74.2,
      endSeconds: null,
    });
  });

  it('stays where the first word was typed while the song plays on', () => {
    const view = viewAfter({ type: 'typingStarted' }, { type: 'playheadMoved', seconds: 90 });
    expect(noteRange(view)).toEqual({ startSeconds: 60, endSeconds: null });
  });

  it('is the whole song for somebody who writes without having played or marked anything', () => {
    const untouched: ListenView = { ...initialView, durationSeconds: 200 };
    expect(noteRange(untouched)).toBeNull();
    const writing = reduceListenView(untouched, { type: 'typingStarted' });
    expect(noteRange(reduceListenView(writing, { type: 'playheadMoved', seconds: 12 }))).toBeNull();
  });

  it('is a range from one mark to the next', () => {
    const view = viewAfter(
      { type: 'startMarked' },
      { type: 'playheadMoved', seconds: 66 },
      { type: 'endMarked', sectionStartSeconds: 52 },
    );
    expect(noteRange(view)).toEqual({ startSeconds: 60, endSeconds: 66 });
  });

  it('starts with the section where only an end was marked', () => {
    expect(noteRange(viewAfter({ type: 'endMarked', sectionStartSeconds: 52 }))).toEqual({
      startSeconds: 52,
      endSeconds: 60,
    });
  });

  it('drops an end that a new start has passed', () => {
    const view = viewAfter(
      { type: 'rangeTyped', range: { startSeconds: 10, endSeconds: 20 } },
      { type: 'startMarked' },
    );
    expect(noteRange(view)).toEqual({ startSeconds: 60, endSeconds: null });
  });

  it('reads a drag from right to left as the same range', () => {
    expect(noteRange(viewAfter({ type: 'rangeDragged', from: 30, to: 20 }))).toEqual({
      startSeconds: 20,
      endSeconds: 30,
    });
  });

  it('is nowhere in particular for the whole song, and the playhead again once cleared', () => {
    expect(noteRange(viewAfter({ type: 'wholeSongChosen' }))).toBeNull();
    expect(noteRange(viewAfter({ type: 'wholeSongChosen' }, { type: 'placeCleared' }))?.startSeconds).toBe(
      60,
    );
  });
});

/** Proves that no sequence of actions leads outside the song or turns a range around. */
describe('any sequence of actions', () => {
  const seconds = fc.double({ min: -50, max: 400, noNaN: true });
  const action: fc.Arbitrary<ListenAction> = fc.oneof(
    seconds.map((value): ListenAction => ({ type: 'playheadMoved', seconds: value })),
    fc.constant<ListenAction>({ type: 'startMarked' }),
    seconds.map((sectionStartSeconds): ListenAction => ({ type: 'endMarked', sectionStartSeconds })),
    fc.tuple(seconds, seconds).map(([from, to]): ListenAction => ({ type: 'rangeDragged', from, to })),
    fc.tuple(seconds, seconds).map(
      ([startSeconds, endSeconds]): ListenAction => ({
        type: 'rangeTyped',
        range: { startSeconds, endSeconds },
      }),
    ),
    fc.constantFrom<ListenAction>(
      { type: 'wholeSongChosen' },
      { type: 'placeCleared' },
      { type: 'typingStarted' },
      { type: 'loopSet', loop: true },
      { type: 'zoomed', by: 1 },
      { type: 'zoomed', by: -1 },
    ),
  );

  it('keeps times inside the song, ends after starts, and the close-up within its steps', () => {
    fc.assert(
      fc.property(fc.array(action, { maxLength: 30 }), (actions) => {
        const view = actions.reduce(reduceListenView, song);
        const range = noteRange(view);
        expect(view.playheadSeconds).toBeGreaterThanOrEqual(0);
        expect(view.playheadSeconds).toBeLessThanOrEqual(200);
        if (range) {
          expect(range.startSeconds).toBeGreaterThanOrEqual(0);
          expect(range.endSeconds ?? 200).toBeLessThanOrEqual(200);
          if (range.endSeconds !== null) expect(range.endSeconds).toBeGreaterThan(range.startSeconds);
        }
        if (view.loop) expect(range?.endSeconds).not.toBeNull();
        expect(visibleSeconds(view)).toBeGreaterThanOrEqual(zoomSeconds[0]);
        expect(visibleSeconds(view)).toBeLessThanOrEqual(200);
      }),
    );
  });
});

/** Proves that a marked range plays round and round only when asked for. */
describe('playing round and round', () => {
  const marked: ListenAction = { type: 'rangeTyped', range: { startSeconds: 52, endSeconds: 60 } };

  it('turns around at the end of the range', () => {
    const view = viewAfter(marked, { type: 'loopSet', loop: true });
    expect(loopTurn(view, 59.9)).toBeNull();
    expect(loopTurn(view, 60)).toBe(52);
  });

  it('plays on where it was not asked for, or where only a moment is marked', () => {
    expect(loopTurn(viewAfter(marked), 61)).toBeNull();
    const moment: ListenAction = { type: 'rangeTyped', range: { startSeconds: 52, endSeconds: null } };
    expect(viewAfter(moment, { type: 'loopSet', loop: true }).loop).toBe(false);
  });
});
