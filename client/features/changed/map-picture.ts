import { type ChangeMap, stepsPerDb, undefinedCell } from '../../api/change.ts';

/** What a cell of the map shows: up or down by so much, different without being louder, nothing, or no value. */
export type CellSign = 'up' | 'down' | 'as loud' | 'still' | 'undefined';

/** A residual nearer to the mix than this is a change also where the level stays: a part replaced, moved or turned. */
const asLoudResidualDb = -20;
/** The least that is called up or down. @source level JND, sound engineering handbooks */
const leastDb = 0.5;
const scalesDb = [3, 6, 12, 24] as const;
/** The share of the cells that went up or down which the scale holds; the rest is drawn at its end. */
const heldShare = 0.98;

/** What a band shows from one hop to another: of several the strongest, so that no short change is lost. */
export function strongestCell(
  { difference, residual }: ChangeMap,
  band: number,
  fromHop: number,
  endHop: number,
): { sign: CellSign; differenceDb: number | null; residualDb: number | null } {
  let strongest: number | null = null;
  let rest: number | null = null;
  for (let hop = fromHop; hop < endHop; hop++) {
    const value = difference[band]![hop] ?? undefinedCell;
    if (value === undefinedCell) continue;
    const restDb = residual[band]![hop]!;
    if (strongest === null || Math.abs(value) > Math.abs(strongest)) strongest = value;
    if (restDb !== undefinedCell) rest = Math.max(rest ?? restDb, restDb);
  }
  if (strongest === null) return { sign: 'undefined', differenceDb: null, residualDb: null };
  const differenceDb = strongest / stepsPerDb;
  const sign =
    Math.abs(differenceDb) >= leastDb
      ? differenceDb > 0
        ? 'up'
        : 'down'
      : rest !== null && rest >= asLoudResidualDb
        ? 'as loud'
        : 'still';
  return { sign, differenceDb, residualDb: rest };
}

/** The end of the scale that a map is coloured by, in decibels; `null` where nothing went up or down. */
export function mapScaleDb({ difference }: Pick<ChangeMap, 'difference'>): number | null {
  const sizes: number[] = [];
  for (const row of difference)
    for (const value of row)
      if (value !== undefinedCell && Math.abs(value) >= leastDb * stepsPerDb)
        sizes.push(Math.abs(value) / stepsPerDb);
  if (!sizes.length) return null;
  sizes.sort((one, other) => one - other);
  const held = sizes[Math.floor((sizes.length - 1) * heldShare)]!;
  return scalesDb.find((scale) => scale >= held) ?? scalesDb.at(-1)!;
}
