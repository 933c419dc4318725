import { createHash } from 'node:crypto';
import { access, readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { AnalysisInput } from '../../server/storage/analysis-store.ts';
import {
  type Browser,
  json,
  openRecord,
  ownerId,
  type ServerUnderTest,
  startServer,
  toneFile,
  upload,
} from './server-under-test.ts';

/**
 * Proves that letting go of a file removes its bytes from the server, as the page says, and never those of a version, a
 * stem or another upload, of this record or another.
 */
let server: ServerUnderTest;
let owner: Browser;
const song = '/records/record/songs/song';

beforeAll(async () => {
  server = await startServer();
  const cast = { artist: { name: 'Ana', roles: ['artist' as const] } };
  const terms = () => ({
    spokesperson: 'artist',
    payer: 'artist',
    signers: { production: ['artist'], mix: ['artist'], master: ['artist'] },
  });
  await openRecord(server, 'other', cast, terms);
  owner = (await openRecord(server, 'record', cast, terms))[ownerId]!;
}, 120_000);
afterAll(() => server.close());

async function tone(hz: number, seconds = 1): Promise<{ bytes: Buffer; sha256: string }> {
  const path = join(server.folder, 'sent.wav');
  await toneFile(path, { hz, seconds });
  const bytes = await readFile(path);
  return { bytes, sha256: createHash('sha256').update(bytes).digest('hex') };
}

const send = async (bytes: Buffer, { recordId = 'record', purpose = 'version' } = {}) =>
  (
    await upload(server, owner, recordId, bytes, {
      song: 'song',
      gate: 'production',
      filename: 'sent.wav',
      purpose,
    })
  ).id;

const post = (versionId: string, uploadId: string) =>
  owner.ask('POST', `${song}/versions`, {
    versionId,
    uploadId,
    gate: 'production',
    printNotes: '',
    changes: [],
  });

async function letGo(id: string, recordId = 'record'): Promise<void> {
  expect((await owner.ask('DELETE', `/records/${recordId}/uploads/${id}`)).status).toBe(204);
}

const stored = (sha256: string) =>
  access(join(server.folder, 'audio', sha256.slice(0, 2), sha256)).then(
    () => true,
    () => false,
  );
const arriving = async (id: string) =>
  (await readdir(join(server.folder, 'arriving'))).filter((name) => name.startsWith(id));

describe('a file that is let go of', () => {
  it.each(['version', 'stem'])('is gone from the server: %s', async (purpose) => {
    const { bytes, sha256 } = await tone(110);
    const id = await send(bytes, { purpose });
    expect(await stored(sha256)).toBe(true);
    await letGo(id);
    expect([await stored(sha256), await arriving(id)]).toEqual([false, []]);
  });

  it('takes what failed of it along, and what is measured of it when it comes again is whole', async () => {
    const { bytes, sha256 } = await tone(120);
    const id = await send(bytes);
    // What the other file is nobody knows, so that they can't be compared.
    const failing: AnalysisInput = {
      kind: 'comparison',
      olderSha256: '0'.repeat(64),
      newerSha256: sha256,
      sections: [],
    };
    const state = async () => [...(await server.analyst.states([failing])).values()][0]?.state;
    await server.analyst.queue(failing);
    await expect.poll(state, { timeout: 30_000 }).toBe('failed');
    await letGo(id);
    expect(await state()).toBeUndefined();
    expect((await post('again', await send(bytes))).status).toBe(200);
    const at = `${song}/versions/again`;
    for (const part of ['file', 'waveform', 'series', 'measurement'])
      expect([part, (await owner.ask('GET', `${at}/${part}`)).status]).toEqual([part, 200]);
  });

  it('is gone once its check ends, where that was going on', async () => {
    const { bytes, sha256 } = await tone(130, 20);
    const headers = { cookie: owner.cookie, 'tus-resumable': '1.0.0' };
    const metadata = Object.entries({ song: 'song', gate: 'production', filename: 'sent.wav' })
      .map(([name, value]) => `${name} ${btoa(value)}`)
      .join(',');
    const created = await server.app.request('http://localhost/api/records/record/uploads', {
      method: 'POST',
      headers: { ...headers, 'upload-length': String(bytes.length), 'upload-metadata': metadata },
    });
    const id = created.headers.get('location')!.split('/').at(-1)!;
    await server.app.request(`http://localhost/api/records/record/uploads/${id}`, {
      method: 'PATCH',
      headers: {
        ...headers,
        'upload-offset': '0',
        'content-type': 'application/offset+octet-stream',
        'content-length': String(bytes.length),
      },
      body: new Uint8Array(bytes),
    });
    const { state } = await json<{ state: string }>(
      await owner.ask('GET', `/records/record/uploads/${id}/inspection`),
    );
    expect(state).toBe('checking');
    await letGo(id);
    await expect.poll(() => arriving(id), { timeout: 30_000 }).toEqual([]);
    await expect.poll(() => stored(sha256), { timeout: 30_000 }).toBe(false);
  });
});

describe('a file that something refers to', () => {
  it('stays where it is a version', async () => {
    const { bytes, sha256 } = await tone(140);
    expect((await post('kept', await send(bytes))).status).toBe(200);
    await letGo(await send(bytes));
    await letGo(await send(bytes, { recordId: 'other', purpose: 'stem' }), 'other');
    const file = await owner.ask('GET', `${song}/versions/kept/file`);
    expect([file.status, Buffer.from(await file.arrayBuffer()).equals(bytes)]).toEqual([200, true]);
    expect(await stored(sha256)).toBe(true);
  });

  it('stays where it is a stem, also one that another set replaced', async () => {
    const { bytes, sha256 } = await tone(150);
    const stems = `${song}/versions/kept/stems`;
    const attach = async (uploadId: string, reason: string) =>
      (
        await owner.ask('POST', stems, {
          stems: [{ name: 'Bass', role: 'part', uploadId, sha256: null }],
          reason,
        })
      ).status;
    const first = await send(bytes, { purpose: 'stem' });
    expect(await attach(first, '')).toBe(200);
    const replacing = await send((await tone(160)).bytes, { purpose: 'stem' });
    expect(await attach(replacing, 'a wrong print')).toBe(200);
    await letGo(first);
    await letGo(await send(bytes, { recordId: 'other' }), 'other');
    const file = await owner.ask('GET', `${stems}/${sha256}/file`);
    expect([file.status, Buffer.from(await file.arrayBuffer()).equals(bytes)]).toEqual([200, true]);
  });

  it('stays as long as another upload is the same file, of another record too', async () => {
    const { bytes, sha256 } = await tone(170);
    const here = await send(bytes);
    const there = await send(bytes, { recordId: 'other' });
    await letGo(here);
    expect(await stored(sha256)).toBe(true);
    await letGo(there, 'other');
    expect(await stored(sha256)).toBe(false);
  });
});
