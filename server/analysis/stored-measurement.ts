import { join } from 'node:path';
import { engine } from '../measurement/engine.ts';
import type { Measurement } from '../measurement/measurement.ts';
import { encodeSeries } from '../measurement/series.ts';
import { writeWhole } from './write-whole.ts';

/** A measurement as the database keeps it; its series stands in a file of its own beside the audio. */
export type StoredMeasurement = Omit<Measurement, 'series'>;

/** What a series is kept as in its audio file's folder; another engine's is never taken for it. */
export const seriesFileName = `series-${engine.version}.dat` as const;

/** Writes a measurement's series to its audio file's folder, and gives what is left for the database. */
export async function storeSeries(
  { series, ...measurement }: Measurement,
  folder: string,
): Promise<StoredMeasurement> {
  await writeWhole(join(folder, seriesFileName), encodeSeries(series));
  return measurement;
}
