import { randomUUID } from 'node:crypto';
import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname } from 'node:path';

/** Writes a file that is seen whole or not at all: under another name first, made durable, then renamed. */
export async function writeWhole(path: string, bytes: Uint8Array): Promise<void> {
  await mkdir(dirname(path), { recursive: true });
  const arriving = `${path}.${randomUUID()}.arriving`;
  try {
    const handle = await open(arriving, 'wx');
    try {
      await handle.writeFile(bytes);
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(arriving, path);
  } catch (error) {
    await rm(arriving, { force: true });
    throw error;
  }
}
