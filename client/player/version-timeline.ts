/** A stretch that an older and a newer version share, and where it stands in each. */
export interface SharedPiece {
  olderStartSeconds: number;
  newerStartSeconds: number;
  lengthSeconds: number;
}

/** Tells the same place of the song in two versions; a place that one of them lacks is moved to the nearest shared one. */
export interface VersionTimeline {
  inOlder: (newerSeconds: number) => number;
  inNewer: (olderSeconds: number) => number;
}

/** Two versions that start and run together, or that have not been compared yet. */
export const sameTimeline: VersionTimeline = { inOlder: (seconds) => seconds, inNewer: (seconds) => seconds };

/** The timeline of two versions by the pieces that they share, in time order. */
export function timelineOf(pieces: readonly SharedPiece[]): VersionTimeline {
  if (!pieces.length) return sameTimeline;
  return {
    inOlder: (seconds) => moved(pieces, seconds, 'newerStartSeconds', 'olderStartSeconds'),
    inNewer: (seconds) => moved(pieces, seconds, 'olderStartSeconds', 'newerStartSeconds'),
  };
}

type Start = 'newerStartSeconds' | 'olderStartSeconds';

/** Before the first piece and after the last one the versions are taken to run on in step with it. */
function moved(pieces: readonly SharedPiece[], seconds: number, from: Start, to: Start): number {
  const index = pieces.findLastIndex((piece) => seconds >= piece[from]);
  const piece = pieces[Math.max(0, index)]!;
  const next = pieces[index + 1];
  const into = seconds - piece[from];
  const inGap = index >= 0 && next !== undefined && into > piece.lengthSeconds;
  return Math.max(0, piece[to] + (inGap ? piece.lengthSeconds : into));
}
