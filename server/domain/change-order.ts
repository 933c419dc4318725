import type { PersonId } from './person.ts';

/** What the producer asks for a change to the locked production. */
export interface ChangePrice {
  hours: number;
  amountMinorUnits: number;
  words: string;
  by: PersonId;
  at: string;
}

/**
 * A production-level request that met the lock, under its number in the song. Flagged, then declined, withdrawn by
 * re-sorting, or priced as a change order; the payer accepts or refuses that; an accepted one is delivered with the
 * production that is signed next.
 */
export type LockBreak = { number: number; requestId: string; flaggedAt: string } & (
  | { status: 'flagged' }
  | { status: 'withdrawn' }
  | { status: 'declined'; reason: string; by: PersonId }
  | { status: 'priced'; price: ChangePrice }
  | { status: 'refused'; price: ChangePrice; reason: string; by: PersonId }
  | { status: 'accepted'; price: ChangePrice; acceptedBy: PersonId; acceptedAt: string }
  | { status: 'delivered'; price: ChangePrice; acceptedBy: PersonId; acceptedAt: string; sha256: string }
);

/** The lock breaks that the lock stands open for: accepted, and not yet in a signed production. */
export function openChanges(lockBreaks: readonly LockBreak[]): number[] {
  return lockBreaks.filter((each) => each.status === 'accepted').map((each) => each.number);
}
