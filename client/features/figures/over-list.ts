import { html, nothing, type TemplateResult } from 'lit';
import type { ClippedRun, Measurement, Over } from '../../api/types.ts';
import { listWords } from '../../elements/count-words.ts';
import { difference } from '../../elements/figures-table.ts';
import { timeCode } from '../../elements/time-code.ts';
import { channelWord } from './finding.ts';

/** A tenth of a second in which something stands at or over full scale. */
export interface Spot {
  seconds: number;
  words: string;
}

const firstSpots = 12;

/** Overs and clipped runs in the order in which they are heard, those within a tenth of a second as one spot. */
export function spotsOf({ overs, clips, channelCount }: Measurement): Spot[] {
  const tenths = new Map<number, { seconds: number; overs: Over[]; clips: ClippedRun[] }>();
  const tenthOf = (seconds: number) => {
    const key = Math.floor(seconds * 10);
    const known = tenths.get(key);
    const tenth = known ?? { seconds, overs: [], clips: [] };
    tenth.seconds = Math.min(tenth.seconds, seconds);
    if (!known) tenths.set(key, tenth);
    return tenth;
  };
  for (const over of overs) tenthOf(over.timeSeconds).overs.push(over);
  for (const clip of clips) tenthOf(clip.timeSeconds).clips.push(clip);
  return [...tenths.values()]
    .sort((one, other) => one.seconds - other.seconds)
    .map(({ seconds, overs: here, clips: runs }) => ({
      seconds,
      words: [peakWords(here), clipWords(runs, channelCount)].filter(Boolean).join('; '),
    }));
}

function peakWords(overs: readonly Over[]): string {
  const highest = Math.max(...overs.map(({ truePeakDbtp }) => truePeakDbtp));
  return overs.length ? `true peak ${difference(highest, 'dBTP', 2)}` : '';
}

function clipWords(clips: readonly ClippedRun[], channelCount: number): string {
  if (!clips.length) return '';
  const channels = [...new Set(clips.map(({ channel }) => channel))].sort((one, other) => one - other);
  const where = listWords(channels.map((channel) => channelWord(channel, channelCount)));
  const longest = Math.max(...clips.map(({ frames }) => frames));
  return clips.length === 1
    ? `${longest} samples at full scale, ${where}`
    : `${clips.length} runs of up to ${longest} samples at full scale, ${where}`;
}

/** The spots as links to where they are heard; the rest of a long list behind a press. */
export function overList(
  measurement: Measurement,
  listenAddress: (seconds: number) => string,
  all: boolean,
  onAll: () => void,
): TemplateResult {
  const spots = spotsOf(measurement);
  const { oversCount, clippedRuns } = measurement;
  const total = oversCount + (clippedRuns ?? 0);
  if (!spots.length)
    return html`<p class="said">
      None: the true peak stays at or under 0 dBTP, and no three samples in a row stand at full scale.
    </p>`;
  const shown = all ? spots : spots.slice(0, firstSpots);
  return html`<ol class="spots">
      ${shown.map(
        ({ seconds, words }) =>
          html`<li><a href=${listenAddress(seconds)}>${timeCode(seconds, { tenths: true })}</a> ${words}</li>`,
      )}
    </ol>
    ${
      spots.length > shown.length
        ? html`<p class="said"><button type="button" @click=${onAll}>Show all ${spots.length}</button></p>`
        : nothing
    }
    ${
      total > measurement.overs.length + measurement.clips.length
        ? html`<p class="said">${oversCount} overs and ${clippedRuns ?? 0} clipped runs were counted; the first thousand of each are kept with their places.</p>`
        : nothing
    }`;
}
