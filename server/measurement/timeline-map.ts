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
}

/**
 * Where a moment of version A stands in version B; `null` where it was cut. Pins of older versions move by this.
 *
 * @param pieces In time order.
 */
export function secondsInB(pieces: readonly TimelinePiece[], secondsA: number): number | null {
  const piece = pieces.find(
    ({ startSecondsA, lengthSeconds }) =>
      secondsA >= startSecondsA && secondsA < startSecondsA + lengthSeconds,
  );
  return piece ? piece.startSecondsB + (secondsA - piece.startSecondsA) : null;
}

/** Where a moment of version B stood in version A; `null` where B has something new. */
export function secondsInA(pieces: readonly TimelinePiece[], secondsB: number): number | null {
  const piece = pieces.find(
    ({ startSecondsB, lengthSeconds }) =>
      secondsB >= startSecondsB && secondsB < startSecondsB + lengthSeconds,
  );
  return piece ? piece.startSecondsA + (secondsB - piece.startSecondsB) : null;
}

/** A section of A as it stands in B: from its first to its last moment that is still there; `null` where all was cut. */
export function spanInB(
  pieces: readonly TimelinePiece[],
  span: { start: number; end: number },
): { start: number; end: number } | null {
  let start: number | null = null;
  let end: number | null = null;
  for (const { startSecondsA, startSecondsB, lengthSeconds } of pieces) {
    const from = Math.max(span.start, startSecondsA);
    const to = Math.min(span.end, startSecondsA + lengthSeconds);
    if (to <= from) continue;
    start ??= startSecondsB + (from - startSecondsA);
    end = startSecondsB + (to - startSecondsA);
  }
  return start === null || end === null ? null : { start, end };
}
