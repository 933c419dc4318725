import { createHash } from 'node:crypto';
import { canonicalJson } from './canonical-json.ts';
import type { UnchainedEntry } from './evolve.ts';
import type { LedgerEntry } from './ledger-entry.ts';

/** What stands before the first entry. */
export const chainStart = '0'.repeat(64);

/** SHA-256, hex, over the hash before, a line feed, and the entry's own content in canonical JSON. */
export function entryHash(previousHash: string, { sequence, at, by, fact }: UnchainedEntry): string {
  return createHash('sha256')
    .update(`${previousHash}\n${canonicalJson({ sequence, at, by, fact })}`)
    .digest('hex');
}

/** The entry with its place in the chain. */
export function chain(previousHash: string, entry: UnchainedEntry): LedgerEntry {
  return { ...entry, previousHash, hash: entryHash(previousHash, entry) };
}

export type ChainVerdict =
  | { whole: true; entries: number; head: string }
  | { whole: false; sequence: number; fault: string };

/**
 * Walks a ledger from its first entry: places without gaps, each hash over the one before. Names the first entry that
 * doesn't hold. A tail that was cut off shows only against a head that was kept elsewhere (`expectedHead`: a
 * certificate, an export).
 */
export function verifyChain(entries: Iterable<LedgerEntry>, expectedHead?: string): ChainVerdict {
  let head = chainStart;
  let sequence = 0;
  let seen = expectedHead === undefined;
  for (const entry of entries) {
    sequence += 1;
    if (entry.sequence !== sequence)
      return {
        whole: false,
        sequence,
        fault: `entry ${sequence} is missing: entry ${entry.sequence} follows`,
      };
    if (entry.previousHash !== head)
      return { whole: false, sequence, fault: `entry ${sequence} does not follow from the entry before it` };
    if (entryHash(head, entry) !== entry.hash)
      return { whole: false, sequence, fault: `entry ${sequence} was changed after it was written` };
    head = entry.hash;
    if (head === expectedHead) seen = true;
  }
  return seen
    ? { whole: true, entries: sequence, head }
    : {
        whole: false,
        sequence,
        fault: `the ledger ends at entry ${sequence} without the expected head: its tail was cut or replaced`,
      };
}
