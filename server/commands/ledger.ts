import { createReadStream } from 'node:fs';
import { resolve } from 'node:path';
import { createInterface } from 'node:readline';
import { type ChainVerdict, verifyChain } from '../domain/ledger-chain.ts';
import type { LedgerEntry } from '../domain/ledger-entry.ts';
import { projectFolder } from '../project-folder.ts';
import { readLedgers } from '../storage/ledger-reading.ts';

const usage = 'Usage: countoff ledger verify [--file LEDGER.jsonl] [--head HASH] [--data FOLDER]';

async function readExport(path: string): Promise<LedgerEntry[]> {
  const entries: LedgerEntry[] = [];
  for await (const line of createInterface({ input: createReadStream(path) }))
    if (line.trim()) entries.push(JSON.parse(line));
  return entries;
}

const verdictWords = (name: string, verdict: ChainVerdict) =>
  verdict.whole
    ? `${name}: the chain is whole, ${verdict.entries} entries, head ${verdict.head}`
    : `${name}: DAMAGED, ${verdict.fault}`;

/**
 * `countoff ledger verify`: walks the hash chain of every record in the data folder, or of an exported ledger. Exit 0
 * when all are whole, 1 when one is damaged (its first bad entry is named), 2 when it can't be read.
 */
export const ledger = {
  name: 'ledger',
  summary: 'verify: walk the hash chain of every record, or of an exported ledger',
  async run(args: string[]): Promise<number> {
    const option = (name: string) => {
      const index = args.indexOf(name);
      return index < 0 ? undefined : args[index + 1];
    };
    if (args[0] !== 'verify') throw new Error(usage);
    const file = option('--file');
    const head = option('--head');
    const ledgers = file
      ? [{ name: file, entries: await readExport(file) }]
      : await readLedgers(resolve(option('--data') ?? process.env.COUNTOFF_DATA ?? `${projectFolder}/data`));
    if (!ledgers.length) process.stdout.write('There is no record yet.\n');
    let damaged = false;
    for (const { name, entries } of ledgers) {
      const verdict = verifyChain(entries, head);
      damaged ||= !verdict.whole;
      process.stdout.write(`${verdictWords(name, verdict)}\n`);
    }
    return damaged ? 1 : 0;
  },
};
