import { readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { engine } from '../../server/measurement/engine.ts';
import { decodeSeries, undefinedLevel } from '../../server/measurement/series.ts';
import {
  type Browser,
  json,
  nobody,
  openArtistsRecord,
  ownerId,
  type ServerUnderTest,
  startServer,
  toneFile,
  upload,
} from './server-under-test.ts';

/**
 * Proves what becomes of a file: refused or warned of by case with nothing lost, streamed by ranges as RFC 9110 asks,
 * gone on with where an upload broke, measured, and told to everybody at once. And that a request which another site
 * or an impatient finger sends changes nothing.
 */
let server: ServerUnderTest;
let owner: Browser;
let artist: Browser;
const song = '/records/record/songs/song';
const place = { song: 'song', gate: 'production', filename: 'rough.wav' };

beforeAll(async () => {
  server = await startServer();
  ({ owner, artist } = await openArtistsRecord(server));
}, 120_000);
afterAll(() => server.close());

async function fileOf(name: string, options: Parameters<typeof toneFile>[1] = {}): Promise<Buffer> {
  const path = join(server.folder, name);
  await toneFile(path, options);
  return readFile(path);
}

const send = (bytes: Uint8Array, filename = 'rough.wav') =>
  upload(server, owner, 'record', bytes, { ...place, filename });

async function folderOf(versionId: string): Promise<string> {
  const { versions } = await json<{ versions: { id: string; file: { sha256: string } }[] }>(
    await artist.ask('GET', song),
  );
  const { sha256 } = versions.find((version) => version.id === versionId)!.file;
  return join(server.folder, 'audio', sha256.slice(0, 2), sha256);
}

const post = (versionId: string, uploadId: string, headers = {}) =>
  owner.ask(
    'POST',
    `${song}/versions`,
    { versionId, uploadId, gate: 'production', printNotes: '', changes: [] },
    headers,
  );

describe('a file that is sent', () => {
  it('is refused where it is no audio, cut off or silent, in words that say what to do', async () => {
    const whole = await fileOf('whole.wav');
    const silent = await fileOf('silent.wav', { gain: 0 });
    const cases: [string, Uint8Array, RegExp][] = [
      ['page.wav', Buffer.from('<!doctype html><script>alert(1)</script>'), /Formats taken/],
      ['cut.wav', whole.subarray(0, whole.length / 2), /[Uu]pload it again/],
      ['silent.wav', silent, /silent from start to end/],
    ];
    for (const [name, bytes, words] of cases) {
      const { id, inspection } = await send(bytes, name);
      expect([name, inspection.state, inspection.refusal]).toEqual([
        name,
        'refused',
        expect.stringMatching(words),
      ]);
      const refused = await post(name.split('.')[0]!, id);
      expect([refused.status, (await json<{ code: string }>(refused)).code]).toEqual([415, 'upload_refused']);
    }
  });

  it('becomes a version once it is whole, and warns of what differs from the one before', async () => {
    const first = await send(await fileOf('first.wav'));
    expect(first.inspection).toMatchObject({ state: 'ready', warnings: [] });
    expect((await post('first', first.id)).status).toBe(200);
    const odd = await fileOf('odd.wav', { seconds: 3, sampleRateHz: 44_100, channelCount: 1 });
    const { inspection } = await send(odd);
    expect(inspection.warnings.map(({ code }) => code)).toEqual([
      'mono',
      'sample_rate_differs',
      'length_differs',
    ]);
  });

  it('goes on at the byte where it broke, and ends up the same by its SHA-256', async () => {
    const bytes = await fileOf('resumed.wav', { gain: 0.2 });
    const tus = (method: string, path: string, headers: Record<string, string>, body?: Uint8Array) =>
      server.app.request(`http://localhost/api/records/record/uploads${path}`, {
        method,
        headers: { cookie: owner.cookie, 'tus-resumable': '1.0.0', ...headers },
        ...(body ? { body: body as Uint8Array<ArrayBuffer> } : {}),
      });
    const created = await tus('POST', '', {
      'upload-length': String(bytes.length),
      'upload-metadata': `song ${btoa('song')},gate ${btoa('production')},filename ${btoa('resumed.wav')}`,
    });
    const id = created.headers.get('location')!.split('/').at(-1)!;
    const patch = (offset: number, chunk: Uint8Array) =>
      tus(
        'PATCH',
        `/${id}`,
        {
          'upload-offset': String(offset),
          'content-type': 'application/offset+octet-stream',
          'content-length': String(chunk.length),
        },
        chunk,
      );
    expect((await patch(0, bytes.subarray(0, 100_001))).status).toBe(204);
    expect((await patch(5, bytes.subarray(5, 10))).status).toBe(409);
    expect((await tus('HEAD', `/${id}`, {})).headers.get('upload-offset')).toBe('100001');
    expect((await patch(100_001, bytes.subarray(100_001))).status).toBe(204);
    const { createHash } = await import('node:crypto');
    const inspection = () =>
      owner
        .ask('GET', `/records/record/uploads/${id}/inspection`)
        .then((each) => json<{ state: string; sha256: string }>(each));
    await expect.poll(async () => (await inspection()).state, { timeout: 30_000 }).toBe('ready');
    expect((await inspection()).sha256).toBe(createHash('sha256').update(bytes).digest('hex'));
  });
});

describe('a version', () => {
  const audio = `${song}/versions/first/audio`;
  const get = (headers: Record<string, string> = {}) => artist.ask('GET', audio, undefined, headers);

  it('is streamed by ranges with a strong ETag (RFC 9110, sections 13 and 14)', async () => {
    const bytes = await readFile(join(server.folder, 'first.wav'));
    const whole = await get();
    const etag = whole.headers.get('etag')!;
    expect([whole.status, whole.headers.get('accept-ranges'), etag[0]]).toEqual([200, 'bytes', '"']);
    expect(Buffer.from(await whole.arrayBuffer()).equals(bytes)).toBe(true);
    const part = async (range: string, more = {}) => {
      const response = await get({ range, ...more });
      return {
        status: response.status,
        range: response.headers.get('content-range'),
        bytes: Buffer.from(await response.arrayBuffer()),
      };
    };
    const size = bytes.length;
    const middle = await part('bytes=100-199');
    expect([middle.status, middle.range]).toEqual([206, `bytes 100-199/${size}`]);
    expect(middle.bytes.equals(bytes.subarray(100, 200))).toBe(true);
    expect((await part('bytes=-50')).bytes.equals(bytes.subarray(size - 50))).toBe(true);
    expect((await part(`bytes=${size - 10}-${size + 10}`)).range).toBe(
      `bytes ${size - 10}-${size - 1}/${size}`,
    );
    expect(await part(`bytes=${size}-`)).toMatchObject({ status: 416, range: `bytes */${size}` });
    expect((await part('bytes=0-1,5-6')).status).toBe(200);
    expect((await part('bytes=9-1')).status).toBe(200);
    expect((await part('bytes=0-9', { 'if-range': etag })).status).toBe(206);
    expect((await part('bytes=0-9', { 'if-range': '"another"' })).status).toBe(200);
    expect((await get({ 'if-none-match': etag })).status).toBe(304);
  });

  it('is given as the exact file under its own name, which no header breaks', async () => {
    const bytes = await fileOf('named.wav', { gain: 0.3 });
    const { id } = await send(bytes, 'Rough "ä"\r\nX-Evil: 1.wav');
    expect((await post('named', id)).status).toBe(200);
    const file = await artist.ask('GET', `${song}/versions/named/file`);
    expect(file.headers.get('x-evil')).toBeNull();
    expect(file.headers.get('content-disposition')).toMatch(
      /^attachment; filename="[\x20-\x7e]*"; filename\*=UTF-8''/,
    );
    expect(Buffer.from(await file.arrayBuffer()).equals(bytes)).toBe(true);
  });

  it('has its figures with standard, edition and engine, and its waveform in the form that peaks.js reads', async () => {
    const measurement = await artist.ask('GET', `${song}/versions/first/measurement`);
    expect(await json(measurement)).toMatchObject({
      engine: { name: 'countoff', version: expect.any(String) },
      standards: { loudness: expect.stringContaining('BS.1770-5') },
    });
    const waveform = await artist.ask('GET', `${song}/versions/first/waveform`);
    const view = new DataView(await waveform.arrayBuffer());
    // audiowaveform data format, version 2: version, flags (bit 0: 8 bit), sample rate.
    expect([view.getInt32(0, true), view.getUint32(4, true), view.getInt32(8, true)]).toEqual([2, 1, 48_000]);
  });

  const series = (versionId: string, headers = {}) =>
    artist.ask('GET', `${song}/versions/${versionId}/series`, undefined, headers);

  it('has its figures over time, two seconds in tenths, in a file of their own', async () => {
    const response = await series('first');
    expect([response.status, response.headers.get('content-type')]).toEqual([
      200,
      'application/octet-stream',
    ]);
    const cacheControl = response.headers.get('cache-control');
    expect([cacheControl?.includes('private'), cacheControl?.includes('immutable')]).toEqual([true, false]);
    const etag = response.headers.get('etag')!;
    const { hopSeconds, hopCount, columns } = decodeSeries(new Uint8Array(await response.arrayBuffer()));
    expect([hopSeconds, hopCount]).toEqual([0.1, 20]);
    // Momentary loudness takes windows of 400 ms (EBU Tech 3341, 2.2), so the fourth tenth is the first that has one.
    const defined = Array.from(columns.momentaryLoudnessLufs, (value) => value !== undefinedLevel);
    expect([defined.slice(0, 4), defined.slice(3).every(Boolean)]).toEqual([
      [false, false, false, true],
      true,
    ]);
    expect((await series('first', { 'if-none-match': etag })).status).toBe(304);
    const measurement = await json(await artist.ask('GET', `${song}/versions/first/measurement`));
    expect(measurement).not.toHaveProperty('series');
  });

  it('has its figures over time and its waveform made again where one of them went missing', async () => {
    const folder = await folderOf('first');
    for (const [part, address] of [
      [`series-${engine.version}.dat`, 'series'],
      ['waveform.dat', 'waveform'],
    ] as const) {
      const before = await readFile(join(folder, part));
      await rm(join(folder, part));
      const get = () => artist.ask('GET', `${song}/versions/first/${address}`);
      const missing = await get();
      expect([missing.status, (await json<{ code: string }>(missing)).code]).toEqual([404, 'not_ready']);
      await expect.poll(async () => (await get()).status, { timeout: 30_000 }).toBe(200);
      expect(Buffer.from(await (await get()).arrayBuffer()).equals(before)).toBe(true);
      await expect
        .poll(async () => (await artist.ask('GET', `${song}/versions/first/measurement`)).status, {
          timeout: 30_000,
        })
        .toBe(200);
    }
    expect((await readdir(folder)).filter((name) => name.endsWith('.arriving'))).toEqual([]);
  });

  it('says why it could not be measured, and can be measured again', async () => {
    const folder = await folderOf('named');
    const path = join(folder, 'original');
    const sound = await readFile(path);
    const again = () => owner.ask('POST', `${song}/versions/named/measurement`, {});
    const measured = async () => (await artist.ask('GET', `${song}/versions/named/measurement`)).status;
    await writeFile(path, sound.subarray(0, sound.length / 2));
    expect((await again()).status).toBe(202);
    await expect.poll(measured, { timeout: 30_000 }).toBe(422);
    const refusal = await artist.ask('GET', `${song}/versions/named/measurement`);
    expect(await json(refusal)).toMatchObject({ code: 'not_measured', detail: expect.stringContaining('.') });
    await rm(join(folder, `series-${engine.version}.dat`));
    expect((await series('named')).status).toBe(422);
    await writeFile(path, sound);
    await again();
    await expect.poll(measured, { timeout: 30_000 }).toBe(200);
    expect((await series('named')).status).toBe(200);
  });
});

describe('a change', () => {
  const note = (noteId: string) => ({
    noteId,
    versionId: 'first',
    range: null,
    text: 'love it',
    heardOn: null,
    levels: [],
  });

  it('is told to the others on the record within a second', async () => {
    const stream = await owner.ask('GET', '/records/record/stream');
    const reader = stream.body!.getReader();
    const decoder = new TextDecoder();
    let told = decoder.decode((await reader.read()).value);
    expect((await artist.ask('POST', `${song}/notes`, note('told'))).status).toBe(200);
    while (!told.includes('event: changed')) told += decoder.decode((await reader.read()).value);
    expect(told).toContain('"song":"song"');
    await reader.cancel();
  }, 10_000);

  it('is not made at the wish of another site', async () => {
    const foreign: Record<string, string>[] = [
      { 'sec-fetch-site': 'cross-site' },
      { origin: 'https://elsewhere.example', host: 'localhost' },
    ];
    for (const headers of foreign) {
      const response = await artist.ask(
        'POST',
        `${song}/notes`,
        note('foreign'),
        headers as Record<string, string>,
      );
      expect([response.status, (await json<{ code: string }>(response)).code]).toEqual([
        403,
        'foreign_origin',
      ]);
    }
  });

  it('is made once, however often it is sent under one key, and a key serves one thing', async () => {
    const key = { 'idempotency-key': 'one' };
    const before = (await server.ledger.state('record'))!.sequence;
    const answers = await Promise.all(
      Array.from({ length: 20 }, async () =>
        (await artist.ask('POST', `${song}/notes`, note('once'), key)).text(),
      ),
    );
    expect(new Set(answers).size).toBe(1);
    expect((await server.ledger.state('record'))!.sequence).toBe(before + 1);
    const other = await artist.ask('POST', `${song}/notes`, note('twice'), key);
    expect([other.status, (await json<{ code: string }>(other)).code]).toEqual([422, 'key_reused']);
  });

  it('writes no link for the owner, who has one already', async () => {
    const before = (await server.ledger.state('record'))!.sequence;
    expect((await owner.ask('POST', `/records/record/people/${ownerId}/links`, {})).status).toBe(403);
    expect((await server.ledger.state('record'))!.sequence).toBe(before);
  });

  it('is described in OpenAPI 3.1, every route of it', async () => {
    const document = await json<{ openapi: string; paths: Record<string, object> }>(
      await nobody(server).ask('GET', '/openapi.json'),
    );
    expect(document.openapi).toMatch(/^3\.1/);
    expect(Object.keys(document.paths)).toContain('/api/records/{record}/songs/{song}/notes');
    expect(Object.keys(document.paths).length).toBeGreaterThan(40);
    expect(document.paths['/api/records/{record}/songs/{song}/versions/{version}/series']).toMatchObject({
      get: { responses: { 200: { content: { 'application/octet-stream': {} } } } },
    });
  });
});
