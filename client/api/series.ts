import { readBytes } from './call.ts';
import type { SeriesName } from './types.ts';
import { whenMade } from './when-made.ts';

/** Figures over time as the plots take them: decibels or LUFS, `null` where a figure is undefined. */
export interface Series {
  /** Value `i` stands for what ends at `(i + 1) · hopSeconds`. */
  hopSeconds: number;
  columns: Record<SeriesName, (number | null)[]>;
}

/** The columns in the order in which the server stores them. */
const names = [
  'momentaryLoudnessLufs',
  'shortTermLoudnessLufs',
  'truePeakDbtp',
  'psrDb',
  'sub',
  'bass',
  'low mids',
  'mids',
  'presence',
  'air',
] as const satisfies readonly SeriesName[];

const magic = 'SER1';
const headBytes = 16;
const undefinedLevel = -32_768;
const stepsPerDb = 100;

/** Reads the stored form of a series; it is described at `encodeSeries` of the server. @throws RangeError */
export function parseSeries(bytes: ArrayBuffer): Series {
  const view = new DataView(bytes);
  const start = new TextDecoder().decode(bytes.slice(0, magic.length));
  if (view.byteLength < headBytes || start !== magic) throw new RangeError('These are no series.');
  const hopCount = view.getUint32(8, true);
  if (view.byteLength !== headBytes + 2 * hopCount * names.length)
    throw new RangeError('The series are cut off.');
  const columns = names.map((name, place) => {
    const first = headBytes + 2 * hopCount * place;
    const values = Array.from({ length: hopCount }, (_, hop) => {
      const value = view.getInt16(first + 2 * hop, true);
      return value === undefinedLevel ? null : value / stepsPerDb;
    });
    return [name, values] as const;
  });
  return {
    hopSeconds: view.getUint32(4, true) / 1e6,
    columns: Object.fromEntries(columns) as Series['columns'],
  };
}

/** Asks for a version's series until they are measured. @throws Refusal */
export function readSeriesWhenReady(path: string, signal: AbortSignal): Promise<Series> {
  return whenMade(async () => parseSeries(await readBytes(path, signal)), signal);
}
