import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join, resolve } from 'node:path';
import { build } from 'vite';
import type { ProcessRun } from './measure-speed-process.ts';

const root = resolve(import.meta.dirname, '../..');

/** What a meter said of a file; `null` is what it doesn't measure. */
export interface MeterFigures {
  integratedLoudnessLufs: number | null;
  truePeakDbtp: number | null;
  loudnessRangeLu: number | null;
}

/** A program that measures a file. */
export interface Meter {
  name: string;
  /** The most that the project's own time may be of this one's, as a share. */
  goalRatio: number | null;
  command: string;
  argumentsFor(path: string): string[];
  /** Decimals to show of its figures: no more than it gives. */
  decimals: number;
  figuresOf(run: ProcessRun): MeterFigures;
}

/** The meters of this machine, with what couldn't be found, in sentences, and the versions of the outside ones. */
export interface FoundMeters {
  own: Meter;
  others: Meter[];
  missing: string[];
  versions: string[];
}

function figuresFromJson({ output }: ProcessRun): MeterFigures {
  const { integratedLoudnessLufs, truePeakDbtp, loudnessRangeLu } = JSON.parse(
    output,
  ) as Partial<MeterFigures>;
  return {
    integratedLoudnessLufs: integratedLoudnessLufs ?? null,
    truePeakDbtp: truePeakDbtp ?? null,
    loudnessRangeLu: loudnessRangeLu ?? null,
  };
}

/** The project's own full measurement, as built. */
export function ownMeter(): Meter {
  const program = join(root, 'dist/server/countoff.js');
  if (!existsSync(program)) throw new Error('The server is not built. Run: npm run build');
  return {
    name: 'countoff measure --json, everything',
    goalRatio: null,
    command: process.execPath,
    argumentsFor: (path) => [program, 'measure', path, '--json'],
    decimals: 2,
    figuresOf: figuresFromJson,
  };
}

/** `ebur128-wasm`, its program compiled as the server is: no compiler runs while the clock does. */
async function wasmMeter(): Promise<{ meter: Meter; version: string }> {
  const folder = join(root, 'dist/bench');
  await build({
    configFile: false,
    logLevel: 'error',
    root,
    build: {
      ssr: join(import.meta.dirname, 'measure-speed-ebur128-wasm.ts'),
      outDir: folder,
      target: 'node20',
    },
  });
  const program = join(folder, 'measure-speed-ebur128-wasm.js');
  const { version } = createRequire(import.meta.url)('ebur128-wasm/package.json') as { version: string };
  return {
    meter: {
      name: 'ebur128-wasm in Node: I, true peak',
      goalRatio: null,
      command: process.execPath,
      argumentsFor: (path) => [program, path],
      decimals: 2,
      figuresOf: figuresFromJson,
    },
    version,
  };
}

/** The figures of the summary that ffmpeg's `ebur128` filter ends with. */
function figuresOfFfmpeg({ errors }: ProcessRun): MeterFigures {
  const summary = errors.slice(errors.lastIndexOf('Summary:'));
  const figure = (label: string) => {
    const found = new RegExp(`^\\s*${label}:\\s*(-?[\\d.]+) `, 'm').exec(summary)?.[1];
    return found === undefined ? null : Number(found);
  };
  return {
    integratedLoudnessLufs: figure('I'),
    truePeakDbtp: figure('Peak'),
    loudnessRangeLu: figure('LRA'),
  };
}

function ffmpegMeter(): { meter: Meter; version: string } | null {
  const said = spawnSync('ffmpeg', ['-version'], { encoding: 'utf8' });
  if (said.status !== 0) return null;
  return {
    meter: {
      name: 'ffmpeg ebur128=peak=true',
      goalRatio: 0.6,
      command: 'ffmpeg',
      argumentsFor: (path) => [
        ...['-nostdin', '-hide_banner', '-nostats', '-i', path],
        ...['-af', 'ebur128=peak=true:framelog=verbose', '-f', 'null', '-'],
      ],
      decimals: 1,
      figuresOf: figuresOfFfmpeg,
    },
    version: /^ffmpeg version ([\d.]+)/.exec(said.stdout)?.[1] ?? 'of unknown version',
  };
}

function libebur128Meters(folder: string): { meters: Meter[]; version: string } | { missing: string } {
  const program = join(folder, 'libebur128-meter');
  const source = join(import.meta.dirname, 'libebur128-meter.c');
  const compiled = spawnSync('cc', ['-O2', source, '-o', program, '-lebur128', '-lm'], { encoding: 'utf8' });
  if (compiled.error)
    return { missing: 'libebur128 in C is left out: no C compiler (cc) is on this machine.' };
  if (compiled.status !== 0) {
    if (/ebur128\.h|-lebur128/.test(compiled.stderr))
      return {
        missing: 'libebur128 in C is left out: the library (Debian: libebur128-dev) is not on this machine.',
      };
    throw new Error(`libebur128-meter.c does not compile: ${compiled.stderr}`);
  }
  const meter = (words: string, goalRatio: number | null, ...options: string[]): Meter => ({
    name: `libebur128 in C: I, LRA, S at 10 Hz${words}`,
    goalRatio,
    command: program,
    argumentsFor: (path) => [path, ...options],
    decimals: 2,
    figuresOf: figuresFromJson,
  });
  return {
    meters: [meter(', true peak', 0.3), meter('', null, '--no-true-peak')],
    version: spawnSync(program, ['--version'], { encoding: 'utf8' }).stdout.trim(),
  };
}

/** Looks for every meter, and compiles those that must be, into `folder`. */
export async function findMeters(folder: string): Promise<FoundMeters> {
  const wasm = await wasmMeter();
  const found: FoundMeters = {
    own: ownMeter(),
    others: [wasm.meter],
    missing: [],
    versions: [`ebur128-wasm ${wasm.version}`],
  };
  const ffmpeg = ffmpegMeter();
  if (ffmpeg) {
    found.others.push(ffmpeg.meter);
    found.versions.push(`ffmpeg ${ffmpeg.version}`);
  } else found.missing.push('ffmpeg is left out: it is not on this machine.');
  const libebur128 = libebur128Meters(folder);
  if ('missing' in libebur128) found.missing.push(libebur128.missing);
  else {
    found.others.push(...libebur128.meters);
    found.versions.push(`libebur128 ${libebur128.version}`);
  }
  return found;
}
