import type { SectionSpan } from '../measurement/measurement.ts';
import { compareStems, type StemComparison } from '../measurement/stem-comparison.ts';
import { checkStemSum, type StemSum } from '../measurement/stem-sum.ts';
import type { OpenedStems } from './open-stems.ts';
import { readSound } from './read-sound.ts';

/**
 * Says what each stem's gain changed by between two stored versions. The prints are held in memory; the stems stream.
 *
 * @param stems Of each version; at least one.
 * @param overallGainDb What the whole of B is louder than A by, as `Comparison.gainDb`.
 * @throws ComparisonError, AudioFileError
 */
export async function compareStemFiles(
  pathA: string,
  pathB: string,
  { a, b }: { a: OpenedStems | null; b: OpenedStems | null },
  sections: readonly SectionSpan[],
  overallGainDb: number,
): Promise<StemComparison> {
  const found = await compareStems(
    await readSound(pathA),
    await readSound(pathB),
    a?.stems ?? null,
    b?.stems ?? null,
    sections,
    overallGainDb,
  );
  return { ...found, notes: [...(a?.notes ?? []), ...(b?.notes ?? []), ...found.notes] };
}

/** Whether stems sum to a print. */
export interface StemCheck {
  stems: StemSum;
  /** Instrumental and a cappella, where they stand beside the parts. */
  alternates: StemSum | null;
  notes: string[];
}

/** @throws ComparisonError, AudioFileError */
export async function checkStemFiles(
  printPath: string,
  { stems, alternates, notes }: OpenedStems,
): Promise<StemCheck> {
  const print = await readSound(printPath);
  const checkOf = async ({ names, sampleRateHz, stream, frames }: typeof stems) =>
    (await checkStemSum(names, sampleRateHz, stream, print, frames)).check;
  return { stems: await checkOf(stems), alternates: alternates && (await checkOf(alternates)), notes };
}
