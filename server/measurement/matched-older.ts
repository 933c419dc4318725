import type { ComparedSound } from './comparison.ts';
import { resample } from './rate-conversion.ts';
import type { TimelinePiece } from './timeline-map.ts';

/** What a comparison found of how A lies over B: all that is needed to lay it there again. */
export interface Match {
  /** −1 where B is A upside down. */
  polarity: 1 | -1;
  /** What A is brought up by to be as loud as B where nothing changed. */
  gainDb: number;
  /** How much slower B runs than A, in millionths; alike where it is left out. */
  driftPpm?: number;
  /** Places in A may be fractions of a frame. */
  pieces: Pick<TimelinePiece, 'startSecondsA' | 'startSecondsB' | 'lengthSeconds'>[];
}

export function matchOf({
  alignment: { polarity, driftPpm = 0, pieces },
  gainDb,
}: {
  alignment: Omit<Match, 'gainDb'>;
  gainDb: number;
}): Match {
  return {
    polarity,
    gainDb,
    driftPpm,
    pieces: pieces.map(({ startSecondsA, startSecondsB, lengthSeconds }) => ({
      startSecondsA,
      startSecondsB,
      lengthSeconds,
    })),
  };
}

export interface MatchedOlder {
  /** As many channels as B or A has, whichever has more; as long as B, silent where A has nothing to lay beside it. */
  channels: Float32Array[];
  /** Where A lies beside B: frames of B, in order, the end not included. */
  stretches: { fromFrame: number; endFrame: number }[];
}

/** A place in A this near to a whole frame is that frame, and A's own samples are taken. */
const wholeFrame = 1e-6;

/** A as it would sound in B: on B's timeline, at B's rate and gain, the right way up. */
export function matchOlder(a: ComparedSound, b: ComparedSound, match: Match): MatchedOlder {
  const framesB = b.channels[0]!.length;
  const count = Math.max(a.channels.length, b.channels.length);
  const gain = match.polarity * 10 ** (match.gainDb / 20);
  const ratio = (b.sampleRateHz / a.sampleRateHz) * (1 + (match.driftPpm ?? 0) / 1e6);
  const matched = a.channels.map(() => new Float32Array(framesB));
  const stretches = match.pieces.map(({ startSecondsA, startSecondsB, lengthSeconds }) => {
    const fromFrame = Math.round(startSecondsB * b.sampleRateHz);
    const endFrame = Math.min(framesB, fromFrame + Math.round(lengthSeconds * b.sampleRateHz));
    const placeInA = startSecondsA * a.sampleRateHz;
    const firstInA = Math.round(placeInA);
    const asItIs = ratio === 1 && Math.abs(placeInA - firstInA) < wholeFrame;
    const frames = Math.max(0, endFrame - fromFrame);
    for (const [index, channel] of a.channels.entries()) {
      const source = asItIs
        ? channel.subarray(Math.max(0, firstInA), firstInA + frames)
        : resample([channel], ratio, frames, placeInA)[0]!;
      const target = matched[index]!;
      for (let frame = 0; frame < source.length; frame++) target[fromFrame + frame] = gain * source[frame]!;
    }
    return { fromFrame, endFrame };
  });
  // Mono plays on both speakers.
  return { channels: matched.length < count ? [matched[0]!, matched[0]!] : matched, stretches };
}
