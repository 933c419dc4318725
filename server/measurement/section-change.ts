import {
  bandedResidualDb,
  bandResidualsDb,
  type Change,
  changesOfStretch,
  dynamicsChange,
  type SectionHops,
  steadyBands,
  stretchSpectrum,
} from './change.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import type { CrossSpectrum } from './cross-spectrum.ts';
import type { ResidualTrack } from './residual.ts';
import { ringing } from './ringing.ts';

/** What is told of one section, before its loudness is known. */
export interface ToldChanges {
  changes: Change[];
  residualDb: readonly (number | null)[];
  /** No band moves steadily where the null is limited: a change only where the section's loudness moved, too. */
  unsteady: boolean;
}

export const nothingTold: ToldChanges = { changes: [], residualDb: [], unsteady: false };

/**
 * What changed in a section.
 *
 * @param hops Its tenths of a second, among them those that sound and those that differ.
 * @param song Both mixes, A aligned; `gain` is linear and signed, and brings A to B's level. `limited` where the null is
 * limited all over the song: only what moves steadily counts then.
 */
export function changesIn(
  { active, changed }: SectionHops,
  song: {
    alignedA: readonly Float32Array[];
    channelsB: readonly Float32Array[];
    track: ResidualTrack;
    gain: number;
    spectrum: CrossSpectrum;
    limited: boolean;
    lossy: boolean;
    /** Whether A's own samples are compared. */
    asTheyAre: boolean;
    startFrameB: number;
    endFrameB: number;
    sampleRateHz: number;
  },
): ToldChanges {
  if (changed.length < comparisonThreshold.leastChangedHops) return nothingTold;
  const { track, limited, lossy, spectrum } = song;
  const dynamics = lossy ? null : dynamicsChange(track, changed);
  const stretch = stretchSpectrum(
    song.alignedA,
    song.channelsB,
    track,
    limited ? active : changed,
    song.gain,
    spectrum,
    song.startFrameB,
    song.endFrameB,
  );
  // Two converters differ next to half the sample rate, where nothing is asked for: there, only the bands count.
  if (!song.asTheyAre && bandedResidualDb(stretch) < comparisonThreshold.unchangedResidualDb)
    return nothingTold;
  const residualDb = bandResidualsDb(stretch);
  if (dynamics) return { changes: [dynamics], residualDb, unsteady: false };
  if (stretch.windows === 0) return nothingTold;
  const steady = limited ? steadyBands(stretch, lossy) : [];
  const among = lossy && steady.length > 0 ? steady : undefined;
  const changes = changesOfStretch(stretch, spectrum, song.sampleRateHz, among);
  return {
    changes: limited ? changes : changes.map((change) => asRoom(change, changed, song)),
    residualDb,
    unsteady: limited && steady.length === 0,
  };
}

/** What came or went is the room around a part where it rings on after the sound. */
function asRoom(
  change: Change,
  changed: readonly number[],
  { track, alignedA, channelsB, gain, sampleRateHz }: Parameters<typeof changesIn>[1],
): Change {
  if (change.band === null || change.kind === 'replaced') return change;
  const first = changed[0]!;
  // Within one piece, and no more than a quarter of a minute.
  const shift = track.startFrameA[first]! - track.startFrameB[first]!;
  const same = changed.filter(
    (hop) =>
      track.startFrameA[hop]! - track.startFrameB[hop]! === shift &&
      track.startFrameB[hop]! - track.startFrameB[first]! < 15 * sampleRateHz,
  );
  const startFrameB = track.startFrameB[first]!;
  const frames = track.startFrameB[same.at(-1)!]! + track.hopFrames - startFrameB;
  const more = same.reduce((sum, hop) => sum + track.product[hop]! - track.powerA[hop]!, 0);
  const room = ringing(
    alignedA,
    channelsB,
    gain,
    startFrameB + shift,
    startFrameB,
    frames,
    change.band,
    sampleRateHz,
  );
  return room
    ? {
        ...change,
        kind: more > 0 ? 'wetter' : 'drier',
        towards: null,
        confidence: room.confidence,
        partGainDb: null,
      }
    : change;
}
