import { once } from 'node:events';
import { stat } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { measureFile } from '../analysis/measure-file.ts';
import type { Figures, Measurement, SectionFigures, SectionSpan } from '../measurement/measurement.ts';
import { levelsOf } from '../measurement/series.ts';
import type { Command } from './command.ts';

/**
 * `countoff measure FILE [--sections S.json] [--json]`: the figures of a file and of each section.
 *
 * With `--json` the output is one object, `Measurement` of `server/measurement/measurement.ts`: its keys are stable, carry
 * their units, and are `null` where a figure is undefined. `series` holds one array a column of `Series`, in decibels.
 */
export const measure: Command = {
  name: 'measure',
  summary:
    'FILE [--sections S.json] [--json]: loudness, peaks, spectrum and image of a file and its sections',
  async run(args) {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { sections: { type: 'string' }, json: { type: 'boolean' } },
    });
    const [path] = positionals;
    if (path === undefined || positionals.length > 1) {
      throw new Error('Usage: countoff measure FILE [--sections S.json] [--json]');
    }
    if (!(await stat(path).catch(() => null))?.isFile())
      throw new Error(`There is no file ${path} that can be read.`);
    const sections = values.sections === undefined ? [] : await sectionsIn(values.sections);
    const { measurement } = await measureFile(path, sections);
    if (values.json) await printJson(measurement);
    else console.log(table(measurement));
    return 0;
  },
};

const hopsAtOnce = 512;

const shown = (value: number | null, unit: string, digits = 1) =>
  value === null ? '–' : `${value.toFixed(digits).replace('-', '−')} ${unit}`.trimEnd();

/** Written piece by piece: the series of three hours as one text would take more memory than measuring them. */
async function printJson({ series, ...figures }: Measurement): Promise<void> {
  const print = async (text: string) => {
    if (!process.stdout.write(text)) await once(process.stdout, 'drain');
  };
  await print(`${JSON.stringify(figures).slice(0, -1)},"series":{"hopSeconds":${series.hopSeconds}`);
  for (const [name, column] of Object.entries(series.columns)) {
    await print(`,${JSON.stringify(name)}:[`);
    for (let first = 0; first < column.length; first += hopsAtOnce) {
      const levels = JSON.stringify(levelsOf(column, first, first + hopsAtOnce));
      await print(`${first > 0 ? ',' : ''}${levels.slice(1, -1)}`);
    }
    await print(']');
  }
  await print('}}\n');
}

/** Loaded only where sections are given: the checks of their file take longer to load than a short file to measure. */
async function sectionsIn(path: string): Promise<SectionSpan[]> {
  const { readSectionFile } = await import('./section-file.ts');
  return readSectionFile(path);
}

/** The figures of the table, in the order in which a mastering engineer asks for them. */
const rows: [string, (figures: Figures) => string][] = [
  ['Integrated loudness', (figures) => shown(figures.integratedLoudnessLufs, 'LUFS')],
  [
    'Loudness range',
    (figures) => shown(figures.loudnessRangeLu, figures.loudnessRangeReliable ? 'LU' : 'LU (under 60 s)'),
  ],
  ['Momentary maximum', (figures) => shown(figures.maxMomentaryLoudnessLufs, 'LUFS')],
  ['Short-term maximum', (figures) => shown(figures.maxShortTermLoudnessLufs, 'LUFS')],
  ['True peak', (figures) => shown(figures.truePeakDbtp, 'dBTP')],
  ['Sample peak', (figures) => shown(figures.samplePeakDbfs, 'dBFS')],
  ['RMS (sine −3.01)', (figures) => shown(figures.rmsDbfs, 'dBFS')],
  ['RMS (AES17)', (figures) => shown(figures.rmsAes17Dbfs, 'dBFS')],
  ['Crest factor', (figures) => shown(figures.crestFactorDb, 'dB')],
  ['PLR', (figures) => shown(figures.plrDb, 'dB')],
  ['Clipped runs', (figures) => shown(figures.clippedRuns, '', 0)],
  ['Correlation', (figures) => shown(figures.correlation, '', 2)],
  ['Mid over side', (figures) => shown(figures.midSideBalanceDb, 'dB')],
  ['Mono fold-down loss', (figures) => shown(figures.monoFoldDownLossLu, 'LU')],
];

function table(measurement: Measurement): string {
  const { sampleRateHz, channelCount, durationSeconds, sections } = measurement;
  const columns: [string, Figures][] = [
    ['Whole file', measurement],
    ...sections.map((section): [string, Figures] => [headOf(section), section]),
  ];
  const lines: string[][] = [
    ['', ...columns.map(([head]) => head)],
    ...rows.map(([label, show]) => [label, ...columns.map(([, figures]) => show(figures))]),
    [''],
    ...measurement.tradeBands.map(({ name, lowerEdgeHz, upperEdgeHz }, index) => [
      `${name} ${lowerEdgeHz.toFixed(0)}–${upperEdgeHz.toFixed(0)} Hz`,
      ...columns.map(([, figures]) => shown(figures.tradeBands[index]!.levelDb, 'dB')),
    ]),
    [''],
    ...measurement.bands.map(({ nominalHz }, index) => [
      `${nominalHz} Hz`,
      ...columns.map(([, figures]) => shown(figures.bands[index]!.levelDb, 'dB')),
    ]),
  ];
  const widths = columns.map((_, column) =>
    Math.max(...lines.map((line) => (line[column + 1] ?? '').length)),
  );
  const format = `${(sampleRateHz / 1000).toString()} kHz, ${channelCount} channels, ${durationSeconds.toFixed(3)} s`;
  const overs = measurement.oversCount === 0 ? [] : [`Overs past 0 dBTP: ${oversLine(measurement)}`];
  return [
    format,
    ...(measurement.silent ? ['Silent: no sample passes −60 dBFS.'] : []),
    ...overs,
    '',
    ...lines.map(([label = '', ...cells]) =>
      [label.padEnd(24), ...cells.map((cell, column) => cell.padStart(widths[column]!))].join('  ').trimEnd(),
    ),
    '',
    `Standards: ${Object.values(measurement.standards).join('; ')}`,
    `Engine: ${measurement.engine.name} ${measurement.engine.version}`,
  ].join('\n');
}

function headOf({ name, problem }: SectionFigures): string {
  if (problem === null) return name;
  return `${name} (${problem === 'outside_file' ? 'outside the file' : 'under 400 ms'})`;
}

function oversLine({ overs, oversCount }: Measurement): string {
  const first = overs.slice(0, 5).map(({ timeSeconds }) => `${timeSeconds.toFixed(1)} s`);
  return `${oversCount}, at ${first.join(', ')}${oversCount > first.length ? ' …' : ''}`;
}
