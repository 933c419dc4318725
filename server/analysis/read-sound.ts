import { readWhole } from '../audio/open-audio.ts';
import type { ComparedSound } from '../measurement/comparison.ts';

/** A whole file as a comparison takes it, in memory that threads may share. @throws AudioFileError */
export async function readSound(path: string): Promise<ComparedSound> {
  const { format, channels } = await readWhole(path);
  return { channels, sampleRateHz: format.sampleRateHz, lossy: format.encoding === 'lossy' };
}
