import { readFile, rename } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { writeWav } from '../../server/audio/write-wav.ts';
import type { SectionProposal } from '../../server/measurement/section-finder.ts';
import { musicLike } from '../measurement/music.ts';
import {
  type Browser,
  json,
  openArtistsRecord,
  type ServerUnderTest,
  startServer,
  upload,
} from './server-under-test.ts';

/** Proves that a proposal comes from the workers once it is asked for, is kept, and names nothing by itself. */
let server: ServerUnderTest;
let owner: Browser;
let artist: Browser;
const song = '/records/record/songs/song';
const proposal = `${song}/versions/rough/sections-proposal`;

beforeAll(async () => {
  server = await startServer();
  ({ owner, artist } = await openArtistsRecord(server));
  const path = join(server.folder, 'rough.wav');
  await writeWav(path, musicLike(48_000, 40, 1, true), {
    sampleRateHz: 48_000,
    bitDepth: 16,
    encoding: 'integer',
  });
  const { id } = await upload(server, owner, 'record', await readFile(path), {
    song: 'song',
    gate: 'production',
    filename: 'rough.wav',
  });
  const posted = await owner.ask('POST', `${song}/versions`, {
    versionId: 'rough',
    uploadId: id,
    gate: 'production',
    printNotes: '',
    changes: [],
  });
  expect(posted.status).toBe(200);
}, 120_000);
afterAll(() => server.close());

async function whenReady(): Promise<SectionProposal> {
  for (;;) {
    const response = await owner.ask('GET', proposal);
    if (response.status === 200) return json<SectionProposal>(response);
    expect(response.status).toBe(202);
    expect(await json(response)).toMatchObject({ progress: expect.any(Number) });
    await new Promise((done) => setTimeout(done, 100));
  }
}

describe('sections proposed from the audio', () => {
  it('tell how far they are, then are there, at once when asked for again', async () => {
    const first = await whenReady();
    // Parts that take turns every ten seconds, at 120 beats a minute, as the signal was made.
    expect(first.boundaries.map(({ seconds }) => Math.round(seconds))).toEqual([10, 20, 30]);
    expect(first.tempo?.tempoBpm).toBeCloseTo(120, 0);
    expect((await owner.ask('GET', proposal)).status).toBe(200);
  });

  it('name nothing: the song has no sections, and its ledger no entry, until somebody saves some', async () => {
    await whenReady();
    const sheet = await json<{ song: { sectionMap: { sections: unknown[]; revision: number } } }>(
      await artist.ask('GET', song),
    );
    expect(sheet.song.sectionMap).toMatchObject({ sections: [], revision: 0 });
  });

  it('are for those who may name sections', async () => {
    const refused = await artist.ask('GET', proposal);
    expect([refused.status, (await json<{ code: string }>(refused)).code]).toEqual([403, 'not_entitled']);
    const unknown = await owner.ask('GET', `${song}/versions/none/sections-proposal`);
    expect([unknown.status, (await json<{ code: string }>(unknown)).code]).toEqual([404, 'version_unknown']);
  });

  it('stay failed until somebody who may name sections has the audio gone through again', async () => {
    const { versions } = await json<{ versions: { file: { sha256: string } }[] }>(
      await owner.ask('GET', song),
    );
    const { sha256 } = versions[0]!.file;
    const path = join(server.folder, 'audio', sha256.slice(0, 2), sha256, 'original');
    await rename(path, `${path}.elsewhere`);
    const status = async () => (await owner.ask('GET', proposal)).status;
    await server.analyst.queue({ kind: 'sections', sha256 }, true);
    await expect.poll(status, { timeout: 30_000 }).toBe(422);
    await rename(`${path}.elsewhere`, path);
    expect(await status()).toBe(422);
    const refused = await artist.ask('POST', proposal, {});
    expect([refused.status, (await json<{ code: string }>(refused)).code]).toEqual([403, 'not_entitled']);
    expect((await owner.ask('POST', proposal, {})).status).toBe(202);
    expect((await whenReady()).boundaries).toHaveLength(3);
  });
});
