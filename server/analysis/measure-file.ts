import { openAudio } from '../audio/open-audio.ts';
import { createWaveformDataBuilder } from '../audio/waveform-data.ts';
import type { Measurement, SectionSpan } from '../measurement/measurement.ts';
import { createMeter } from '../measurement/meter.ts';

export interface MeasureFileOptions {
  /** Told how much is done, 0 to 1, as the reading goes; only where the header gives the length. */
  onProgress?: (fraction: number) => void;
  /** Whether waveform data is built in the same pass. */
  waveform?: boolean;
}

/**
 * Measures a file in one streaming pass, in whatever thread calls it.
 *
 * @throws MeasurementError, AudioFileError among them, for a file that can't be measured
 */
export async function measureFile(
  path: string,
  sections: readonly SectionSpan[] = [],
  options: MeasureFileOptions = {},
): Promise<{ measurement: Measurement; waveformData: Uint8Array | null }> {
  const reader = await openAudio(path);
  try {
    const { format } = reader;
    const meter = createMeter({ ...format, sections });
    try {
      const waveform = options.waveform ? createWaveformDataBuilder(format.sampleRateHz) : null;
      let framesDone = 0;
      await reader.read((channels, frames) => {
        meter.push(channels, frames);
        waveform?.push(channels, frames);
        framesDone += frames;
        if (format.frameCount) options.onProgress?.(Math.min(1, framesDone / format.frameCount));
      });
      return { measurement: meter.finish(), waveformData: waveform?.finish() ?? null };
    } finally {
      meter.close();
    }
  } finally {
    await reader.close();
  }
}
