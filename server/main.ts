import { randomUUID } from 'node:crypto';
import { existsSync, mkdirSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { serve } from '@hono/node-server';
import { pino } from 'pino';
import { Analyst } from './analysis/analyst.ts';
import { createApp } from './app.ts';
import { Demo } from './application/demo.ts';
import { Intake } from './application/intake.ts';
import { RecordLedger } from './application/record-ledger.ts';
import { StudioExamples } from './application/studio-examples.ts';
import { arrivingPath } from './http/uploads.ts';
import { projectFolder } from './project-folder.ts';
import { AnalysisStore } from './storage/analysis-store.ts';
import { AudioStore } from './storage/audio-store.ts';
import { Database, DataInUseError } from './storage/database.ts';
import { ExampleStore } from './storage/example-store.ts';
import { LedgerStore } from './storage/ledger-store.ts';
import { LinkStore } from './storage/link-store.ts';
import { ServerFactStore } from './storage/server-fact-store.ts';
import { UploadStore } from './storage/upload-store.ts';

const { env } = process;
const dataFolder = resolve(env.COUNTOFF_DATA ?? join(projectFolder, 'data'));
const host = env.COUNTOFF_HOST ?? '127.0.0.1';
const port = Number(env.COUNTOFF_PORT ?? 4440);
const ownerName = env.COUNTOFF_OWNER ?? 'Owner';
const demoWanted = env.COUNTOFF_DEMO !== 'off';
const largestUploadBytes = Number(env.COUNTOFF_LARGEST_UPLOAD_GB ?? 8) * 1e9;

const say = (line = '') => process.stdout.write(`${line}\n`);
const now = () => new Date().toISOString();

async function start(): Promise<void> {
  const log = pino(
    { level: env.COUNTOFF_LOG ?? 'warn', redact: ['req.headers.cookie'] },
    pino.destination({ dest: 2, sync: true }),
  );
  const arrivingFolder = join(dataFolder, 'arriving');
  mkdirSync(arrivingFolder, { recursive: true });
  const database = await Database.open(dataFolder);
  const facts = new ServerFactStore(database);
  const links = new LinkStore(database);
  const uploads = new UploadStore(database);
  const ledgerStore = new LedgerStore(database);
  const audio = new AudioStore(database, join(dataFolder, 'audio'));
  const ledger = new RecordLedger(database, ledgerStore, now);
  const analyst = new Analyst(new AnalysisStore(database), audio, log, now);
  const intake = new Intake(uploads, audio, analyst, ledger, log, now);
  const examples = await StudioExamples.open(new ExampleStore(database));
  const owner = { id: await facts.getOrSet('owner', randomUUID), name: ownerName };
  const demo = new Demo({
    ledger,
    links,
    intake,
    analyst,
    facts,
    owner,
    log,
    now,
    folder: join(dataFolder, 'demo'),
  });
  await demo.load();

  let listeningPort = port;
  const publicUrl = () => (env.COUNTOFF_URL ?? `http://localhost:${listeningPort}`).replace(/\/$/, '');
  const clientFolder = join(projectFolder, 'dist', 'client');
  const app = createApp({
    ledger,
    links,
    uploads,
    audio,
    analyst,
    intake,
    examples,
    log,
    now,
    owner,
    publicUrl,
    arrivingFolder,
    largestUploadBytes,
    clientFolder: existsSync(clientFolder) ? clientFolder : null,
    isDemo: (recordId) => demo.isDemo(recordId),
    forgetDemo: (recordId) => demo.forget(recordId),
  });
  const server = serve({ fetch: app.fetch, hostname: host, port }, ({ port: bound }) => {
    listeningPort = bound;
    void greet();
  });

  async function greet(): Promise<void> {
    const { secret } = await links.issueOwner(owner.id, now());
    say(`Countoff listens on ${publicUrl()}`);
    say();
    say(`  Owner        ${publicUrl()}/enter#${secret}`);
    say();
    say('This link is personal, like a key: it opens every record on this server.');
    await analyst.start();
    await intake.start((upload) => arrivingPath({ arrivingFolder }, upload));
    if (demoWanted && (await demo.isWanted())) await makeDemo();
    say('Ready.');
  }

  async function makeDemo(): Promise<void> {
    say();
    say('The database is empty, so a demo record is made (COUNTOFF_DEMO=off leaves it out). Its links:');
    say();
    for (const { name, roles, secret } of await demo.open())
      say(`  ${name.padEnd(14)} ${publicUrl()}/enter#${secret}   ${roles}`);
    say();
    say('Its songs are being rendered, while the pages answer already …');
    const started = Date.now();
    await demo.render((words) => say(`  ${words}`));
    say(`The demo record is ready after ${((Date.now() - started) / 1000).toFixed(1)} s.`);
  }

  let stopping = false;
  const stop = () => {
    if (stopping) return;
    stopping = true;
    server.close();
    if ('closeAllConnections' in server) server.closeAllConnections();
    void analyst
      .close()
      .then(() => database.close())
      .then(() => process.exit(0));
  };
  process.on('SIGINT', stop);
  process.on('SIGTERM', stop);
  server.on('error', (error: NodeJS.ErrnoException) => {
    process.stderr.write(
      error.code === 'EADDRINUSE'
        ? `Port ${port} is taken. Stop what uses it, or choose another: COUNTOFF_PORT=4441 npm start\n`
        : `The server could not listen: ${error.message}\n`,
    );
    process.exit(1);
  });
}

start().catch((error: unknown) => {
  process.stderr.write(
    error instanceof DataInUseError ? `${error.message}\n` : `The server could not start: ${String(error)}\n`,
  );
  process.exit(1);
});
