import { setTimeout as pause } from 'node:timers/promises';
import { startServerProcess } from '../browser/server-process.ts';
import { MeasurementLoad } from './measure-speed-load.ts';
import { Session } from './measure-speed-session.ts';

/** How long the demo's song sheet took to come, each time it was asked for. */
export interface LatencySamples {
  idleMilliseconds: number[];
  loadedMilliseconds: number[];
  /** How many measurements were finished while the loaded samples were taken. */
  measurementsFinished: number;
}

const turns = 4;
const requestsATurn = 50;
const pauseMilliseconds = 15;
/** After a load, for threads to end and memory to be given back. */
const settleMilliseconds = 1000;

/**
 * Starts the built server with the demo record and asks for a song sheet, in turns while nothing else goes on and while
 * every one of `paths` is being measured on its workers. The asking itself shares the machine with the server.
 */
export async function samplePageLatency(paths: readonly string[]): Promise<LatencySamples> {
  const server = await startServerProcess();
  let load: MeasurementLoad | null = null;
  try {
    const owner = await Session.enter(server.url, server.linkOf('Owner'));
    const me = (await (await owner.ask('GET', '/me')).json()) as { records: { id: string; demo: boolean }[] };
    const demo = me.records.find((record) => record.demo);
    if (!demo) throw new Error('The server shows no demo record.');
    const sheet = `/records/${demo.id}/songs/main`;
    load = await MeasurementLoad.prepare(owner, paths);

    const samples: LatencySamples = { idleMilliseconds: [], loadedMilliseconds: [], measurementsFinished: 0 };
    await sampleInto([], owner, sheet);
    for (let turn = 0; turn < turns; turn++) {
      await pause(settleMilliseconds);
      await sampleInto(samples.idleMilliseconds, owner, sheet);
      await load.start();
      const before = load.finished;
      await sampleInto(samples.loadedMilliseconds, owner, sheet);
      samples.measurementsFinished += load.finished - before;
      await load.stop();
    }
    return samples;
  } finally {
    load?.close();
    await server.stop();
    await server.remove();
  }
}

async function sampleInto(milliseconds: number[], reader: Session, path: string): Promise<void> {
  for (let request = 0; request < requestsATurn; request++) {
    await pause(pauseMilliseconds);
    const start = performance.now();
    await (await reader.ask('GET', path)).arrayBuffer();
    milliseconds.push(performance.now() - start);
  }
}
