/** Where in time and frequency two versions differ; it is described at `ChangeMap` of the server. */
export interface ChangeMap {
  hopSeconds: number;
  hopCount: number;
  /** Nominal mid-band frequency of each row, lowest first. */
  nominalHz: number[];
  /** Something differs throughout, so that only what moves steadily is shown. */
  limited: boolean;
  /** A row a band: quarters of a decibel, `undefinedCell` where nothing can be said. */
  difference: Int8Array[];
  /** A row a band: the residual relative to the newer version in decibels; `undefinedCell` where there is none. */
  residual: Int8Array[];
}

export const undefinedCell = -128;
export const stepsPerDb = 4;

const magic = 'MAP1';
const headBytes = 20;

/** Reads the stored form of a map; it is described at `encodeChangeMap` of the server. @throws RangeError */
export function parseChangeMap(bytes: ArrayBuffer): ChangeMap {
  const view = new DataView(bytes);
  const start = new TextDecoder().decode(bytes.slice(0, magic.length));
  if (view.byteLength < headBytes || start !== magic) throw new RangeError('This is no map of a change.');
  const hopCount = view.getUint32(8, true);
  const bandCount = view.getUint32(12, true);
  const firstRow = headBytes + 4 * bandCount;
  if (view.byteLength !== firstRow + 2 * bandCount * hopCount)
    throw new RangeError('The map of the change is cut off.');
  const rows = Array.from(
    { length: 2 * bandCount },
    (_, row) => new Int8Array(bytes, firstRow + row * hopCount, hopCount),
  );
  return {
    hopSeconds: view.getUint32(4, true) / 1e6,
    hopCount,
    nominalHz: Array.from({ length: bandCount }, (_, band) => view.getFloat32(headBytes + 4 * band, true)),
    limited: (view.getUint32(16, true) & 1) === 1,
    difference: rows.slice(0, bandCount),
    residual: rows.slice(bandCount),
  };
}
