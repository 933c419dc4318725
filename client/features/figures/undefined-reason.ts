import type { Figures, SectionFigures } from '../../api/types.ts';
import type { FigureName } from '../glossary/figure-entries.ts';

const blockSeconds = 0.4;
const shortTermSeconds = 3;
/** Left and right count as the same, or as opposites, from here on. */
const sameCorrelation = 0.999;

const stereoFigures: readonly FigureName[] = ['correlation', 'midSideBalanceDb', 'monoFoldDownLossLu'];
const loudnessFigures: readonly FigureName[] = [
  'integratedLoudnessLufs',
  'loudnessRangeLu',
  'maxMomentaryLoudnessLufs',
  'maxShortTermLoudnessLufs',
  'plrDb',
  'monoFoldDownLossLu',
];

/** Why a section has no figures. */
export const problemWords: Record<NonNullable<SectionFigures['problem']>, string> = {
  outside_file: 'reaches outside the file',
  too_short: 'shorter than 400 ms',
};

/** Why a figure is undefined, in a few plain words; `null` where that isn't known. */
export function undefinedReason(
  name: FigureName,
  figures: Figures & Partial<Pick<SectionFigures, 'problem'>>,
  channelCount: number,
): string | null {
  const seconds = figures.endSeconds - figures.startSeconds;
  if (figures.problem) return problemWords[figures.problem];
  if (figures.silent) return 'silence';
  if (stereoFigures.includes(name) && channelCount !== 2) return channelCount === 1 ? 'mono' : 'not stereo';
  if (loudnessFigures.includes(name)) {
    if (seconds < blockSeconds) return problemWords.too_short;
    const needsThree = name === 'maxShortTermLoudnessLufs' || name === 'loudnessRangeLu';
    if (needsThree && seconds < shortTermSeconds) return 'shorter than 3 s';
    if (figures.integratedLoudnessLufs === null) return 'too quiet to be measured';
    if (name === 'monoFoldDownLossLu') return 'nothing is left in mono';
  }
  if (name === 'correlation') return 'one channel is silent';
  if (name === 'midSideBalanceDb') {
    if ((figures.correlation ?? 0) >= sameCorrelation) return 'left and right are the same';
    if ((figures.correlation ?? 0) <= -sameCorrelation) return 'left and right are opposites';
  }
  return null;
}
