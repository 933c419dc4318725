import type { Range } from '../../api/types.ts';
import type { CloseUpSpan } from '../../waveform/close-up.ts';

/** The marked range for the close-up: the same array as long as it did not change, so that an edge in the hand stays. */
export class MarkedSpan {
  #spans: CloseUpSpan[] = [];

  of(range: Range | null): CloseUpSpan[] {
    const [known] = this.#spans;
    const end = range?.endSeconds ?? null;
    if (range === null || end === null) {
      if (known) this.#spans = [];
    } else if (known?.startSeconds !== range.startSeconds || known.endSeconds !== end)
      this.#spans = [
        { id: 'marked', startSeconds: range.startSeconds, endSeconds: end, label: '', editable: true },
      ];
    return this.#spans;
  }
}
