import { Hono } from 'hono';
import { z } from 'zod';
import { ledgerWords } from '../application/ledger-words.ts';
import { verifyChain } from '../domain/ledger-chain.ts';
import type { Access } from './access.ts';
import { described } from './command-route.ts';
import type { Services } from './services.ts';

/** The ledger of a record, to read and to take away. Mounted below `/records/:record`. */
export function ledgerRoutes(services: Services): Hono<Access> {
  return new Hono<Access>()
    .get(
      '/ledger',
      described('The ledger in words, with its chain checked', z.looseObject({ verified: z.boolean() })),
      async (context) => {
        const record = context.get('record');
        const entries = await services.ledger.entries(record.id);
        const verdict = verifyChain(entries);
        return context.json({
          entries: entries.map((entry) => ({
            ...entry,
            by: { id: entry.by, name: record.people[entry.by]?.name ?? 'somebody no longer on the record' },
            words: ledgerWords(record, entry),
          })),
          verified: verdict.whole,
          fault: verdict.whole ? null : verdict.fault,
          head: entries.at(-1)?.hash ?? '',
        });
      },
    )
    .get('/ledger.jsonl', described('The ledger, one entry a line', null, 200), async (context) => {
      const record = context.get('record');
      const entries = await services.ledger.entries(record.id);
      context.header('content-type', 'application/x-ndjson; charset=utf-8');
      context.header('content-disposition', `attachment; filename="ledger-${record.id}.jsonl"`);
      return context.body(`${entries.map((entry) => JSON.stringify(entry)).join('\n')}\n`);
    });
}
