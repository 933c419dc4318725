import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll } from 'vitest';

let folder = '';
let count = 0;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** A path in the folder of the tests that import this, which goes when they end. */
export const temporaryPath = (name: string) => join(folder, name);

/** Puts bytes in a file of their own. */
export async function stored(bytes: Uint8Array): Promise<string> {
  const path = temporaryPath(`file ${count++}`);
  await writeFile(path, bytes);
  return path;
}
