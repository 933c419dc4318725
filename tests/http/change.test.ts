import { readdir, readFile, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parseChangeMap } from '../../client/api/change.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import type { ChangeFigures } from '../../server/measurement/change-render.ts';
import { seededRandom } from '../comparison/synthetic-song.ts';
import {
  type Browser,
  json,
  nobody,
  openArtistsRecord,
  type ServerUnderTest,
  startServer,
  upload,
} from './server-under-test.ts';

/**
 * Proves that the change between two versions is made only once somebody asks, tells how far it has come, is then given
 * by ranges as RFC 9110 asks, and is made again where it was dropped.
 */
let server: ServerUnderTest;
let artist: Browser;
let owner: Browser;
const song = '/records/record/songs/song';
const at = `${song}/comparisons/older/newer`;
const rate = 48_000;
const seconds = 6;

/** Noise throughout; a tone of 1 kHz from the third second to the fourth, in the newer version alone. */
async function versionFile(name: string, toneGain: number): Promise<Buffer> {
  const path = join(server.folder, `${name}.wav`);
  const random = seededRandom(5);
  const noise = Float32Array.from({ length: seconds * rate }, () => 0.05 * (random() - 0.5));
  const channel = noise.map((value, frame) =>
    frame >= 3 * rate && frame < 4 * rate
      ? value + toneGain * Math.sin((2 * Math.PI * 1000 * frame) / rate)
      : value,
  );
  await writeWav(path, [channel, channel], { sampleRateHz: rate, bitDepth: 24, encoding: 'integer' });
  return readFile(path);
}

async function post(versionId: string, bytes: Buffer) {
  const { id } = await upload(server, owner, 'record', bytes, {
    song: 'song',
    gate: 'production',
    filename: `${versionId}.wav`,
  });
  const body = { versionId, uploadId: id, gate: 'production', printNotes: '', changes: [] };
  expect((await owner.ask('POST', `${song}/versions`, body)).status).toBe(200);
}

const made = () => readdir(join(server.folder, 'audio', 'changes')).catch(() => []);
const until = (path: string, status: number) =>
  expect.poll(async () => (await artist.ask('GET', path)).status, { timeout: 30_000 }).toBe(status);

beforeAll(async () => {
  server = await startServer();
  ({ owner, artist } = await openArtistsRecord(server));
  await post('older', await versionFile('older', 0));
  await post('newer', await versionFile('newer', 0.02));
}, 120_000);
afterAll(() => server.close());

describe('the change between two versions', () => {
  it('is not made before somebody asks, not even once the two were compared and heard', async () => {
    await until(at, 200);
    await (await artist.ask('GET', `${song}/versions/newer/audio`)).arrayBuffer();
    expect(await made()).toEqual([]);
  });

  it('is not ready at the first ask, which has it made; how far it has come is told', async () => {
    const first = await artist.ask('GET', `${at}/change/figures`);
    expect([first.status, await json(first)]).toEqual([
      404,
      expect.objectContaining({ code: 'not_ready', progress: expect.any(Number) }),
    ]);
    await until(`${at}/change/figures`, 200);
    const figures = await json<ChangeFigures>(await artist.ask('GET', `${at}/change/figures`));
    expect(figures).toMatchObject({ silent: false, unmatchedSeconds: 0 });
    // The tone's own level: amplitude 0.02 in both channels, so −34.0 dBTP, and up to 12 dB more.
    expect(figures.truePeakDbtp! - figures.gainDb).toBeCloseTo(20 * Math.log10(0.02), 1);
    expect(figures.gainDb).toBeLessThanOrEqual(12);
  });

  it('is the tone alone, at the newer one’s length', async () => {
    const response = await artist.ask('GET', `${at}/change`);
    expect([response.status, response.headers.get('content-type')]).toEqual([200, 'audio/wav']);
    const bytes = Buffer.from(await response.arrayBuffer());
    const { gainDb } = await json<ChangeFigures>(await artist.ask('GET', `${at}/change/figures`));
    // 104 bytes of header (12 of RIFF, 36 reserved for EBU Tech 3306, 48 of format, 8 of data), then six a frame.
    const head = bytes.length - seconds * rate * 6;
    const sample = (frame: number) => bytes.readIntLE(head + frame * 6, 3) / 2 ** 23;
    expect(head).toBe(104);
    expect(sample(rate)).toBe(0);
    expect(sample(5 * rate)).toBe(0);
    const gain = 10 ** (gainDb / 20);
    for (const frame of [3.3 * rate + 12, 3.6 * rate + 100].map(Math.round))
      expect(sample(frame)).toBeCloseTo(0.02 * gain * Math.sin((2 * Math.PI * 1000 * frame) / rate), 4);
  });

  it('is given by ranges with a strong ETag, and not to strangers', async () => {
    const get = (headers: Record<string, string> = {}) =>
      artist.ask('GET', `${at}/change`, undefined, headers);
    const whole = await get();
    const bytes = Buffer.from(await whole.arrayBuffer());
    const etag = whole.headers.get('etag')!;
    expect([etag[0], whole.headers.get('accept-ranges')]).toEqual(['"', 'bytes']);
    const part = await get({ range: 'bytes=1000-1999' });
    expect([part.status, part.headers.get('content-range')]).toEqual([
      206,
      `bytes 1000-1999/${bytes.length}`,
    ]);
    expect(Buffer.from(await part.arrayBuffer()).equals(bytes.subarray(1000, 2000))).toBe(true);
    expect((await get({ range: `bytes=${bytes.length}-` })).status).toBe(416);
    expect((await get({ range: 'bytes=0-9', 'if-range': '"another"' })).status).toBe(200);
    expect((await get({ 'if-none-match': etag })).status).toBe(304);
    expect((await nobody(server).ask('GET', `${at}/change`)).status).toBe(401);
    expect((await artist.ask('GET', `${song}/comparisons/older/nothing/change`)).status).toBe(404);
  });

  it('is drawn as a map once somebody asks for that', async () => {
    expect((await made()).filter((name) => name.endsWith('.dat'))).toEqual([]);
    const first = await artist.ask('GET', `${at}/map`);
    expect([first.status, (await json<{ code: string }>(first)).code]).toEqual([404, 'not_ready']);
    await until(`${at}/map`, 200);
    const response = await artist.ask('GET', `${at}/map`);
    const etag = response.headers.get('etag')!;
    const map = parseChangeMap(await response.arrayBuffer());
    const row = map.difference[map.nominalHz.indexOf(1000)]!;
    const middle = row[Math.floor(3.5 / map.hopSeconds)]!;
    expect([middle > 40, row[4], row[20]]).toEqual([true, 0, 0]);
    expect((await artist.ask('GET', `${at}/map`, undefined, { 'if-none-match': etag })).status).toBe(304);
  });

  it('is made again where it was dropped, with nothing half made left behind', async () => {
    const before = await made();
    expect(before.length).toBe(2);
    await rm(join(server.folder, 'audio', 'changes'), { recursive: true });
    for (const path of [`${at}/change`, `${at}/map`]) {
      expect((await artist.ask('GET', path)).status).toBe(404);
      await until(path, 200);
    }
    expect((await made()).sort()).toEqual(before.sort());
  });

  it('is told to nobody as news of a version', async () => {
    await rm(join(server.folder, 'audio', 'changes'), { recursive: true });
    const stream = await owner.ask('GET', '/records/record/stream');
    const reader = stream.body!.getReader();
    const decoder = new TextDecoder();
    let told = decoder.decode((await reader.read()).value);
    await artist.ask('GET', `${at}/map`);
    await until(`${at}/map`, 200);
    const body = {
      noteId: 'told',
      versionId: 'newer',
      range: null,
      text: 'love it',
      heardOn: null,
      levels: [],
    };
    await artist.ask('POST', `${song}/notes`, body);
    while (!told.includes('event: changed')) told += decoder.decode((await reader.read()).value);
    expect(told).not.toContain('event: analysis');
    await reader.cancel();
  });
});

// The newer file is taken out of the store meanwhile, so that what is asked for can’t be made.
describe('a change that could not be made', () => {
  const takenAway = async (work: () => Promise<void>) => {
    const { versions } = await json<{ versions: { id: string; file: { sha256: string } }[] }>(
      await artist.ask('GET', song),
    );
    const { sha256 } = versions.find(({ id }) => id === 'newer')!.file;
    const path = join(server.folder, 'audio', sha256.slice(0, 2), sha256, 'original');
    await rename(path, `${path}.elsewhere`);
    await work();
    await rename(`${path}.elsewhere`, path);
  };

  it.each([
    ['sound', 'change'],
    ['map', 'map'],
  ])('stays so until somebody has it made again: its %s', async (_kind, name) => {
    await rm(join(server.folder, 'audio', 'changes'), { recursive: true, force: true });
    const path = `${at}/${name}`;
    await takenAway(() => until(path, 422));
    expect(await json(await artist.ask('GET', path))).toMatchObject({ code: 'not_measured' });
    expect((await artist.ask('POST', path, {})).status).toBe(202);
    await until(path, 200);
    // What is there is not made anew.
    expect((await artist.ask('POST', path, {})).status).toBe(202);
    expect((await artist.ask('GET', path)).status).toBe(200);
    expect((await nobody(server).ask('POST', path, {})).status).toBe(401);
    expect((await artist.ask('POST', `${song}/comparisons/older/nothing/${name}`, {})).status).toBe(404);
  });
});
