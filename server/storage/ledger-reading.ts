import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { createClient } from '@libsql/client';
import type { LedgerEntry } from '../domain/ledger-entry.ts';

/**
 * The ledgers in a data folder, read row by row as they stand, also while a server runs on it. An entry whose fact
 * isn't JSON any more is given as it is, so that the chain's check can name it.
 * @throws Error where there is no database in the folder.
 */
export async function readLedgers(folder: string): Promise<{ name: string; entries: LedgerEntry[] }[]> {
  const path = join(folder, 'countoff.db');
  if (!existsSync(path)) throw new Error(`There is no Countoff database in ${folder}.`);
  const client = createClient({ url: pathToFileURL(path).href, timeout: 5000 });
  try {
    const { rows } = await client.execute(
      'SELECT record_id, sequence, at, "by", fact, previous_hash, hash FROM ledger_entries ORDER BY record_id, sequence',
    );
    const ledgers = new Map<string, LedgerEntry[]>();
    for (const row of rows) {
      const name = String(row.record_id);
      const entries = ledgers.get(name) ?? [];
      ledgers.set(name, entries);
      entries.push({
        sequence: Number(row.sequence),
        at: String(row.at),
        by: String(row.by),
        fact: parsed(String(row.fact)),
        previousHash: String(row.previous_hash),
        hash: String(row.hash),
      });
    }
    return [...ledgers].map(([name, entries]) => ({ name: `record ${name}`, entries }));
  } finally {
    client.close();
  }
}

function parsed(fact: string): LedgerEntry['fact'] {
  try {
    return JSON.parse(fact);
  } catch {
    return fact as unknown as LedgerEntry['fact'];
  }
}
