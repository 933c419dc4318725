import { readWhole } from '../audio/open-audio.ts';
import type { SectionSpan } from '../measurement/measurement.ts';
import { compareStems, type StemComparison } from '../measurement/stem-comparison.ts';
import { checkStemSum, type StemSum, type SummedPrint } from '../measurement/stem-sum.ts';
import { openStemFolder } from './stem-folder.ts';

/**
 * Says what each stem's gain changed by between two stored versions. The prints are held in memory; the stems stream.
 *
 * @param folders Of each version's stems; at least one.
 * @param overallGainDb What the whole of B is louder than A by, as `Comparison.gainDb`.
 * @throws ComparisonError, StemFolderError, AudioFileError
 */
export async function compareStemFiles(
  pathA: string,
  pathB: string,
  folders: { a: string | null; b: string | null },
  sections: readonly SectionSpan[],
  overallGainDb: number,
): Promise<StemComparison> {
  const a = folders.a === null ? null : await openStemFolder(folders.a);
  const b = folders.b === null ? null : await openStemFolder(folders.b);
  const found = await compareStems(
    await printOf(pathA),
    await printOf(pathB),
    a?.stems ?? null,
    b?.stems ?? null,
    sections,
    overallGainDb,
  );
  return { ...found, notes: [...(a?.notes ?? []), ...(b?.notes ?? []), ...found.notes] };
}

/** Whether the files of a folder sum to a print. */
export interface StemCheck {
  stems: StemSum;
  /** Instrumental and a cappella, where they stand beside the parts. */
  alternates: StemSum | null;
  notes: string[];
}

/** @throws ComparisonError, StemFolderError, AudioFileError */
export async function checkStemFiles(printPath: string, folder: string): Promise<StemCheck> {
  const { stems, alternates, notes } = await openStemFolder(folder);
  const print = await printOf(printPath);
  const checkOf = async ({ names, sampleRateHz, stream, frames }: typeof stems) =>
    (await checkStemSum(names, sampleRateHz, stream, print, frames)).check;
  return { stems: await checkOf(stems), alternates: alternates && (await checkOf(alternates)), notes };
}

async function printOf(path: string): Promise<SummedPrint> {
  const { format, channels } = await readWhole(path);
  return { channels, sampleRateHz: format.sampleRateHz, lossy: format.encoding === 'lossy' };
}
