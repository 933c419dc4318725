import { access } from 'node:fs/promises';
import { availableParallelism } from 'node:os';
import { parseArgs } from 'node:util';
import { compareFiles } from '../analysis/compare-files.ts';
import type { Comparison, Differences } from '../measurement/comparison.ts';
import type { SectionSpan } from '../measurement/measurement.ts';
import type { StemComparison } from '../measurement/stem-comparison.ts';
import type { Command } from './command.ts';

const usage = 'Usage: countoff compare A B [--sections S.json] [--stems-a DIR] [--stems-b DIR] [--json]';

/**
 * `countoff compare A B [--sections S.json] [--stems-a DIR] [--stems-b DIR] [--json]`: what changed from version A to
 * version B, B less A. With a folder of stems of one or both, each file a stem named by the file, it also says what each
 * stem's gain changed by.
 *
 * With `--json` the output is one object, `Comparison` of `server/measurement/comparison.ts`; with stems also `stems`, one
 * `{ name, section, gainChangeDb, matchedGainChangeDb, standardErrorDb, reading }` for each stem and section, and all that
 * they tell as `stemComparison`, of `server/measurement/stem-comparison.ts`. Both are `null` without stems. Keys are
 * stable, carry their units, and are `null` where a figure is undefined. Sections are in seconds of B.
 */
export const compare: Command = {
  name: 'compare',
  summary:
    'A B [--sections S.json] [--stems-a DIR] [--stems-b DIR] [--json]: what changed from version A to version B, section by section, and stem by stem',
  async run(args) {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: {
        sections: { type: 'string' },
        'stems-a': { type: 'string' },
        'stems-b': { type: 'string' },
        json: { type: 'boolean' },
      },
    });
    const [pathA, pathB] = positionals;
    if (pathA === undefined || pathB === undefined || positionals.length > 2) throw new Error(usage);
    for (const path of [pathA, pathB]) {
      await access(path).catch(() => {
        throw new Error(`The file ${path} can't be read.`);
      });
    }
    // What only some comparisons need is loaded only for them.
    const sections =
      values.sections === undefined
        ? []
        : await (await import('./section-file.ts')).readSectionFile(values.sections);
    const comparison = await compareFiles(pathA, pathB, sections, {
      threadCount: availableParallelism() > 1 ? 2 : 1,
    });
    const folders = { a: values['stems-a'], b: values['stems-b'] };
    const stems =
      folders.a === undefined && folders.b === undefined
        ? null
        : await compareStems(pathA, pathB, folders, sections, comparison.gainDb);
    if (values.json) console.log(JSON.stringify(withStems(comparison, stems)));
    else console.log(stems ? `${report(comparison)}\n\n${stemReport(stems)}` : report(comparison));
    return 0;
  },
};

async function compareStems(
  pathA: string,
  pathB: string,
  folders: { a: string | undefined; b: string | undefined },
  sections: readonly SectionSpan[],
  gainDb: number,
): Promise<StemComparison> {
  const { compareStemFiles } = await import('../analysis/compare-stems.ts');
  const { openStemFolder } = await import('../analysis/stem-folder.ts');
  const stemsOf = async (folder: string | undefined) =>
    folder === undefined ? null : openStemFolder(folder);
  const stems = { a: await stemsOf(folders.a), b: await stemsOf(folders.b) };
  return compareStemFiles(pathA, pathB, stems, sections, gainDb);
}

function withStems(comparison: Comparison, stemComparison: StemComparison | null): object {
  if (stemComparison === null) return { ...comparison, stems: null, stemComparison };
  const stems = stemComparison.sections.flatMap(({ name: section, stems: changes }) =>
    changes.map(({ stem, gainDifferenceDb, matchedGainDifferenceDb, standardErrorDb, reading }) => ({
      name: stem,
      section,
      gainChangeDb: gainDifferenceDb,
      matchedGainChangeDb: matchedGainDifferenceDb,
      standardErrorDb,
      reading,
    })),
  );
  const sentences = [...comparison.sentences, ...stemComparison.sentences];
  return { ...comparison, sentences, stems, stemComparison };
}

const shown = (value: number | null, unit: string, digits = 1) =>
  value === null
    ? '–'
    : `${Number(value.toFixed(digits)) < 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)} ${unit}`;

const rows: [string, (differences: Differences) => string][] = [
  ['Loudness', (differences) => shown(differences.loudnessDifferenceLu, 'LU', 2)],
  ['Loudness, matched', (differences) => shown(differences.matchedLoudnessDifferenceLu, 'LU', 2)],
  ['Short-term maximum', (differences) => shown(differences.maxShortTermLoudnessDifferenceLu, 'LU')],
  ['Loudness range', (differences) => shown(differences.loudnessRangeDifferenceLu, 'LU')],
  ['RMS', (differences) => shown(differences.rmsDifferenceDb, 'dB', 2)],
  ['True peak', (differences) => shown(differences.truePeakDifferenceDb, 'dB', 2)],
  ['Correlation', (differences) => shown(differences.correlationDifference, '', 3).trimEnd()],
  ['Mid over side', (differences) => shown(differences.midSideDifferenceDb, 'dB')],
];

function report(comparison: Comparison): string {
  const { sections, summary, sentences, gainDb, alignment } = comparison;
  const columns: [string, Differences][] = [
    ['Whole', comparison],
    ...sections.map((section): [string, Differences] => [section.name, section]),
  ];
  const lines: string[][] = [
    ['B less A', ...columns.map(([head]) => head)],
    ['Verdict', '', ...sections.map(({ verdict }) => verdict)],
    ['Residual', '', ...sections.map(({ residualDb }) => shown(residualDb, 'dB'))],
    ...rows.map(([label, show]) => [label, ...columns.map(([, differences]) => show(differences))]),
    [''],
    ...comparison.bands.map(({ nominalHz }, index) => [
      `${nominalHz} Hz, matched`,
      ...columns.map(([, { bands }]) => shown(bands[index]!.matchedDifferenceDb, 'dB')),
    ]),
  ];
  const widths = columns.map((_, column) =>
    Math.max(...lines.map((line) => (line[column + 1] ?? '').length)),
  );
  return [
    summary.plain,
    '',
    ...sentences,
    '',
    `Gain of B over A ${shown(gainDb, 'dB', 3)}, offset ${alignment.offsetFrames} frames, polarity ${alignment.polarity}`,
    '',
    ...lines.map(([label = '', ...cells]) =>
      [label.padEnd(20), ...cells.map((cell, column) => cell.padStart(widths[column]!))].join('  ').trimEnd(),
    ),
    '',
    `Standards: ${Object.values(comparison.standards).join('; ')}`,
    `Engine: ${comparison.engine.name} ${comparison.engine.version}`,
  ].join('\n');
}

/** Sentences, then one row a stem and one column a section. */
function stemReport({ basis, sections, sentences, notes, overallGainDb }: StemComparison): string {
  const names = sections[0]!.stems.map(({ stem }) => stem);
  const lines = [
    ['Fader, B less A', ...sections.map(({ name }) => name)],
    ...names.map((name, index) => [
      name,
      ...sections.map(({ stems }) => {
        const { reading, matchedGainDifferenceDb: gainDb } = stems[index]!;
        return gainDb === null ? reading : shown(gainDb, 'dB', 2);
      }),
    ]),
    [
      'Unexplained',
      ...sections.map(({ unexplainedDb: { a, b } }) =>
        a === null && b === null ? '–' : shown(Math.max(a ?? -150, b ?? -150), 'dB', 0),
      ),
    ],
  ];
  const widths = lines[0]!.map((_, column) => Math.max(...lines.map((line) => line[column]!.length)));
  return [
    `From the ${basis}, beside the whole mix's ${shown(overallGainDb, 'dB', 2)}:`,
    '',
    ...sentences,
    ...notes,
    '',
    ...lines.map(([label, ...cells]) =>
      [label!.padEnd(widths[0]!), ...cells.map((cell, column) => cell.padStart(widths[column + 1]!))].join(
        '  ',
      ),
    ),
  ].join('\n');
}
