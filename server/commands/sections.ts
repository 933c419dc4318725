import { stat } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { findSections } from '../analysis/find-sections.ts';
import type { SectionProposal } from '../measurement/section-finder.ts';
import type { Tempo } from '../measurement/tempo.ts';
import type { Command } from './command.ts';

const usage = 'Usage: countoff sections FILE [--tempo BPM] [--json]';
const tempoRangeBpm = { least: 20, most: 400 } as const;

/**
 * `countoff sections FILE [--tempo BPM] [--json]`: where the sections of a song may begin, heard from the audio alone.
 *
 * With `--json` the output is an array of `{ "name", "start", "end", "confidence" }` in seconds, as
 * `countoff measure --sections` reads it; `confidence` is that of the boundary at `start`, 1 for the song's own start. It
 * is empty where nothing stands out. Tempo and metre go to standard error then, so that the array stays alone.
 */
export const sections: Command = {
  name: 'sections',
  summary: 'FILE [--tempo BPM] [--json]: sections and tempo proposed from the audio, to be edited',
  async run(args) {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { tempo: { type: 'string' }, json: { type: 'boolean' } },
    });
    const [path] = positionals;
    if (path === undefined || positionals.length > 1) throw new Error(usage);
    if (!(await stat(path).catch(() => null))?.isFile())
      throw new Error(`There is no file ${path} that can be read.`);
    const proposal = await findSections(path, { tempoBpm: tempoIn(values.tempo) });
    if (values.json) {
      console.error(tempoLine(proposal.tempo));
      console.log(JSON.stringify(rows(proposal)));
    } else console.log(table(proposal));
    return 0;
  },
};

function tempoIn(text: string | undefined): number | null {
  if (text === undefined) return null;
  const tempoBpm = Number(text);
  if (tempoBpm >= tempoRangeBpm.least && tempoBpm <= tempoRangeBpm.most) return tempoBpm;
  throw new Error(`--tempo takes beats a minute, ${tempoRangeBpm.least} to ${tempoRangeBpm.most}.`);
}

const rows = ({ sections: parts, boundaries }: SectionProposal) =>
  parts.map((part, index) => ({ ...part, confidence: index === 0 ? 1 : boundaries[index - 1]!.confidence }));

function tempoLine(tempo: Tempo | null): string {
  if (tempo === null) return 'Tempo: none that is steady.';
  const { tempoBpm, confidence, beatsPerBar, firstBarSeconds, firstBeatSeconds } = tempo;
  const bars =
    beatsPerBar === null
      ? `first beat at ${firstBeatSeconds.toFixed(2)} s, no metre found`
      : `${beatsPerBar} beats a bar, first bar at ${firstBarSeconds!.toFixed(2)} s`;
  return `Tempo: ${tempoBpm.toFixed(2)} beats a minute, ${bars} (confidence ${confidence.toFixed(2)})`;
}

function table(proposal: SectionProposal): string {
  const lines = rows(proposal).map(({ name, start, end, confidence }) =>
    [
      name.padEnd(12),
      start.toFixed(2).padStart(9),
      end.toFixed(2).padStart(9),
      (start === 0 ? '' : confidence.toFixed(2)).padStart(12),
    ]
      .join('')
      .trimEnd(),
  );
  return [
    tempoLine(proposal.tempo),
    '',
    ...(lines.length
      ? [
          `${'Part'.padEnd(12)}${'start s'.padStart(9)}${'end s'.padStart(9)}${'confidence'.padStart(12)}`,
          ...lines,
        ]
      : ['No sections stand out.']),
    '',
    'A proposal from the audio: listen to each boundary, and give the parts their names.',
  ].join('\n');
}
