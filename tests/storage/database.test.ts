import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createClient } from '@libsql/client';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Database, DataInUseError } from '../../server/storage/database.ts';
import { LedgerStore } from '../../server/storage/ledger-store.ts';

/**
 * Proves that an acknowledged write is there after the process is killed, also when another process held the file busy
 * meanwhile (the driver's fault that DEVELOPERS.md describes), and that one process owns a folder.
 */
let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-database-'));
});
const children = new Set<ChildProcess>();
afterEach(async () => {
  for (const child of children) child.kill('SIGKILL');
  children.clear();
  await rm(folder, { recursive: true, force: true });
});

const writer = new URL('./writing-process.ts', import.meta.url).pathname;

/** Starts the writing process and collects what it acknowledges. */
function startWriter(): { child: ChildProcess; acknowledged: number[]; opened: Promise<void> } {
  const child = spawn(process.execPath, ['--import', 'tsx', writer, folder, 'record'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  children.add(child);
  const acknowledged: number[] = [];
  let rest = '';
  const opened = new Promise<void>((resolve, reject) => {
    child.stdout?.on('data', (chunk: Buffer) => {
      const lines = (rest + chunk.toString()).split('\n');
      rest = lines.pop() ?? '';
      for (const line of lines) {
        if (line === 'open') resolve();
        else acknowledged.push(Number(line));
      }
    });
    child.on('exit', () => reject(new Error('The writer ended before it opened.')));
  });
  return { child, acknowledged, opened };
}

async function sequencesOnDisk(): Promise<number[]> {
  const client = createClient({ url: `file:${join(folder, 'countoff.db')}` });
  const { rows } = await client.execute('SELECT sequence FROM ledger_entries ORDER BY sequence');
  client.close();
  return rows.map((row) => Number(row.sequence));
}

const pause = (milliseconds: number) => new Promise((resolve) => setTimeout(resolve, milliseconds));

describe('the database', () => {
  it('keeps every acknowledged write through kills and a busy file', async () => {
    const acknowledged: number[] = [];
    for (let round = 0; round < 6; round += 1) {
      const { child, acknowledged: mine, opened } = startWriter();
      await opened;
      await pause(40 + round * 35);
      const foreign = createClient({ url: `file:${join(folder, 'countoff.db')}`, timeout: 60_000 });
      const held = await foreign.transaction('write');
      await pause(round % 2 ? 60 : 400);
      await held.rollback();
      foreign.close();
      await pause(60);
      child.kill('SIGKILL');
      await once(child, 'exit');
      acknowledged.push(...mine);
    }
    const kept = await sequencesOnDisk();
    expect(acknowledged.length).toBeGreaterThan(0);
    expect(acknowledged.filter((sequence) => !kept.includes(sequence))).toEqual([]);
    expect(new Set(kept).size).toBe(kept.length);
  });

  it('refuses a second process on the same folder, in plain words', async () => {
    const { child, opened } = startWriter();
    await opened;
    await expect(Database.open(folder)).rejects.toThrow(DataInUseError);
    child.kill('SIGKILL');
    await once(child, 'exit');
    await (await Database.open(folder)).close();
  });

  it('applies five hundred writes that were asked for at once, none twice', async () => {
    const database = await Database.open(folder);
    const store = new LedgerStore(database);
    await Promise.all(
      Array.from({ length: 500 }, (_, index) =>
        database.write((transaction) =>
          store.append(transaction, 'record', [
            {
              sequence: index + 1,
              at: '',
              by: '',
              fact: { type: 'songRenamed', song: 'song', title: '' },
              previousHash: '',
              hash: '',
            },
          ]),
        ),
      ),
    );
    await database.close();
    expect(await sequencesOnDisk()).toHaveLength(500);
  });

  it('rolls a failed transaction back whole', async () => {
    const database = await Database.open(folder);
    const store = new LedgerStore(database);
    const entry = {
      sequence: 1,
      at: '',
      by: '',
      fact: { type: 'songRenamed' as const, song: 'song', title: '' },
      previousHash: '',
      hash: '',
    };
    await expect(
      database.write(async (transaction) => {
        await store.append(transaction, 'record', [entry]);
        await store.append(transaction, 'record', [entry]);
      }),
    ).rejects.toThrow();
    await database.close();
    expect(await sequencesOnDisk()).toEqual([]);
  });
});
