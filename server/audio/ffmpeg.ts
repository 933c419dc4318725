import { spawn } from 'node:child_process';
import { access, constants } from 'node:fs/promises';
import { delimiter, isAbsolute, join, resolve } from 'node:path';
import { AudioFileError } from './audio-file-error.ts';

/** How long ffmpeg may give nothing before it counts as stuck. */
const patienceSeconds = 60;
/** The largest piece of memory that a file can make ffmpeg ask for. */
const mostAllocationBytes = String(256 * 2 ** 20);
const mostComplaintChars = 2000;

/**
 * Where the program ffmpeg is on this machine: what `COUNTOFF_FFMPEG` names, else the first on the path; `null` where
 * there is none. It decodes AAC and ALAC, and nothing else needs it.
 */
export async function findFfmpeg(environment: NodeJS.ProcessEnv = process.env): Promise<string | null> {
  const named = environment.COUNTOFF_FFMPEG;
  const candidates =
    named === undefined
      ? (environment.PATH ?? '')
          .split(delimiter)
          .filter(isAbsolute)
          .map((folder) => join(folder, 'ffmpeg'))
      : [resolve(named)];
  for (const candidate of candidates) {
    const runs = await access(candidate, constants.X_OK).then(
      () => true,
      () => false,
    );
    if (runs) return candidate;
  }
  return null;
}

export interface FfmpegOptions {
  program: string;
  path: string;
  /** The decoder, by its ffmpeg name: no other is tried, whatever the file says. */
  decoder: 'alac' | 'aac';
  /** Output options behind the choice of the first sound track. */
  output: readonly string[];
}

/**
 * What ffmpeg decodes of an MPEG-4 file, chunk by chunk through a pipe that holds it back until the next is asked for.
 * It reads that one local file and starts nothing else; leaving the loop, or any error in it, ends the process.
 *
 * @throws AudioFileError `damaged` where it stops with an error, or gives nothing for a minute
 */
export async function* ffmpegOutput(options: FfmpegOptions, signal?: AbortSignal): AsyncGenerator<Buffer> {
  const input = ['-protocol_whitelist', 'file,pipe', '-f', 'mov', '-c:a', options.decoder];
  const child = spawn(
    options.program,
    [
      ...[
        '-nostdin',
        '-hide_banner',
        '-loglevel',
        'error',
        '-xerror',
        '-threads',
        '1',
        '-max_alloc',
        mostAllocationBytes,
      ],
      ...[...input, '-i', `file:${resolve(options.path)}`, '-map', '0:a:0', '-vn', '-sn', '-dn'],
      ...['-map_metadata', '-1', ...options.output, 'pipe:1'],
    ],
    // Of the environment only what finds its libraries: others of its variables write files.
    { stdio: ['ignore', 'pipe', 'pipe'], env: { PATH: process.env.PATH, LC_ALL: 'C' } },
  );
  let complaint = '';
  let stuck = false;
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    complaint = (complaint + text).slice(0, mostComplaintChars);
  });
  const ended = new Promise<number | null>((finish) => {
    child.on('error', () => finish(null));
    child.on('close', finish);
  });
  const end = () => child.kill('SIGKILL');
  signal?.addEventListener('abort', end, { once: true });
  const chunks = child.stdout[Symbol.asyncIterator]();
  try {
    for (;;) {
      const patience = setTimeout(() => {
        stuck = true;
        end();
      }, patienceSeconds * 1000);
      const next = await chunks.next().finally(() => clearTimeout(patience));
      if (next.done) break;
      yield next.value as Buffer;
    }
    if ((await ended) !== 0) {
      throw new AudioFileError(
        'damaged',
        stuck
          ? 'The file does not decode: ffmpeg came to a standstill.'
          : `The file does not decode${inShort(complaint)}.`,
      );
    }
  } finally {
    signal?.removeEventListener('abort', end);
    end();
    // What was not read would keep the pipe, and with it the process, from being done.
    child.stdout.destroy();
    await ended;
  }
}

/** ffmpeg's first complaint without addresses and paths. */
function inShort(complaint: string): string {
  const words = complaint
    .split('\n')[0]!
    .replace(/\[[^\]]*\]\s*/g, '')
    .replace(/file:\S*:?\s*/g, '')
    .trim();
  return words ? ` (ffmpeg: ${words.replace(/\.$/, '')})` : '';
}
