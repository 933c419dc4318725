import { execFile } from 'node:child_process';
import { resolve } from 'node:path';
import { promisify } from 'node:util';

const run = promisify(execFile);
const root = resolve(import.meta.dirname, '../..');

/** Runs the command line from source, as a person does, whatever its exit code. */
export const countoff = (...args: string[]) =>
  run(process.execPath, ['--import', 'tsx', resolve(root, 'server/countoff.ts'), ...args], {
    cwd: root,
  }).then(
    ({ stdout, stderr }) => ({ code: 0, stdout, stderr }),
    ({ code, stdout, stderr }: { code: number; stdout: string; stderr: string }) => ({
      code,
      stdout,
      stderr,
    }),
  );
