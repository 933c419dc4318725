import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { StemCheck } from '../../server/analysis/compare-stems.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import type { StemComparison } from '../../server/measurement/stem-comparison.ts';
import { alternatesOf, movedByFader } from '../comparison/stem-truth.ts';
import { mixDown, seededRandom, synthesiseSong, toFloat32 } from '../comparison/synthetic-song.ts';
import {
  type Browser,
  json,
  openArtistsRecord,
  type ServerUnderTest,
  startServer,
  toneFile,
  upload,
} from './server-under-test.ts';

/**
 * Proves that stems are attached to a version by the engineer’s side alone, that everybody reads what they tell, and that
 * what they tell is what a fader did: the lead’s, up by 1.1 dB in the second section, and no other.
 */
const made = synthesiseSong({ bars: 6, barsInSection: 2 });
const louder = movedByFader(made, 1, { lead: 1.1 });
const song = '/records/record/songs/song';
const stemsAt = `${song}/versions/newer/stems`;
const comparedAt = `${song}/comparisons/older/newer/stems`;
let server: ServerUnderTest;
let artist: Browser;
let owner: Browser;

interface SentStem {
  name: string;
  role: string;
  uploadId: string | null;
  sha256: string | null;
}

async function wav(channels: Float32Array[], sampleRateHz = made.sampleRateHz): Promise<Buffer> {
  const path = join(server.folder, 'sent.wav');
  await writeWav(path, channels, { sampleRateHz, bitDepth: 24, encoding: 'integer' });
  return readFile(path);
}

const sendStem = (fileName: string, bytes: Uint8Array) =>
  upload(server, owner, 'record', bytes, {
    song: 'song',
    gate: 'production',
    filename: fileName,
    purpose: 'stem',
  });

async function uploaded(name: string, bytes: Uint8Array): Promise<SentStem> {
  const { id } = await sendStem(`${name}.wav`, bytes);
  return { name, role: 'part', uploadId: id, sha256: null };
}

const attach = (stems: SentStem[], reason = '', key?: string) =>
  owner.ask('POST', stemsAt, { stems, reason }, key ? { 'idempotency-key': key } : {});
const codeOf = async (response: Response) => (await json<{ code?: string }>(response)).code;

async function ready<T>(path: string): Promise<T> {
  await expect.poll(async () => (await artist.ask('GET', path)).status, { timeout: 60_000 }).toBe(200);
  return json<T>(await artist.ask('GET', path));
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

beforeAll(async () => {
  server = await startServer();
  ({ owner, artist } = await openArtistsRecord(server));
  const named = await owner.ask('PUT', `${song}/sections`, {
    sections: made.sections.map(({ name, start, end }, index) => ({
      id: `s${index}`,
      name,
      startSeconds: start,
      endSeconds: end,
    })),
    tempoBpm: null,
    beatsPerBar: null,
    firstBarSeconds: 0,
    basedOnRevision: 0,
  });
  expect(named.status).toBe(200);
  await post('older', await wav(toFloat32(mixDown(made))));
  await post('newer', await wav(toFloat32(mixDown(louder))));
}, 60_000);
afterAll(() => server.close());

describe('stems of a version', () => {
  let sent: SentStem[];

  it('tell nothing while there are none', async () => {
    expect(await codeOf(await artist.ask('GET', comparedAt))).toBe('not_found');
    expect(await codeOf(await artist.ask('GET', `${stemsAt}/sum`))).toBe('not_found');
    expect(await json(await owner.ask('GET', stemsAt))).toEqual({ mayAttach: true, attached: [] });
  });

  it('are refused for a plain reason', async () => {
    const { inspection } = await sendStem(
      'lyrics.wav',
      new TextEncoder().encode('Salt on the window. '.repeat(20)),
    );
    expect(inspection.state).toBe('refused');
    const silence = await sendStem('silence.wav', await wav([new Float32Array(48_000)]));
    expect(silence.inspection.refusal).toContain('silent from start to end');
    const refused = { name: 'silence', role: 'part', uploadId: silence.id, sha256: null };
    expect(await codeOf(await attach([refused]))).toBe('upload_refused');
    await toneFile(join(server.folder, 'short.wav'));
    const short = await uploaded('short', await readFile(join(server.folder, 'short.wav')));
    expect(await codeOf(await attach([short]))).toBe('stem_length_differs');
    await toneFile(join(server.folder, 'slow.wav'), { sampleRateHz: 44_100, seconds: made.frames / 48_000 });
    const slow = await uploaded('slow', await readFile(join(server.folder, 'slow.wav')));
    expect(await codeOf(await attach([slow]))).toBe('stem_rate_differs');
    expect(await codeOf(await attach([short, { ...short, name: 'again' }]))).toBe('stem_repeated');
    const many = Array.from({ length: 65 }, (_, index) => ({ ...short, name: `stem ${index}` }));
    expect(await codeOf(await attach(many))).toBe('stems_too_many');
    const nobodys = { name: 'bass', role: 'part', uploadId: 'nothing', sha256: null };
    expect(await codeOf(await attach([nobodys]))).toBe('not_found');
  });

  it('are no versions', async () => {
    const stem = await uploaded('bass', await wav(toFloat32([made.parts[0]!.left])));
    const body = { versionId: 'v', uploadId: stem.uploadId, gate: 'production', printNotes: '', changes: [] };
    expect(await codeOf(await owner.ask('POST', `${song}/versions`, body))).toBe('not_found');
  });

  it('are attached together, once however often they are sent', async () => {
    sent = [];
    for (const { name, left, right } of louder.parts)
      sent.push(await uploaded(name === 'lead' ? 'Lead vocal' : name, await wav(toFloat32([left, right]))));
    const first = await attach(sent, '', 'one intent');
    expect(await json(first)).toMatchObject({ facts: ['stemsAttached', 'partsNamed'] });
    expect(await json(await attach(sent, '', 'one intent'))).toMatchObject({
      facts: ['stemsAttached', 'partsNamed'],
    });
    expect(await json(await attach(sent))).toMatchObject({ facts: [] });
  });

  it('are the engineer’s alone to list and to take away', async () => {
    const { attached } = await json<{ attached: { stems: { name: string; file: { sha256: string } }[] }[] }>(
      await owner.ask('GET', stemsAt),
    );
    expect(attached).toHaveLength(1);
    const [{ name, file }] = attached[0]!.stems as [{ name: string; file: { sha256: string } }];
    const taken = await owner.ask('GET', `${stemsAt}/${file.sha256}/file`);
    const part = louder.parts.find((each) => each.name === name)!;
    const bytes = await wav(toFloat32([part.left, part.right]));
    expect(Buffer.compare(Buffer.from(await taken.arrayBuffer()), bytes)).toBe(0);
    expect(await codeOf(await artist.ask('GET', stemsAt))).toBe('not_entitled');
    expect(await codeOf(await artist.ask('GET', `${stemsAt}/${file.sha256}/file`))).toBe('not_entitled');
    const sheet = await json<{ versions: { id: string; stems: unknown }[] }>(await artist.ask('GET', song));
    expect(sheet.versions.find(({ id }) => id === 'newer')?.stems).toMatchObject({
      names: ['drums', 'bass', 'keys', 'guitar', 'Lead vocal'],
    });
    expect(JSON.stringify(sheet)).not.toContain(file.sha256);
  });

  it('sum to their print, as everybody reads', async () => {
    const { stems } = await ready<StemCheck>(`${stemsAt}/sum`);
    // Of 24-bit files, each rounded to 2^−23 of full scale.
    expect(stems.reading).toBe('rounding');
  });

  it('tell what the fader did', { timeout: 90_000 }, async () => {
    const { basis, sections } = await ready<StemComparison>(comparedAt);
    expect(basis).toBe('stems of B');
    for (const [index, { stems }] of sections.entries())
      for (const { stem, reading, gainDifferenceDb } of stems) {
        if (reading === 'silent') continue;
        const moved = stem === 'Lead vocal' && index === 1 ? 1.1 : 0;
        expect([index, stem, Math.abs(gainDifferenceDb! - moved) < 0.1]).toEqual([index, stem, true]);
      }
    expect(sections[1]!.stems.find(({ stem }) => stem === 'Lead vocal')?.reading).toBe('up');
  });

  it('name what nobody asked for, to everybody', async () => {
    const askedAt = `${song}/comparisons/older/newer/asked`;
    const asked = async () =>
      json<{ stems: string; unasked: { plain: string; figures: string }[] }>(
        await artist.ask('GET', askedAt),
      );
    await expect.poll(async () => (await asked()).stems, { timeout: 60_000 }).toBe('told');
    const { unasked } = await asked();
    expect(unasked).toHaveLength(1);
    expect(unasked[0]!.plain).toBe('Verse 1: Lead vocal up.');
    expect(unasked[0]!.figures).toMatch(/^Lead vocal \+1\.[012] dB, from the stems; /u);
  });

  it('are the instrumental and the a cappella where there is nothing else, and match the main', async () => {
    const pair: SentStem[] = [];
    for (const { name, left, right } of alternatesOf(louder))
      pair.push({ ...(await uploaded(name, await wav(toFloat32([left, right])))), role: name });
    expect((await attach(pair, 'the label wants the alternates first')).status).toBe(200);
    const { stems } = await ready<StemCheck>(`${stemsAt}/sum`);
    expect(stems).toMatchObject({ stems: ['instrumental', 'a cappella'], reading: 'rounding' });
  });

  it('are replaced with a reason, by others and by those that stood before', async () => {
    const random = seededRandom(3);
    const noise = Float32Array.from({ length: made.frames }, () => 0.1 * (random() - 0.5));
    const stranger = await uploaded('another song', await wav([noise]));
    const { attached } = await json<{ attached: { stems: { name: string; file: { sha256: string } }[] }[] }>(
      await owner.ask('GET', stemsAt),
    );
    const { name, file } = attached[0]!.stems[0]!;
    const kept = { name, role: 'part', uploadId: null, sha256: file.sha256 };
    expect(await codeOf(await attach([kept]))).toBe('reason_missing');
    expect((await attach([kept], 'only the drums were meant')).status).toBe(200);
    expect((await attach([stranger], 'a mistake, for the test')).status).toBe(200);
    expect(await json(await owner.ask('GET', stemsAt))).toMatchObject({
      attached: [{}, {}, { reason: 'only the drums were meant' }, { stems: [{ name: 'another song' }] }],
    });
  });

  it('say where they belong to another song, and can be summed again', async () => {
    await expect
      .poll(async () => (await artist.ask('GET', `${stemsAt}/sum`)).status, { timeout: 60_000 })
      .toBe(422);
    expect(await json(await artist.ask('GET', `${stemsAt}/sum`))).toMatchObject({
      code: 'not_measured',
      detail: expect.stringContaining('of another song'),
    });
    expect((await owner.ask('POST', `${stemsAt}/sum`, {})).status).toBe(202);
    expect(await codeOf(await artist.ask('POST', `${stemsAt}/sum`, {}))).toBe('not_entitled');
  });
});
