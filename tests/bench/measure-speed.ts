import { rmSync } from 'node:fs';
import { mkdtemp, rm, statfs } from 'node:fs/promises';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { atTwiceTheRate, byteLengthOf, demoLoops, type Loop, writeLoopedWav } from './measure-speed-file.ts';
import { samplePageLatency } from './measure-speed-latency.ts';
import { type FoundMeters, findMeters, type Meter } from './measure-speed-meters.ts';
import { type ProcessRun, resourceMethod, runProcess } from './measure-speed-process.ts';
import { median, quantile } from './measure-speed-quantile.ts';
import { alignedTable } from './measure-speed-table.ts';

/**
 * `tsx tests/bench/measure-speed.ts [--quick] [meters] [length] [comparison] [latency]` prints how fast the built program
 * measures: beside other meters in the same run, over the length of a file, beside a comparison of two, and what a page
 * feels of it. Names choose tables;
 * `--quick` takes 3 rounds in place of 5 and leaves the files of 60 and 180 minutes out. Times of one run are to be held
 * against each other, never against those of another run.
 */
const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { quick: { type: 'boolean', default: false } },
});
const { quick } = values;
const rounds = quick ? 3 : 5;
const tables = ['meters', 'length', 'comparison', 'latency'];
if (positionals.some((name) => !tables.includes(name)))
  throw new Error(`Usage: measure-speed [--quick] [${tables.join('] [')}]`);
const wants = (table: string) => positionals.length === 0 || positionals.includes(table);
const songSeconds = 240;
const spareDiskBytes = 1e9;
/** The most that comparing two files may take, in times of measuring one. */
const comparisonGoal = 3;
/** The most that a page may slow down, as a share of its time when nothing else goes on. */
const latencyGoal = 2;

const say = (words: string) => process.stderr.write(`… ${words}\n`);
const shown = (value: number | null, digits: number) =>
  value === null ? '–' : value.toFixed(digits).replace('-', '−');
const goalWords = (goal: string, met: boolean) => `${goal} ${met ? 'met' : 'missed'}`;

const wallSecondsOf = (runs: readonly ProcessRun[]) => median(runs.map((run) => run.wallSeconds));

/** The median of what the system counted, or `null` where nothing could ask it. */
function counted(runs: readonly ProcessRun[], key: 'processorSeconds' | 'peakMemoryMib'): number | null {
  const known = runs.flatMap((run) => run[key] ?? []);
  return known.length ? median(known) : null;
}

/** Every meter once, then every meter again: what slows the machine for a while slows all of them. */
async function interleaved(meters: readonly Meter[], path: string, folder: string): Promise<ProcessRun[][]> {
  const runs = meters.map((): ProcessRun[] => []);
  for (let round = 1; round <= rounds; round++) {
    say(`round ${round} of ${rounds}`);
    for (const [index, meter] of meters.entries())
      runs[index]!.push(await runProcess(meter.command, meter.argumentsFor(path), folder));
  }
  return runs;
}

async function metersTable({ own, others, missing }: FoundMeters, loop: Loop, folder: string) {
  const path = join(folder, 'song.wav');
  const rate = `${loop.sampleRateHz / 1000} kHz`;
  say(`writing 4 minutes at ${rate}`);
  await writeLoopedWav(path, loop, songSeconds);
  const meters = [own, ...others];
  const runs = await interleaved(meters, path, folder);
  await rm(path);
  const ownSeconds = wallSecondsOf(runs[0]!);
  const rows = meters.map((meter, index) => {
    const mine = runs[index]!;
    const seconds = wallSecondsOf(mine);
    const ratio = ownSeconds / seconds;
    const walls = mine.map((run) => run.wallSeconds);
    const figures = meter.figuresOf(mine[0]!);
    return [
      meter.name,
      seconds.toFixed(2),
      `${Math.min(...walls).toFixed(2)}–${Math.max(...walls).toFixed(2)}`,
      (songSeconds / seconds).toFixed(0),
      shown(counted(mine, 'processorSeconds'), 2),
      shown(counted(mine, 'peakMemoryMib'), 0),
      meter === own ? '–' : ratio.toFixed(3),
      meter.goalRatio === null ? '' : goalWords(`≤ ${meter.goalRatio.toFixed(2)}`, ratio <= meter.goalRatio),
      shown(figures.integratedLoudnessLufs, meter.decimals),
      shown(figures.truePeakDbtp, meter.decimals),
      shown(figures.loudnessRangeLu, meter.decimals),
    ];
  });
  console.log(
    `\n4 minutes, ${rate}, 24-bit, stereo: whole processes, decoding included, medians of ${rounds} interleaved rounds\n`,
  );
  console.log(
    alignedTable(
      [
        'meter',
        'wall s',
        'from–to s',
        '× realtime',
        'CPU s',
        'peak MiB',
        'own ÷ this',
        'goal',
        'LUFS',
        'dBTP',
        'LRA LU',
      ],
      rows,
    ),
  );
  for (const words of missing) console.log(`\n${words}`);
}

const lengthsMinutes = quick ? [1, 4, 10, 30] : [1, 4, 10, 30, 60, 180];

async function lengthTable(own: Meter, loop: Loop, folder: string) {
  const rows: string[][] = [];
  const leftOut: string[] = [];
  let shortest: { minutes: number; seconds: number } | null = null;
  for (const minutes of lengthsMinutes) {
    const needed = byteLengthOf(loop.sampleRateHz, minutes * 60);
    const { bavail, bsize } = await statfs(folder);
    if (bavail * bsize < needed + spareDiskBytes) {
      leftOut.push(
        `${minutes} minutes are left out: the file takes ${(needed / 1e9).toFixed(1)} GB, and the temporary folder's disk has ${((bavail * bsize) / 1e9).toFixed(1)} GB left.`,
      );
      continue;
    }
    const path = join(folder, 'long.wav');
    say(`writing a file of ${minutes} min`);
    await writeLoopedWav(path, loop, minutes * 60);
    const runs: ProcessRun[] = [];
    // Long files average over the machine's moods by themselves.
    for (let run = 0; run < (minutes <= 10 ? rounds : 1); run++) {
      say(`measuring a file of ${minutes} min`);
      runs.push(await runProcess(own.command, own.argumentsFor(path), folder));
    }
    await rm(path);
    const seconds = wallSecondsOf(runs);
    const furtherMilliseconds: number | null =
      shortest && (1000 * (seconds - shortest.seconds)) / (minutes - shortest.minutes);
    shortest ??= { minutes, seconds };
    rows.push([
      String(minutes),
      String(runs.length),
      seconds.toFixed(2),
      ((1000 * seconds) / minutes).toFixed(0),
      shown(furtherMilliseconds, 0),
      shown(counted(runs, 'processorSeconds'), 2),
      shown(counted(runs, 'peakMemoryMib'), 0),
    ]);
  }
  console.log(
    `\n${own.name}, by length: 48 kHz, 24-bit, stereo; a further minute is one past the shortest file, so without the process's start\n`,
  );
  console.log(
    alignedTable(
      ['minutes', 'runs', 'wall s', 'ms a minute', 'ms a further minute', 'CPU s', 'peak MiB'],
      rows,
    ),
  );
  for (const words of leftOut) console.log(`\n${words}`);
}

async function comparisonTable(own: Meter, loops: readonly Loop[], folder: string) {
  const paths: string[] = [];
  for (const [index, loop] of loops.entries()) {
    const path = join(folder, `compared-${index}.wav`);
    await writeLoopedWav(path, loop, songSeconds);
    paths.push(path);
  }
  const [program] = own.argumentsFor('') as [string];
  const programs: [string, string[]][] = [
    ['measure, one of them', own.argumentsFor(paths[0]!)],
    ['compare, the two', [program, 'compare', ...paths, '--json']],
  ];
  const runs = programs.map((): ProcessRun[] => []);
  for (let round = 1; round <= rounds; round++) {
    say(`comparing, round ${round} of ${rounds}`);
    for (const [index, [, args]] of programs.entries())
      runs[index]!.push(await runProcess(own.command, args, folder));
  }
  for (const path of paths) await rm(path);
  const ownSeconds = wallSecondsOf(runs[0]!);
  console.log(
    `\nComparing two mixes of 4 minutes: whole processes, medians of ${rounds} interleaved rounds\n`,
  );
  console.log(
    alignedTable(
      ['', 'wall s', 'CPU s', 'peak MiB', 'ratio', 'goal'],
      programs.map(([name], index) => {
        const seconds = wallSecondsOf(runs[index]!);
        const ratio = seconds / ownSeconds;
        return [
          name,
          seconds.toFixed(2),
          shown(counted(runs[index]!, 'processorSeconds'), 2),
          shown(counted(runs[index]!, 'peakMemoryMib'), 0),
          ratio.toFixed(2),
          index === 0 ? '' : goalWords(`≤ ${comparisonGoal.toFixed(2)}`, ratio <= comparisonGoal),
        ];
      }),
    ),
  );
}

async function latencyTable(loops: readonly Loop[], folder: string) {
  const paths: string[] = [];
  for (const [index, loop] of loops.entries()) {
    const path = join(folder, `load-${index}.wav`);
    await writeLoopedWav(path, loop, songSeconds);
    paths.push(path);
  }
  say('starting the server, with the demo record, and asking for a song sheet');
  const samples = await samplePageLatency(paths);
  for (const path of paths) await rm(path);
  const [idle, loaded] = [samples.idleMilliseconds, samples.loadedMilliseconds];
  const row = (name: string, at: (values: readonly number[]) => number) => {
    const ratio = at(loaded) / at(idle);
    return [
      name,
      at(idle).toFixed(1),
      at(loaded).toFixed(1),
      ratio.toFixed(2),
      goalWords(`< ${latencyGoal.toFixed(2)}`, ratio < latencyGoal),
    ];
  };
  console.log(
    `\nA song sheet over HTTP, ms, ${idle.length} requests each: idle, and while two files of 4 minutes are being measured (${samples.measurementsFinished} measurements ended meanwhile)\n`,
  );
  console.log(
    alignedTable(
      ['', 'idle', 'measuring', 'ratio', 'goal'],
      [row('median', median), row('95th percentile', (values) => quantile(values, 0.95))],
    ),
  );
}

/** What else went on: past a few tenths, times are those of a shared machine. */
const [busyAtStart] = loadavg();
const folder = await mkdtemp(join(tmpdir(), 'countoff-bench-'));
// Whoever stops a long run shall not find gigabytes left behind.
for (const signal of ['SIGINT', 'SIGTERM'] as const)
  process.once(signal, () => {
    rmSync(folder, { recursive: true, force: true });
    process.exit(1);
  });
try {
  say('rendering the demo mix');
  const [mix, otherMix] = demoLoops();
  const meters = await findMeters(folder);
  const machine = cpus();
  const load = `load average ${busyAtStart?.toFixed(1)} at the start`;
  console.log(
    `\n${[`${machine[0]?.model.trim()}, ${machine.length} cores`, `Node ${process.versions.node}`, ...meters.versions, load].join(', ')}; ${resourceMethod}`,
  );
  if (wants('meters')) {
    await metersTable(meters, mix, folder);
    await metersTable(meters, atTwiceTheRate(mix), folder);
  }
  if (wants('length')) await lengthTable(meters.own, mix, folder);
  if (wants('comparison')) await comparisonTable(meters.own, [otherMix, mix], folder);
  if (wants('latency')) await latencyTable([mix, otherMix], folder);
} finally {
  await rm(folder, { recursive: true, force: true });
}
