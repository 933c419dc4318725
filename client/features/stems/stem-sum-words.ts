import type { StemSum } from '../../api/types.ts';
import { figure } from '../../elements/figures-table.ts';

/** What a reading of a sum means for whoever isn't an engineer. */
const meanings: Record<StemSum['reading'], { sums: boolean; means: string }> = {
  identical: { sums: true, means: 'sample by sample' },
  rounding: { sums: true, means: 'nothing is left but rounding' },
  'dither or word length': { sums: true, means: 'nothing is left but dither' },
  'sample-rate conversion': {
    sums: true,
    means: 'what is left is no more than a conversion of the sample rate leaves',
  },
  'lossy encoding': { sums: true, means: 'what is left is no more than the encoding of the print leaves' },
  'stem gains differ': {
    sums: false,
    means: 'each has its own gain in the print; at those gains they do',
  },
  'bus dynamics': {
    sums: false,
    means: 'a limiter or compressor works on the whole mix',
  },
  'bus processor or missing stem': {
    sums: false,
    means: 'something works on the whole mix, or a stem is missing',
  },
};

/** Whether stems sum to their print, in a sentence with the figure behind it. */
export function stemSumWords(
  { reading, residualDb, stems }: Pick<StemSum, 'reading' | 'residualDb' | 'stems'>,
  versionName: string,
): string {
  const { sums, means } = meanings[reading];
  const who = stems.length === 2 ? stems.join(' and ') : `The ${stems.length} stems`;
  const left =
    residualDb === null
      ? ''
      : ` Left of the print: ${residualDb <= -150 ? '≤ −150 dB' : figure(residualDb, 'dB', 0)}.`;
  return `${who} ${sums ? 'sum' : 'do not sum'} to ${versionName}: ${means}.${left}`;
}
