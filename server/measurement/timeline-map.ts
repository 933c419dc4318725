/** A stretch that both versions share: B from `startSecondsB` on is A from `startSecondsA` on. */
export interface TimelinePiece {
  startSecondsA: number;
  startSecondsB: number;
  lengthSeconds: number;
  /** 0 to 1: how alike the two sound over the piece, once aligned. */
  confidence: number;
}

/**
 * - `cut`: A has it, B no longer has.
 * - `inserted`: B has it, A has not.
 * - `silence removed`, `silence added`: the same at the head or the tail, where what went or came is silent.
 */
export type EditKind = 'cut' | 'inserted' | 'silence removed' | 'silence added';

/** A change of form. An edit's place is where it stands in B. */
export interface TimelineEdit {
  kind: EditKind;
  atSeconds: number;
  lengthSeconds: number;
  /** The same in bars; `null` where the tempo isn't given. */
  lengthBars: number | null;
}
