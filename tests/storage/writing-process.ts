import { Database } from '../../server/storage/database.ts';
import { LedgerStore } from '../../server/storage/ledger-store.ts';

/**
 * A process that writes entries one after another and prints each sequence once it was acknowledged, until it is
 * killed. Run with a data folder and a record's id.
 */
const [folder = '', recordId = ''] = process.argv.slice(2);
const database = await Database.open(folder);
const store = new LedgerStore(database);
const last = (await store.entries(recordId)).at(-1)?.sequence ?? 0;
// Nobody reads any more: end with the test that started this.
process.stdout.on('error', () => process.exit(1));
process.stdout.write('open\n');
const mostEntries = 20_000;
for (let sequence = last + 1; sequence <= last + mostEntries; sequence += 1) {
  await database.write((writer) =>
    store.append(writer, recordId, [
      {
        sequence,
        at: '2026-03-01T00:00:00.000Z',
        by: 'writer',
        fact: { type: 'songRenamed', song: 'song', title: String(sequence) },
        previousHash: '',
        hash: String(sequence),
      },
    ]),
  );
  process.stdout.write(`${sequence}\n`);
  // Leaves the file free for a moment, so that another process can take it.
  await new Promise((resolve) => setTimeout(resolve, 2));
}
