import { readWhole } from '../audio/open-audio.ts';
import { type Comparison, type ComparisonOptions, compareSounds } from '../measurement/comparison.ts';
import type { SectionSpan } from '../measurement/measurement.ts';

/**
 * Compares two stored versions of a song. Both are held in memory while they are compared.
 *
 * @param pathA The older version.
 * @param pathB The newer one. Differences are B less A.
 * @param sections In seconds of B; without any, the places that changed and what lies between them.
 * @throws ComparisonError, MeasurementError, AudioFileError
 */
export async function compareFiles(
  pathA: string,
  pathB: string,
  sections: readonly SectionSpan[],
  { onProgress = () => {}, tempo = null }: ComparisonOptions = {},
): Promise<Comparison> {
  const a = await readWhole(pathA);
  onProgress(0.05);
  const b = await readWhole(pathB);
  onProgress(0.1);
  const soundOf = ({ format, channels }: Awaited<ReturnType<typeof readWhole>>) => ({
    channels,
    sampleRateHz: format.sampleRateHz,
    lossy: format.encoding === 'lossy',
  });
  return compareSounds(soundOf(a), soundOf(b), sections, {
    onProgress: (share) => onProgress(0.1 + 0.9 * share),
    tempo,
  });
}
