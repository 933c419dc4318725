import type { Comparison } from '../measurement/comparison.ts';
import type { BandSet } from './part-bands.ts';

/**
 * One part's move leaves no more of any band than the square of what its fader did, wherever it sounds alone. A band
 * outside that holds this much more belongs to something else. *Common practice*: 6 dB are twice the amplitude.
 */
const otherPartDb = 6;
/** Where little sounds, little is a large share: under this a band says nothing of another part. */
const leastResidualDb = -12;

/**
 * The bands outside a part that moved so much more than its own that something else moved too; `null` where none did.
 *
 * @param bands Of one section, with the residual in each relative to what sounds there.
 */
export function movedBeside(
  { bands }: Pick<Comparison['sections'][number], 'bands'>,
  part: BandSet,
): BandSet | null {
  const told = bands.flatMap(({ nominalHz, residualDb }) =>
    residualDb === null || residualDb === undefined ? [] : [{ nominalHz, residualDb }],
  );
  const within = Math.max(
    ...told.filter(({ nominalHz }) => part.has(nominalHz)).map(({ residualDb }) => residualDb),
  );
  const least = Math.max(within + otherPartDb, leastResidualDb);
  const beside = told.filter(({ nominalHz, residualDb }) => !part.has(nominalHz) && residualDb >= least);
  return beside.length > 0 ? new Set(beside.map(({ nominalHz }) => nominalHz)) : null;
}
