import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  type Browser,
  enter,
  json,
  nobody,
  openRecord,
  ownerId,
  type ServerUnderTest,
  startServer,
  toneFile,
  upload,
} from './server-under-test.ts';

/**
 * Proves that every route is asked for by every role: who is let through is written down by hand from JOB.md's table
 * of people, and every route that the application mounts has a line.
 */
const roles = [
  'artist',
  'spokesperson',
  'mix engineer',
  'producer',
  'mastering engineer',
  'label',
  'manager',
] as const;
type TestRole = (typeof roles)[number];

const everybody: readonly TestRole[] = roles;
/** The spokesperson of the test's contract is the manager's colleague; the label pays and signs with the artist. */
const mixEngineer: TestRole[] = ['mix engineer'];
const engineers: TestRole[] = ['mix engineer', 'mastering engineer'];
const posters: TestRole[] = ['mix engineer', 'producer', 'mastering engineer'];
const payer: TestRole[] = ['label'];
const signers: TestRole[] = ['artist', 'label'];
const none: TestRole[] = [];

const terms = (): unknown => ({});

interface Line {
  method: string;
  path: string;
  /** Who passes the check of roles; the owner's own rights are asked for apart. */
  may: readonly TestRole[];
  body?: unknown;
}

const song = '/records/:record/songs/:song';
const lines: Line[] = [
  { method: 'GET', path: '/me', may: everybody },
  {
    method: 'POST',
    path: '/records',
    may: none,
    body: { title: 'A', act: 'B', ownerName: 'C', ownerRoles: [] },
  },
  { method: 'GET', path: '/records/:record', may: everybody },
  { method: 'PUT', path: '/records/:record', may: none, body: { title: 'A', act: 'B' } },
  { method: 'DELETE', path: '/records/:record', may: none },
  {
    method: 'POST',
    path: '/records/:record/people',
    may: none,
    body: { personId: 'new', name: 'N', roles: ['artist'] },
  },
  {
    method: 'PUT',
    path: '/records/:record/people/:person',
    may: none,
    body: { name: 'N', roles: ['artist'] },
  },
  { method: 'DELETE', path: '/records/:record/people/:person', may: none, body: {} },
  { method: 'GET', path: '/records/:record/links', may: none },
  { method: 'POST', path: '/records/:record/people/:person/links', may: none, body: {} },
  { method: 'DELETE', path: '/records/:record/links/:link', may: none },
  { method: 'GET', path: '/records/:record/contract', may: everybody },
  { method: 'PUT', path: '/records/:record/contract', may: none, body: terms },
  { method: 'POST', path: '/records/:record/contract/agreement', may: payer, body: { how: 'on paper' } },
  {
    method: 'POST',
    path: '/records/:record/contract/amendments',
    may: [...mixEngineer, ...payer],
    body: terms,
  },
  {
    method: 'POST',
    path: '/records/:record/contract/amendments/:number/acceptance',
    may: [...mixEngineer, ...payer],
    body: {},
  },
  {
    method: 'POST',
    path: '/records/:record/contract/amendments/:number/refusal',
    may: [...mixEngineer, ...payer],
    body: { reason: 'r' },
  },
  { method: 'POST', path: '/records/:record/songs', may: none, body: { songId: 'other', title: 'T' } },
  { method: 'GET', path: song, may: everybody },
  { method: 'PUT', path: song, may: none, body: { title: 'Low Water' } },
  {
    method: 'PUT',
    path: `${song}/sections`,
    may: posters,
    body: { sections: [], tempoBpm: null, beatsPerBar: null, firstBarSeconds: 0, basedOnRevision: 99 },
  },
  { method: 'PUT', path: `${song}/parts`, may: ['mix engineer', 'producer'], body: { parts: [] } },
  { method: 'POST', path: `${song}/parts/answers`, may: everybody, body: { part: ' ', delivered: true } },
  {
    method: 'POST',
    path: `${song}/sortings`,
    may: everybody,
    body: { text: 'vocal up', versionId: 'rough', range: null },
  },
  {
    method: 'POST',
    path: `${song}/notes`,
    may: everybody,
    body: { noteId: 'n', versionId: 'rough', range: null, text: ' ', heardOn: null, levels: [] },
  },
  { method: 'DELETE', path: `${song}/notes/:note`, may: ['artist'], body: {} },
  { method: 'POST', path: `${song}/notes/:note/replies`, may: everybody, body: { text: ' ' } },
  { method: 'PUT', path: `${song}/requests/:request/level`, may: ['artist'], body: { level: 'mix' } },
  {
    method: 'POST',
    path: `${song}/requests/:request/resorting`,
    may: ['mix engineer', 'producer'],
    body: { level: 'mix', kind: null, reason: '' },
  },
  {
    method: 'POST',
    path: `${song}/requests/:request/answer`,
    may: ['mix engineer', 'producer'],
    body: { answer: 'not done', text: '' },
  },
  {
    method: 'POST',
    path: `${song}/requests/:request/own-mistake`,
    may: ['mix engineer', 'producer'],
    body: { reason: '' },
  },
  { method: 'POST', path: `${song}/requests/:request/omission`, may: ['spokesperson'], body: { reason: '' } },
  { method: 'DELETE', path: `${song}/requests/:request/omission`, may: ['spokesperson'], body: {} },
  {
    method: 'POST',
    path: `${song}/requests/:request/merger`,
    may: ['spokesperson'],
    body: { others: ['up'] },
  },
  { method: 'DELETE', path: `${song}/requests/:request/merger`, may: ['spokesperson'], body: {} },
  {
    method: 'POST',
    path: `${song}/agreements/dismissal`,
    may: ['spokesperson'],
    body: { requestIds: ['up', 'down'] },
  },
  {
    method: 'POST',
    path: `${song}/contradictions/settlement`,
    may: ['spokesperson'],
    body: { requestIds: ['up', 'down'], keep: 'up', reason: '' },
  },
  {
    method: 'POST',
    path: `${song}/rounds/:gate{mix|master}/sending`,
    may: ['spokesperson'],
    body: { agreedFeeMinorUnits: null },
  },
  {
    method: 'POST',
    path: `${song}/rounds/:gate{mix|master}/:number/quote`,
    may: engineers,
    body: { hours: 0 },
  },
  {
    method: 'POST',
    path: `${song}/rounds/:gate{mix|master}/:number/go-ahead`,
    may: payer,
    body: { agreedFeeMinorUnits: 0 },
  },
  {
    method: 'POST',
    path: `${song}/rounds/:gate{mix|master}/:number/refusal`,
    may: payer,
    body: { reason: 'r' },
  },
  {
    method: 'POST',
    path: `${song}/note-days`,
    may: engineers,
    body: { gate: 'mix', until: 'never', reason: '' },
  },
  { method: 'POST', path: `${song}/changes/:number/decline`, may: ['producer'], body: { reason: '' } },
  { method: 'POST', path: `${song}/changes/:number/price`, may: ['producer'], body: { hours: 0, words: '' } },
  {
    method: 'POST',
    path: `${song}/changes/:number/acceptance`,
    may: payer,
    body: { agreedFeeMinorUnits: 0 },
  },
  { method: 'POST', path: `${song}/changes/:number/refusal`, may: payer, body: { reason: '' } },
  {
    method: 'POST',
    path: `${song}/gates/:gate{production|mix|master}/signature`,
    may: signers,
    body: { versionId: 'rough', sha256: '0'.repeat(64), statement: '' },
  },
  {
    method: 'DELETE',
    path: `${song}/gates/:gate{production|mix|master}/signature`,
    may: everybody,
    body: { reason: 'r' },
  },
  {
    method: 'POST',
    path: `${song}/gates/:gate{mix|master}/reopening`,
    may: signers,
    body: { reason: '', agreedFeeMinorUnits: null },
  },
  { method: 'POST', path: `${song}/gates/:gate{mix|master}/reopening/go-ahead`, may: payer, body: {} },
  {
    method: 'POST',
    path: `${song}/gates/:gate{mix|master}/reopening/refusal`,
    may: payer,
    body: { reason: 'r' },
  },
  { method: 'GET', path: `${song}/gates/:gate{production|mix|master}/certificate`, may: everybody },
  {
    method: 'POST',
    path: `${song}/versions`,
    may: posters,
    body: { versionId: 'v', uploadId: 'nothing', gate: 'mix', printNotes: '', changes: [] },
  },
  { method: 'GET', path: `${song}/versions/:version/audio`, may: everybody },
  { method: 'GET', path: `${song}/versions/:version/file`, may: everybody },
  { method: 'GET', path: `${song}/versions/:version/waveform`, may: everybody },
  { method: 'GET', path: `${song}/versions/:version/series`, may: everybody },
  { method: 'GET', path: `${song}/versions/:version/measurement`, may: everybody },
  { method: 'POST', path: `${song}/versions/:version/measurement`, may: posters, body: {} },
  { method: 'GET', path: `${song}/versions/:version/sections-proposal`, may: posters },
  { method: 'POST', path: `${song}/versions/:version/sections-proposal`, may: posters, body: {} },
  { method: 'GET', path: `${song}/comparisons/:older/:newer`, may: everybody },
  { method: 'GET', path: `${song}/comparisons/:older/:newer/asked`, may: everybody },
  {
    method: 'POST',
    path: `${song}/comparisons/:older/:newer/explanations`,
    may: ['mix engineer', 'producer'],
    body: { place: null, text: '' },
  },
  { method: 'GET', path: `${song}/versions/:version/stems`, may: posters },
  {
    method: 'POST',
    path: `${song}/versions/:version/stems`,
    may: posters,
    body: { stems: [{ name: 'bass', role: 'part', uploadId: 'nothing', sha256: null }], reason: '' },
  },
  { method: 'GET', path: `${song}/versions/:version/stems/sum`, may: everybody },
  { method: 'POST', path: `${song}/versions/:version/stems/sum`, may: posters, body: {} },
  { method: 'GET', path: `${song}/versions/:version/stems/:stem/file`, may: posters },
  { method: 'GET', path: `${song}/comparisons/:older/:newer/stems`, may: everybody },
  { method: 'POST', path: `${song}/comparisons/:older/:newer/stems`, may: posters, body: {} },
  { method: 'GET', path: `${song}/uploads/:upload/asked`, may: none },
  { method: 'GET', path: `${song}/versions/:version/note-places`, may: everybody },
  { method: 'GET', path: `${song}/comparisons/:older/:newer/change`, may: everybody },
  { method: 'GET', path: `${song}/comparisons/:older/:newer/change/figures`, may: everybody },
  { method: 'POST', path: `${song}/comparisons/:older/:newer/change`, may: everybody, body: {} },
  { method: 'GET', path: `${song}/comparisons/:older/:newer/map`, may: everybody },
  { method: 'POST', path: `${song}/comparisons/:older/:newer/map`, may: everybody, body: {} },
  { method: 'GET', path: '/records/:record/uploads/:upload/inspection', may: none },
  { method: 'DELETE', path: '/records/:record/uploads/:upload', may: none },
  { method: 'POST', path: '/records/:record/uploads', may: posters },
  { method: 'OPTIONS', path: '/records/:record/uploads', may: posters },
  { method: 'HEAD', path: '/records/:record/uploads/:upload', may: none },
  { method: 'PATCH', path: '/records/:record/uploads/:upload', may: none },
  { method: 'GET', path: '/records/:record/uploads/:upload', may: none },
  { method: 'GET', path: '/records/:record/ledger', may: everybody },
  { method: 'GET', path: '/records/:record/ledger.jsonl', may: everybody },
  { method: 'GET', path: '/records/:record/stream', may: everybody },
  { method: 'GET', path: '/examples', may: none },
  { method: 'GET', path: '/examples.jsonl', may: none },
  { method: 'GET', path: '/records/:record/examples', may: posters },
  { method: 'GET', path: '/records/:record/examples.jsonl', may: posters },
  { method: 'DELETE', path: '/records/:record/examples/:request', may: posters },
  { method: 'POST', path: '/records/:record/examples/:request/restoration', may: posters },
];

/** Open to everybody: coming in, leaving, and the description of the interface. */
const open = ['POST /api/enter', 'POST /api/leave', 'GET /api/openapi.json'];

const idOf: Record<TestRole, string> = {
  artist: 'artist',
  spokesperson: 'voice',
  'mix engineer': 'mixer',
  producer: 'producer',
  'mastering engineer': 'cutter',
  label: 'label',
  manager: 'manager',
};

let server: ServerUnderTest;
let people: Record<string, Browser>;
let stranger: Browser;

beforeAll(async () => {
  server = await startServer();
  people = await openRecord(
    server,
    'record',
    {
      artist: { name: 'Ana', roles: ['artist'] },
      voice: { name: 'Vic', roles: ['manager'] },
      mixer: { name: 'Max', roles: ['mix engineer'] },
      producer: { name: 'Pia', roles: ['producer'] },
      cutter: { name: 'Cal', roles: ['mastering engineer'] },
      label: { name: 'Lea', roles: ['label'] },
      manager: { name: 'Mo', roles: ['manager'] },
    },
    () => ({
      spokesperson: 'voice',
      payer: 'label',
      signers: { production: ['artist', 'label'], mix: ['artist', 'label'], master: ['artist', 'label'] },
    }),
  );
  const others = await openRecord(server, 'other', { guest: { name: 'Gus', roles: ['artist'] } }, () => ({
    spokesperson: 'guest',
    payer: 'guest',
    signers: { production: ['guest'], mix: ['guest'], master: ['guest'] },
  }));
  stranger = others.guest!;
  await toneFile(join(server.folder, 'rough.wav'));
  const producer = people.producer!;
  const bytes = await readFile(join(server.folder, 'rough.wav'));
  const { id } = await upload(server, producer, 'record', bytes, {
    song: 'song',
    gate: 'production',
    filename: 'rough.wav',
  });
  const posted = await producer.ask('POST', '/records/record/songs/song/versions', {
    versionId: 'rough',
    uploadId: id,
    gate: 'production',
    printNotes: '',
    changes: [],
  });
  expect(posted.status).toBe(200);
  const written = (noteId: string, by: string, requestId: string) =>
    server.ledger.execute('record', by, {
      type: 'writeNote',
      song: 'song',
      noteId,
      versionId: 'rough',
      range: null,
      text: 'vocal up',
      heardOn: null,
      protections: [],
      requests: [
        {
          id: requestId,
          text: 'vocal up',
          kind: 'balance',
          target: 'lead vocal',
          direction: 'up',
          place: null,
          range: null,
          grey: false,
          why: '',
          proposedLevel: 'production',
          level: 'production',
        },
      ],
      contradictions:
        requestId === 'down' ? [{ requestId: 'down', otherRequestId: 'up', why: 'up against down' }] : [],
    });
  expect((await written('note', 'artist', 'up')).ok).toBe(true);
  expect((await written('note2', 'manager', 'down')).ok).toBe(true);
}, 120_000);

afterAll(() => server.close());

const filled = (path: string) =>
  path
    .replace(':record', 'record')
    .replace(':song', 'song')
    .replace(':person', 'manager')
    .replace(':link', 'nothing')
    .replace(/:gate\{mix\|master\}/, 'mix')
    .replace(/:gate\{production\|mix\|master\}/, 'production')
    .replace(':number', '1')
    .replace(':note', 'note')
    .replace(':request', 'up')
    .replace(':version', 'rough')
    .replace(':older', 'rough')
    .replace(':newer', 'rough')
    .replace(':stem', '0'.repeat(64))
    .replace(':upload', 'nothing');

async function bodyOf(line: Line): Promise<unknown> {
  if (line.body !== terms) return line.body;
  const { contract } = await json<{ contract: { terms: unknown } }>(
    await people.artist!.ask('GET', '/records/record/contract'),
  );
  return { terms: contract.terms, reason: '' };
}

const forbidden = new Set(['not_entitled', 'not_entitled_here', 'not_a_signer', 'not_your_note', 'own_side']);

/** The refusal's code, or `null` where the request passed. */
async function codeOf(response: Response): Promise<string | null> {
  if (!response.body) return null;
  if (response.headers.get('content-type')?.includes('problem+json'))
    return (await json<{ code: string }>(response)).code;
  await response.body?.cancel();
  return null;
}

describe('every route is asked for by every role', () => {
  it('has a line for every route that is mounted', () => {
    const mounted = server.app.routes
      .filter((route) => route.method !== 'ALL' && route.path.startsWith('/api'))
      .map((route) => `${route.method} ${route.path}`);
    const written = [...lines.map((line) => `${line.method} /api${line.path}`), ...open];
    expect([...new Set(mounted)].sort()).toEqual([...new Set(written)].sort());
  });

  for (const line of lines)
    it(`${line.method} ${line.path}`, async () => {
      const path = filled(line.path);
      const body = await bodyOf(line);
      const inRecord = line.path.includes(':record');
      expect(await codeOf(await nobody(server).ask(line.method, path, body))).toBe(
        line.method === 'HEAD' ? null : 'not_signed_in',
      );
      if (inRecord) {
        const response = await stranger.ask(line.method, path, body);
        expect(response.status).toBe(404);
        await response.body?.cancel();
      }
      for (const role of roles) {
        const response = await people[idOf[role]]!.ask(line.method, path, body);
        if (line.method === 'HEAD' || line.path.includes(':upload') || line.path.includes(':link')) {
          expect([role, [403, 404].includes(response.status)]).toEqual([role, true]);
          await response.body?.cancel();
          continue;
        }
        const code = await codeOf(response);
        expect([role, code === null || !forbidden.has(code)]).toEqual([role, line.may.includes(role)]);
      }
    });

  it('lets the owner set up, and nobody else', async () => {
    const owner = people[ownerId]!;
    const response = await owner.ask('POST', '/records/record/people', {
      personId: 'drummer',
      name: 'Dee',
      roles: ['artist'],
    });
    expect(response.status).toBe(200);
    const link = await json<{ url: string; linkId: string }>(
      await owner.ask('POST', '/records/record/people/drummer/links', {}),
    );
    const secret = link.url.split('#')[1] ?? '';
    const drummer = await enter(server, secret);
    expect((await drummer.ask('GET', '/records/record')).status).toBe(200);
    expect((await owner.ask('DELETE', `/records/record/links/${link.linkId}`)).status).toBe(204);
    expect((await drummer.ask('GET', '/records/record')).status).toBe(401);
    await expect(enter(server, secret)).rejects.toThrow();
  });

  it('keeps secrets out of the log', () => {
    expect(server.logged.join('\n')).not.toMatch(/countoff=|enter#/);
  });
});
