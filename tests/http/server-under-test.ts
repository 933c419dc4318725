import { mkdir, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Hono } from 'hono';
import { pino } from 'pino';
import { Analyst } from '../../server/analysis/analyst.ts';
import { createApp } from '../../server/app.ts';
import { Intake } from '../../server/application/intake.ts';
import { RecordLedger } from '../../server/application/record-ledger.ts';
import { StudioExamples } from '../../server/application/studio-examples.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import type { ContractTerms } from '../../server/domain/contract.ts';
import { defaultTerms } from '../../server/domain/default-contract.ts';
import type { GivenRole } from '../../server/domain/person.ts';
import type { Access } from '../../server/http/access.ts';
import { AnalysisStore } from '../../server/storage/analysis-store.ts';
import { AudioStore } from '../../server/storage/audio-store.ts';
import { Database } from '../../server/storage/database.ts';
import { ExampleStore } from '../../server/storage/example-store.ts';
import { LedgerStore } from '../../server/storage/ledger-store.ts';
import { LinkStore } from '../../server/storage/link-store.ts';
import { UploadStore } from '../../server/storage/upload-store.ts';

export const ownerId = 'owner';

/** A whole server over a temporary folder, asked through `app.request`, without a port. */
export interface ServerUnderTest {
  app: Hono<Access>;
  ledger: RecordLedger;
  links: LinkStore;
  analyst: Analyst;
  examples: StudioExamples;
  folder: string;
  logged: string[];
  /** Sets the clock that the server reads. */
  setNow(at: string): void;
  close(): Promise<void>;
}

export async function startServer(): Promise<ServerUnderTest> {
  const folder = await mkdtemp(join(tmpdir(), 'countoff-test-'));
  const arrivingFolder = join(folder, 'arriving');
  await mkdir(arrivingFolder, { recursive: true });
  const logged: string[] = [];
  const log = pino({ level: 'debug' }, { write: (line: string) => void logged.push(line) });
  const database = await Database.open(folder);
  let fixed: string | null = null;
  const now = () => fixed ?? new Date().toISOString();
  const links = new LinkStore(database);
  const uploads = new UploadStore(database);
  const audio = new AudioStore(database, join(folder, 'audio'));
  const ledger = new RecordLedger(database, new LedgerStore(database), now);
  const analyst = new Analyst(new AnalysisStore(database), audio, log, now);
  const intake = new Intake(uploads, audio, analyst, ledger, log, now);
  const examples = await StudioExamples.open(new ExampleStore(database));
  const demo = new Set<string>();
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
    owner: { id: ownerId, name: 'Owner' },
    publicUrl: () => 'http://localhost',
    arrivingFolder,
    largestUploadBytes: 1e9,
    clientFolder: null,
    isDemo: (recordId) => demo.has(recordId),
    forgetDemo: async (recordId) => ledger.deleteRecord(recordId),
  });
  return {
    app,
    ledger,
    links,
    analyst,
    examples,
    folder,
    logged,
    setNow: (at) => {
      fixed = at;
    },
    close: async () => {
      await analyst.close();
      await database.close();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

/** A person's browser: a cookie jar and a way to ask. */
export interface Browser {
  cookie: string;
  ask(method: string, path: string, body?: unknown, headers?: Record<string, string>): Promise<Response>;
}

export async function enter(server: ServerUnderTest, secret: string): Promise<Browser> {
  const response = await server.app.request('/api/enter', {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ secret }),
  });
  if (response.status !== 204) throw new Error(`The link did not open: ${response.status}`);
  const cookie = response.headers.get('set-cookie')?.split(';')[0] ?? '';
  return browser(server, cookie);
}

export function browser(server: ServerUnderTest, cookie: string): Browser {
  return {
    cookie,
    ask: async (method, path, body, headers = {}) =>
      server.app.request(`/api${path}`, {
        method,
        headers: {
          ...(cookie ? { cookie } : {}),
          ...(body === undefined ? {} : { 'content-type': 'application/json' }),
          ...headers,
        },
        ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      }),
  };
}

export const nobody = (server: ServerUnderTest) => browser(server, '');

/** People of a record, by the id under which the tests know them. */
export interface Cast {
  [id: string]: { name: string; roles: GivenRole[] };
}

/** The smallest record that has a client: the owner, and one artist who speaks, pays and signs. */
export async function openArtistsRecord(
  server: ServerUnderTest,
): Promise<{ owner: Browser; artist: Browser }> {
  const people = await openRecord(server, 'record', { artist: { name: 'Ana', roles: ['artist'] } }, () => ({
    spokesperson: 'artist',
    payer: 'artist',
    signers: { production: ['artist'], mix: ['artist'], master: ['artist'] },
  }));
  return { owner: people[ownerId]!, artist: people.artist! };
}

/** A record with its people and their browsers; the owner is a mix engineer too. */
export async function openRecord(
  server: ServerUnderTest,
  recordId: string,
  cast: Cast,
  terms: (
    people: string[],
  ) => Partial<ContractTerms> & Pick<ContractTerms, 'spokesperson' | 'payer' | 'signers'>,
): Promise<Record<string, Browser>> {
  const at = '2026-03-01T09:00:00.000Z';
  const run = async (command: Parameters<RecordLedger['execute']>[2]) => {
    const outcome = await server.ledger.execute(recordId, ownerId, command, { at });
    if (!outcome.ok) throw new Error(JSON.stringify(outcome));
  };
  await run({
    type: 'openRecord',
    recordId,
    title: 'Ninth Harbour',
    act: 'The Slow Ferries',
    owner: { id: ownerId, name: 'Owner', roles: ['mix engineer'], owner: true },
  });
  const browsers: Record<string, Browser> = {};
  for (const [id, { name, roles }] of Object.entries(cast)) {
    await run({ type: 'addPerson', person: { id, name, roles, owner: false } });
    const { secret } = await server.links.issue(recordId, id, at);
    browsers[id] = await enter(server, secret);
  }
  const { secret } = await server.links.issueOwner(ownerId, at);
  browsers[ownerId] = await enter(server, secret);
  await run({
    type: 'draftContract',
    terms: {
      ...defaultTerms(),
      parties: { engineer: 'The engineer', client: 'The client' },
      ...terms(Object.keys(cast)),
    },
  });
  await run({ type: 'agreeContract', how: 'signed on paper' });
  await run({ type: 'addSong', song: 'song', title: 'Low Water' });
  return browsers;
}

/** A short stereo file that is music enough to be measured: two tones, one a channel. */
export async function toneFile(
  path: string,
  { seconds = 2, gain = 0.1, sampleRateHz = 48_000, channelCount = 2, hz = 220 } = {},
): Promise<void> {
  const frames = Math.round(seconds * sampleRateHz);
  const channels = Array.from({ length: channelCount }, (_, channel) =>
    Float32Array.from(
      { length: frames },
      (__, frame) => gain * Math.sin((2 * Math.PI * hz * (channel + 1) * frame) / sampleRateHz),
    ),
  );
  await writeWav(path, channels, { sampleRateHz, bitDepth: 24, encoding: 'integer' });
}

const metadata = (values: Record<string, string>) =>
  Object.entries(values)
    .map(([key, value]) => `${key} ${Buffer.from(value).toString('base64')}`)
    .join(',');

/** The body of a response, taken for what the test says that it is. */
export const json = async <T>(response: Response): Promise<T> => (await response.json()) as T;

/** Uploads bytes by tus in one piece and waits for the check; answers the upload's id and what was found. */
export async function upload(
  server: ServerUnderTest,
  by: Browser,
  recordId: string,
  bytes: Uint8Array,
  values: { song: string; gate: string; filename: string; purpose?: string },
): Promise<{
  id: string;
  inspection: { state: string; refusal: string | null; warnings: { code: string }[]; sha256: string };
}> {
  const created = await server.app.request(`http://localhost/api/records/${recordId}/uploads`, {
    method: 'POST',
    headers: {
      cookie: by.cookie,
      'tus-resumable': '1.0.0',
      'upload-length': String(bytes.length),
      'upload-metadata': metadata(values),
    },
  });
  if (created.status !== 201)
    throw new Error(`Upload not created: ${created.status} ${await created.text()}`);
  const id = (created.headers.get('location') ?? '').split('/').at(-1) ?? '';
  const sent = await server.app.request(`http://localhost/api/records/${recordId}/uploads/${id}`, {
    method: 'PATCH',
    headers: {
      cookie: by.cookie,
      'tus-resumable': '1.0.0',
      'upload-offset': '0',
      'content-type': 'application/offset+octet-stream',
      'content-length': String(bytes.length),
    },
    body: bytes as Uint8Array<ArrayBuffer>,
  });
  if (sent.status !== 204) throw new Error(`Upload not taken: ${sent.status} ${await sent.text()}`);
  for (let attempt = 0; attempt < 600; attempt += 1) {
    const inspection: Awaited<ReturnType<typeof upload>>['inspection'] = await json(
      await by.ask('GET', `/records/${recordId}/uploads/${id}/inspection`),
    );
    if (inspection.state === 'ready' || inspection.state === 'refused') return { id, inspection };
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error('The upload was never checked.');
}
