import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const root = resolve(import.meta.dirname, '../..');

/** The built server as its own process, as `npm start` runs it, over a temporary folder and on loopback. */
export interface ServerProcess {
  url: string;
  dataFolder: string;
  /** Everything that it printed. */
  printed(): string;
  /** The personal link of the person whose name the line begins with. */
  linkOf(name: string): string;
  stop(): Promise<void>;
  remove(): Promise<void>;
}

async function freePort(): Promise<number> {
  const probe = createServer().listen(0, '127.0.0.1');
  await once(probe, 'listening');
  const address = probe.address();
  probe.close();
  if (!address || typeof address === 'string') throw new Error('No free port.');
  return address.port;
}

/** Starts the server and waits until it says that it is ready, the demo record rendered. */
export async function startServerProcess(): Promise<ServerProcess> {
  const main = join(root, 'dist/server/main.js');
  if (!existsSync(main)) throw new Error('The server is not built. Run: npm run build');
  const dataFolder = await mkdtemp(join(tmpdir(), 'countoff-browser-'));
  const port = await freePort();
  const child: ChildProcess = spawn(process.execPath, [main], {
    env: {
      ...process.env,
      COUNTOFF_DATA: dataFolder,
      COUNTOFF_PORT: String(port),
      COUNTOFF_HOST: '127.0.0.1',
    },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let printed = '';
  let faults = '';
  child.stderr?.on('data', (chunk: Buffer) => {
    faults += chunk.toString();
  });
  await new Promise<void>((ready, fail) => {
    child.stdout?.on('data', (chunk: Buffer) => {
      printed += chunk.toString();
      if (printed.includes('Ready.')) ready();
    });
    child.on('exit', (code) => fail(new Error(`The server ended with ${code}: ${faults}`)));
  });
  return {
    url: `http://localhost:${port}`,
    dataFolder,
    printed: () => `${printed}${faults}`,
    linkOf: (name) => {
      const line = printed.split('\n').find((each) => each.trim().startsWith(name));
      return /http\S+/.exec(line ?? '')?.[0] ?? '';
    },
    stop: async () => {
      if (child.exitCode !== null) return;
      child.kill('SIGTERM');
      await once(child, 'exit');
    },
    remove: () => rm(dataFolder, { recursive: true, force: true }),
  };
}
