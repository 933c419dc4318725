import { spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { open, readFile } from 'node:fs/promises';
import { join } from 'node:path';

/** One run of a program from its start to its exit. */
export interface ProcessRun {
  wallSeconds: number;
  /** Of all its threads, in its own code and in the system's; `null` where GNU time isn't there to ask for it. */
  processorSeconds: number | null;
  /** The most memory resident at once; `null` where GNU time isn't there. */
  peakMemoryMib: number | null;
  output: string;
  errors: string;
}

const gnuTime = /GNU/.test(spawnSync('time', ['--version'], { encoding: 'utf8' }).stdout ?? '');

/** How processor time and memory are read, in words for the head of a table. */
export const resourceMethod = gnuTime
  ? 'processor time and peak memory (ru_maxrss) are what the system counted for the process, by GNU time, for every program alike'
  : 'processor time and peak memory are left out: GNU time (Debian: apt-get install time) is not on this machine';

/**
 * Runs a program alone and whole. What it prints goes to files in `folder`, so that nobody has to keep up with reading
 * it while the clock runs.
 *
 * @throws Error where it can't be started or fails, with the end of what it said
 */
export async function runProcess(
  command: string,
  args: readonly string[],
  folder: string,
): Promise<ProcessRun> {
  const [outputPath, errorsPath, resourcesPath] = ['output', 'errors', 'resources'].map((name) =>
    join(folder, `process-${name}.txt`),
  ) as [string, string, string];
  const [output, errors] = await Promise.all([open(outputPath, 'w'), open(errorsPath, 'w')]);
  try {
    const stdio = ['ignore', output.fd, errors.fd] as const;
    const start = performance.now();
    const child = gnuTime
      ? spawn('time', ['-q', '-f', '%M %U %S', '-o', resourcesPath, command, ...args], { stdio: [...stdio] })
      : spawn(command, args, { stdio: [...stdio] });
    const [code] = (await once(child, 'exit')) as [number | null];
    const wallSeconds = (performance.now() - start) / 1000;
    const said = await readFile(errorsPath, 'utf8');
    if (code !== 0) throw new Error(`${command} ended with ${code}: ${said.slice(-500)}`);
    const [kibibytes, userSeconds, systemSeconds] = gnuTime
      ? (await readFile(resourcesPath, 'utf8')).split(' ').map(Number)
      : [];
    return {
      wallSeconds,
      processorSeconds:
        userSeconds === undefined || systemSeconds === undefined ? null : userSeconds + systemSeconds,
      peakMemoryMib: kibibytes === undefined ? null : kibibytes / 1024,
      output: await readFile(outputPath, 'utf8'),
      errors: said,
    };
  } finally {
    await Promise.all([output.close(), errors.close()]);
  }
}
