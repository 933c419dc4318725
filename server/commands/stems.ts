import { access } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { checkStemFiles } from '../analysis/compare-stems.ts';
import { openStemFolder } from '../analysis/stem-folder.ts';
import type { StemSum } from '../measurement/stem-sum.ts';
import type { Command } from './command.ts';

/**
 * `countoff stems PRINT DIR [--json]`: whether the stems in a folder sum to the print, and instrumental and a cappella
 * with them where both are there. A stem is named by its file.
 *
 * With `--json` the output is one object, `StemCheck` of `server/analysis/compare-stems.ts`: its keys are stable, carry
 * their units, and are `null` where a figure is undefined.
 */
export const stems: Command = {
  name: 'stems',
  summary: 'PRINT DIR [--json]: whether the stems in a folder sum to the print',
  async run(args) {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { json: { type: 'boolean' } },
    });
    const [print, folder] = positionals;
    if (print === undefined || folder === undefined || positionals.length > 2)
      throw new Error('Usage: countoff stems PRINT DIR [--json]');
    await access(print).catch(() => {
      throw new Error(`The file ${print} can't be read.`);
    });
    const check = await checkStemFiles(print, await openStemFolder(folder));
    if (values.json) console.log(JSON.stringify(check));
    else {
      const sums = check.alternates ? [check.stems, check.alternates] : [check.stems];
      console.log([...sums.map(report), ...check.notes].join('\n\n'));
    }
    return 0;
  },
};

const shown = (value: number | null, unit: string, digits = 1) =>
  value === null
    ? '–'
    : `${Number(value.toFixed(digits)) < 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)} ${unit}`;

function report({ sentence, bands, stemGains, residualDb }: StemSum): string {
  const lines: [string, string][] = [
    ['Left of the print', shown(residualDb, 'dB')],
    ...bands.map(({ name, residualDb: level }): [string, string] => [`  ${name}`, shown(level, 'dB')]),
    ['Gain in the print', ''],
    ...stemGains.map(({ stem, gainDb }): [string, string] => [`  ${stem}`, shown(gainDb, 'dB', 2)]),
  ];
  const head = Math.max(...lines.map(([label]) => label.length));
  return [
    sentence,
    '',
    ...lines.map(([label, value]) => `${label.padEnd(head)}  ${value.padStart(10)}`.trimEnd()),
  ].join('\n');
}
