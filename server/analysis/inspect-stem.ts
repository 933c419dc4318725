import type { AudioFormat } from '../audio/audio-format.ts';
import { openAudio } from '../audio/open-audio.ts';

/** What is read of a stem when it is taken in: it is never drawn or listened to, so nothing else is made of it. */
export interface StemInspection {
  format: AudioFormat;
  durationSeconds: number;
  /** No sample over −90 dBFS: dither, or nothing. */
  silent: boolean;
}

const silentAmplitude = 10 ** (-90 / 20);

/**
 * Reads a stem whole, so that a damaged one is found, and says how long it is and whether anything sounds in it.
 *
 * @throws AudioFileError
 */
export async function inspectStem(
  path: string,
  onProgress: (fraction: number) => void = () => {},
): Promise<StemInspection> {
  const reader = await openAudio(path);
  try {
    const { format } = reader;
    let frames = 0;
    let silent = true;
    await reader.read((channels, count) => {
      if (silent)
        silent = channels.every((channel) =>
          channel.subarray(0, count).every((value) => Math.abs(value) <= silentAmplitude),
        );
      frames += count;
      if (format.frameCount) onProgress(Math.min(1, frames / format.frameCount));
    });
    return { format, durationSeconds: frames / format.sampleRateHz, silent };
  } finally {
    await reader.close();
  }
}
