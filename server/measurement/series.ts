import { tradeBandNames } from './measurement.ts';

/** What is kept over time, in the order in which it is stored: loudness, peaks, then the level of each trade band. */
export const seriesNames = [
  'momentaryLoudnessLufs',
  'shortTermLoudnessLufs',
  'truePeakDbtp',
  'psrDb',
  ...tradeBandNames,
] as const;
export type SeriesName = (typeof seriesNames)[number];

/**
 * Figures over time, one value each tenth of a second; value `i` stands for what ends at `(i + 1) · hopSeconds`.
 *
 * A column holds hundredths of a decibel, of LUFS for the loudnesses, `undefinedLevel` where the figure is undefined:
 * before the first window is full, and in silence. True peak is that within the hop; PSR the true peak of the last 3 s
 * over short-term loudness; a band's level is `TradeBandLevel.levelDb` within the hop.
 */
export interface Series {
  hopSeconds: number;
  hopCount: number;
  columns: Record<SeriesName, Int16Array>;
}

/** Stands in a column where a figure is undefined. */
export const undefinedLevel = -32_768;
const stepsPerDb = 100;

/** The nearest stored value of a level; levels past ±327 dB are kept at that. */
export function storedLevel(levelDb: number | null): number {
  if (levelDb === null) return undefinedLevel;
  return Math.max(-32_767, Math.min(32_767, Math.round(levelDb * stepsPerDb)));
}

/** Values `first` to `end` of a column in dB, `null` where undefined. */
export function levelsOf(column: Int16Array, first = 0, end = column.length): (number | null)[] {
  return Array.from(column.subarray(first, end), (value) =>
    value === undefinedLevel ? null : value / stepsPerDb,
  );
}

const magic = 0x31_52_45_53;
const headBytes = 16;

/**
 * The stored and served form, all little-endian: `SER1`, uint32 microseconds a hop, uint32 hops, uint32 columns; then
 * each column of `seriesNames` in turn, int16 hundredths of a decibel, −32768 undefined. Some 200 bytes a second.
 */
export function encodeSeries({ hopSeconds, hopCount, columns }: Series): Uint8Array {
  const bytes = new Uint8Array(headBytes + 2 * hopCount * seriesNames.length);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, magic, true);
  view.setUint32(4, Math.round(hopSeconds * 1e6), true);
  view.setUint32(8, hopCount, true);
  view.setUint32(12, seriesNames.length, true);
  let at = headBytes;
  for (const name of seriesNames) {
    for (const value of columns[name]) {
      view.setInt16(at, value, true);
      at += 2;
    }
  }
  return bytes;
}

/** @throws RangeError where the bytes are no series, or are cut off */
export function decodeSeries(bytes: Uint8Array): Series {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < headBytes || view.getUint32(0, true) !== magic)
    throw new RangeError('These are no series.');
  const hopCount = view.getUint32(8, true);
  if (
    view.getUint32(12, true) !== seriesNames.length ||
    bytes.length !== headBytes + 2 * hopCount * seriesNames.length
  )
    throw new RangeError('The series are cut off.');
  const columns = seriesNames.map((name, place): [SeriesName, Int16Array] => {
    const first = headBytes + 2 * hopCount * place;
    return [name, Int16Array.from({ length: hopCount }, (_, hop) => view.getInt16(first + 2 * hop, true))];
  });
  return {
    hopSeconds: view.getUint32(4, true) / 1e6,
    hopCount,
    columns: Object.fromEntries(columns) as Series['columns'],
  };
}
