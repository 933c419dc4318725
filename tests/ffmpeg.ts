import { spawnSync } from 'node:child_process';

/**
 * Runs ffmpeg, an outside encoder and meter for tests; the product never needs it. Gives what it wrote to standard error.
 *
 * @throws Error where it is missing, with what to install: a check that can't run has failed
 */
export function ffmpeg(...args: string[]): string {
  const { status, stderr, error } = spawnSync('ffmpeg', ['-y', '-nostdin', '-hide_banner', ...args], {
    encoding: 'utf8',
    maxBuffer: 1 << 28,
  });
  if (error) throw new Error('This test needs ffmpeg on the path (Debian: apt-get install ffmpeg).');
  if (status !== 0) throw new Error(`ffmpeg ${args.join(' ')}: ${stderr.slice(-500)}`);
  return stderr;
}
