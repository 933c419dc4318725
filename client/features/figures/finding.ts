import type { Measurement } from '../../api/types.ts';
import { asSentence, countWords, listWords, numberWord } from '../../elements/count-words.ts';
import type { FigureName } from '../glossary/figure-entries.ts';

/** Something about a file that wants an ear or a look. */
export interface Finding {
  figure: FigureName;
  words: string;
}

/** A mean value past −60 dBFS is worth a word (*common practice*). */
const notedDcOffset = 0.001;

/** `left`, `right`; by number where there are more than two. */
export function channelWord(channel: number, channelCount: number): string {
  if (channelCount === 1) return 'the only channel';
  return channelCount === 2 ? (channel === 0 ? 'left' : 'right') : `channel ${channel + 1}`;
}

function channelsWords(channels: readonly number[], channelCount: number): string {
  if (channelCount === 1) return 'the file';
  const words = listWords(channels.map((channel) => channelWord(channel, channelCount)));
  if (channelCount > 2) return words;
  return `the ${words} channel${channels.length === 1 ? '' : 's'}`;
}

/** What may be wrong with a file, the gravest first; empty where a meter sees nothing. */
export function findingsOf(measurement: Measurement): Finding[] {
  const { silent, oversCount, clippedRuns, deadChannels, polaritySuspect, dcOffset, channelCount } =
    measurement;
  if (silent) return [{ figure: 'silent', words: 'The file is silent: no sample passes −60 dBFS.' }];
  const offset = dcOffset.flatMap((mean, channel) => (Math.abs(mean ?? 0) > notedDcOffset ? [channel] : []));
  return [
    deadChannels.length && {
      figure: 'deadChannels',
      words: `There is no sound in ${channelsWords(deadChannels, channelCount)}.`,
    },
    polaritySuspect && {
      figure: 'polaritySuspect',
      words: 'Left and right cancel more than they add: one of them may be the wrong way round.',
    },
    clippedRuns && {
      figure: 'clippedRuns',
      words: `${asSentence(countWords(clippedRuns, 'run'))} of samples at full scale: clipping, or the style.`,
    },
    oversCount && {
      figure: 'oversCount',
      words: `The true peak passes full scale in ${countWords(oversCount, 'spot')}.`,
    },
    offset.length && {
      figure: 'dcOffset',
      words: `The wave does not rest at zero in ${channelsWords(offset, channelCount)}.`,
    },
  ].filter((finding): finding is Finding => Boolean(finding));
}

/** The first sentence: whether there is something to look at. */
export function findingSentence(findings: readonly Finding[]): string {
  if (!findings.length)
    return 'No overs, no clipping, and every channel sounds: a meter finds nothing wrong.';
  return findings.length === 1
    ? 'One thing wants a look.'
    : `${asSentence(numberWord(findings.length))} things want a look.`;
}
