import type { ComparedSound } from './comparison.ts';
import { type Match, matchOlder } from './matched-older.ts';
import type { Measurement } from './measurement.ts';
import { createMeter } from './meter.ts';

/**
 * How loud the change alone may be. Our own choice, on two cautions that are *common practice*: a difference signal is
 * never louder than the mix that it belongs to, so that nobody turns back to a mix that startles; and what is merely
 * dither or rounding is never turned up to be heard as a change.
 */
export const changeLevel = {
  /** The change stays so far under the mix, by integrated loudness and by the loudest 3 s. */
  underMixLu: 6,
  /** The most that it is turned up by: a faint change is heard, dither of 16 bits (−93 dBFS) stays under −80. */
  mostRaiseDb: 12,
  /** No peak passes this. @source EBU R 128, maximum true-peak level */
  ceilingDbtp: -1,
  /** Up and down at the ends of what can be laid side by side, so that a cut is no click. */
  fadeSeconds: 0.005,
} as const;

/**
 * What kept the change from being played louder: the mix's loudness, the true-peak ceiling, or the most that is ever
 * raised. `no loudness`: nothing of it reaches BS.1770's gate (−70 LUFS), so that it is not raised at all.
 */
export type ChangeGainLimit = 'loudness' | 'true peak' | 'most raise' | 'no loudness';

/** What was made, in figures; levels are those that are heard, the gain included. */
export interface ChangeFigures {
  /** One gain throughout; 0 is the level that the change has in B. */
  gainDb: number;
  gainLimit: ChangeGainLimit;
  /** Not a sample differs where the two can be laid side by side. */
  silent: boolean;
  /** `null` where nothing passes the gate. */
  integratedLoudnessLufs: number | null;
  /** `null` for silence. */
  truePeakDbtp: number | null;
  /** Of B as it plays on as many speakers, which the change was held against. */
  mixIntegratedLoudnessLufs: number | null;
  /** What of B has nothing in A to lay it beside, and is silent here. */
  unmatchedSeconds: number;
}

export interface ChangeRender {
  /** B's rate, length and time. */
  channels: Float32Array[];
  figures: ChangeFigures;
}

const pushFrames = 8192;

/**
 * The change alone: what is left of B when A, laid over it by a comparison, is taken away. On B's timeline, silent where
 * the two can't be laid side by side, at one gain throughout.
 *
 * @param match what a comparison of the same two found.
 * @throws MeasurementError where a sample is no number
 * @source null test, *common practice*; levels: ITU-R BS.1770-5
 */
export function renderChange(
  a: ComparedSound,
  b: ComparedSound,
  match: Match,
  onProgress: (share: number) => void = () => {},
): ChangeRender {
  const { channels: matched, stretches } = matchOlder(a, b, match);
  onProgress(0.3);
  const { sampleRateHz } = b;
  const framesB = b.channels[0]!.length;
  const fadeFrames = Math.round(changeLevel.fadeSeconds * sampleRateHz);
  const channels = matched.map((older, index) => {
    const newer = b.channels[index] ?? b.channels[0]!;
    const rest = new Float32Array(framesB);
    for (const { fromFrame, endFrame } of stretches)
      for (let frame = fromFrame; frame < endFrame; frame++) {
        const fade = Math.min(1, (frame - fromFrame + 1) / fadeFrames, (endFrame - frame) / fadeFrames);
        rest[frame] = fade * (newer[frame]! - older[frame]!);
      }
    return rest;
  });
  onProgress(0.5);
  const rest = measured(channels, sampleRateHz);
  onProgress(0.75);
  const mix = measured(
    channels.map((_, index) => b.channels[index] ?? b.channels[0]!),
    sampleRateHz,
  );
  const { gainDb, gainLimit } = gainOf(rest, mix);
  const gain = 10 ** (gainDb / 20);
  for (const channel of channels)
    for (let frame = 0; frame < framesB; frame++) channel[frame] = channel[frame]! * gain;
  onProgress(1);
  const raised = (level: number | null) => (level === null ? null : level + gainDb);
  const matchedFrames = stretches.reduce((sum, { fromFrame, endFrame }) => sum + endFrame - fromFrame, 0);
  return {
    channels,
    figures: {
      gainDb,
      gainLimit,
      silent: rest.truePeakDbtp === null,
      integratedLoudnessLufs: raised(rest.integratedLoudnessLufs),
      truePeakDbtp: raised(rest.truePeakDbtp),
      mixIntegratedLoudnessLufs: mix.integratedLoudnessLufs,
      unmatchedSeconds: (framesB - matchedFrames) / sampleRateHz,
    },
  };
}

function measured(channels: readonly Float32Array[], sampleRateHz: number): Measurement {
  const meter = createMeter({ sampleRateHz, channelCount: channels.length });
  const frames = channels[0]!.length;
  try {
    for (let from = 0; from < frames; from += pushFrames) {
      const count = Math.min(pushFrames, frames - from);
      meter.push(
        channels.map((channel) => channel.subarray(from, from + count)),
        count,
      );
    }
    return meter.finish();
  } finally {
    meter.close();
  }
}

type Levels = Pick<Measurement, 'integratedLoudnessLufs' | 'maxShortTermLoudnessLufs' | 'truePeakDbtp'>;

/** The largest gain that no limit forbids. */
export function gainOf(rest: Levels, mix: Levels): { gainDb: number; gainLimit: ChangeGainLimit } {
  const roomUnder = (level: number | null, own: number | null) =>
    level === null || own === null ? Infinity : level - changeLevel.underMixLu - own;
  const limits: [ChangeGainLimit, number][] = [
    rest.integratedLoudnessLufs === null || mix.integratedLoudnessLufs === null
      ? ['no loudness', 0]
      : ['most raise', changeLevel.mostRaiseDb],
    ['loudness', roomUnder(mix.integratedLoudnessLufs, rest.integratedLoudnessLufs)],
    ['loudness', roomUnder(mix.maxShortTermLoudnessLufs, rest.maxShortTermLoudnessLufs)],
    ['true peak', rest.truePeakDbtp === null ? Infinity : changeLevel.ceilingDbtp - rest.truePeakDbtp],
  ];
  const [gainLimit, gainDb] = limits.reduce((least, each) => (each[1] < least[1] ? each : least));
  return { gainDb, gainLimit };
}
