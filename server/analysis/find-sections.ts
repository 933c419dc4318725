import { openAudio } from '../audio/open-audio.ts';
import { createSectionFinder, type SectionProposal } from '../measurement/section-finder.ts';

export interface FindSectionsOptions {
  /** Told how much is done, 0 to 1, as the reading goes; only where the header gives the length. */
  onProgress?: (fraction: number) => void;
  /** Beats a minute, where somebody knows them. */
  tempoBpm?: number | null;
}

/**
 * Proposes the sections of a file in one streaming pass, in whatever thread calls it.
 *
 * @throws MeasurementError, AudioFileError among them, for a file that can't be measured
 */
export async function findSections(
  path: string,
  options: FindSectionsOptions = {},
): Promise<SectionProposal> {
  const reader = await openAudio(path);
  const { sampleRateHz, channelCount, frameCount } = reader.format;
  const finder = createSectionFinder({ sampleRateHz, channelCount, tempoBpm: options.tempoBpm ?? null });
  try {
    let framesDone = 0;
    await reader.read((channels, frames) => {
      finder.push(channels, frames);
      framesDone += frames;
      if (frameCount) options.onProgress?.(Math.min(1, framesDone / frameCount));
    });
    return finder.finish();
  } finally {
    finder.close();
    await reader.close();
  }
}
