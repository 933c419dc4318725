import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { AskedAndChanged } from '../../server/application/asked-and-changed.ts';
import type { NotePlace } from '../../server/application/note-places.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import type { WrittenRequest } from '../../server/domain/ledger-entry.ts';
import { decibels, mixDown, synthesiseSong, toFloat32, without } from '../comparison/synthetic-song.ts';
import { sha256Of, wish } from '../domain/record-under-test.ts';
import {
  type Browser,
  json,
  openRecord,
  ownerId,
  type ServerUnderTest,
  startServer,
  upload,
} from './server-under-test.ts';

/**
 * Proves the way from a sent round to its verdicts over the interface: before posting to the engineer alone, after it to
 * everybody at once, with the explanation once it is given; and that notes follow the song through a cut.
 */
const made = synthesiseSong({ bars: 12, barsInSection: 2 });
const rate = made.sampleRateHz;
const song = '/records/record/songs/song';
let server: ServerUnderTest;
let owner: Browser;
let artist: Browser;
let uploadId: string;

const bassBack = wish('bass-up', 'mix', 'bass up in chorus 1', {
  target: 'bass',
  direction: 'up',
  place: 'chorus 1',
  range: { startSeconds: 8, endSeconds: 12 },
});
const praise = wish('praise', 'none', 'love it');
const voice = wish('voice', 'mix', 'vocal up in verse 2', {
  target: 'lead vocal',
  direction: 'up',
  place: 'verse 2',
  range: { startSeconds: 12, endSeconds: 16 },
});

async function fileOf(name: string, channels: readonly Float64Array[]): Promise<Buffer> {
  const path = join(server.folder, name);
  await writeWav(path, toFloat32(channels), { sampleRateHz: rate, bitDepth: 24, encoding: 'integer' });
  return readFile(path);
}

const run = async (by: string, command: Parameters<ServerUnderTest['ledger']['execute']>[2]) => {
  const outcome = await server.ledger.execute('record', by, command);
  if (!outcome.ok) throw new Error(JSON.stringify(outcome));
};

const arrive = async (name: string, gate: string, channels: readonly Float64Array[]) =>
  (
    await upload(server, owner, 'record', await fileOf(name, channels), {
      song: 'song',
      gate,
      filename: name,
    })
  ).id;

async function post(versionId: string, gate: string, id: string): Promise<void> {
  const posted = await owner.ask('POST', `${song}/versions`, {
    versionId,
    uploadId: id,
    gate,
    printNotes: '',
    changes: [],
  });
  expect(posted.status).toBe(200);
}

const write = (noteId: string, requests: WrittenRequest[], startSeconds: number | null) =>
  run('artist', {
    type: 'writeNote',
    song: 'song',
    noteId,
    versionId: 'mix-1',
    range: startSeconds === null ? null : { startSeconds, endSeconds: null },
    text: requests[0]!.text,
    heardOn: null,
    protections: [],
    requests,
    contradictions: [],
  });

async function ready<T>(by: Browser, path: string): Promise<T> {
  await expect.poll(async () => (await by.ask('GET', path)).status, { timeout: 60_000 }).toBe(200);
  return json<T>(await by.ask('GET', path));
}

beforeAll(async () => {
  server = await startServer();
  const people = await openRecord(
    server,
    'record',
    { artist: { name: 'Ana', roles: ['artist'] }, label: { name: 'Lea', roles: ['label'] } },
    () => ({
      spokesperson: 'artist',
      payer: 'label',
      signers: { production: ['artist'], mix: ['artist'], master: ['artist'] },
    }),
  );
  owner = people[ownerId]!;
  artist = people.artist!;
  await run(ownerId, {
    type: 'nameSections',
    song: 'song',
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
  await post(
    'rough',
    'production',
    await arrive(
      'rough.wav',
      'production',
      mixDown(made, () => 0.8),
    ),
  );
  const rough = (await server.ledger.state('record'))!.songs.song!.versions[0]!;
  await run('artist', {
    type: 'signOff',
    song: 'song',
    gate: 'production',
    versionId: 'rough',
    sha256: rough.file.sha256,
    statement: 'Approved.',
  });
  await post('mix-1', 'mix', await arrive('mix-1.wav', 'mix', mixDown(made)));
  await write('bass-note', [bassBack], 9);
  await write('voice-note', [voice], null);
  await write('praise-note', [praise], 7);
  await run('artist', { type: 'sendRound', song: 'song', gate: 'mix', agreedFeeMinorUnits: null });
  // The bass goes up in chorus 1 as asked, the lead stands still in verse 2, and the keys go down in verse 1 unasked.
  const next = mixDown(made, (part, seconds) =>
    part === 'bass' && seconds >= 8 && seconds < 12
      ? decibels(1.5)
      : part === 'keys' && seconds >= 4 && seconds < 8
        ? decibels(-2)
        : 1,
  );
  uploadId = await arrive('mix-2.wav', 'mix', next);
}, 240_000);
afterAll(() => server.close());

describe('before it is posted', () => {
  it('the engineer sees what was asked and what changed; nobody else does', async () => {
    const told = await ready<AskedAndChanged>(owner, `${song}/uploads/${uploadId}/asked`);
    expect(told.asked.map(({ requestId, verdict }) => [requestId, verdict])).toEqual([
      ['bass-up', 'seen in the measurement'],
      ['voice', 'no change measured'],
    ]);
    expect(told.unasked.map(({ where }) => where)).toEqual(['verse 1']);
    expect(told).toMatchObject({ mayExplain: true, answersList: true, rounds: [{ gate: 'mix', number: 1 }] });
    expect((await artist.ask('GET', `${song}/uploads/${uploadId}/asked`)).status).toBe(404);
  });
});

describe('once it is posted', () => {
  const asked = `${song}/comparisons/mix-1/mix-2/asked`;

  it('everybody sees the verdicts with their figures, and what is not explained yet', async () => {
    await post('mix-2', 'mix', uploadId);
    const told = await ready<AskedAndChanged>(artist, asked);
    const [bass, vocal] = told.asked;
    expect(bass).toMatchObject({
      text: 'bass up in chorus 1',
      where: 'chorus 1',
      round: { gate: 'mix', number: 1 },
      // A second before the pin, so that the ear comes in before what changed.
      playSeconds: 7,
      answer: null,
    });
    expect(bass!.figure).toMatch(/^Bass bands in chorus 1 \(.*\) are \d\.\d dB up after matching/);
    expect(vocal!.verdict).toBe('no change measured');
    expect(told.unasked).toMatchObject([
      { where: 'verse 1', place: { startSeconds: 4, endSeconds: 8 }, explanation: null },
    ]);
    expect(told.mayExplain).toBe(false);
  });

  it('the engineer explains it, and everybody reads that beside it', async () => {
    const explain = (by: Browser, text: string) =>
      by.ask('POST', `${song}/comparisons/mix-1/mix-2/explanations`, {
        place: { startSeconds: 4, endSeconds: 8 },
        text,
      });
    const refused = await explain(artist, 'It was me.');
    expect([refused.status, (await json<{ code: string }>(refused)).code]).toEqual([403, 'not_entitled']);
    const said = await explain(owner, 'The keys made room for the lead.');
    expect(await json(said)).toMatchObject({ facts: ['changeExplained'] });
    const told = await ready<AskedAndChanged>(artist, asked);
    expect(told.unasked[0]!.explanation).toMatchObject({
      text: 'The keys made room for the lead.',
      by: { name: 'Owner' },
    });
  });

  it('the first version of a gate answers no list, so that nothing is held against it', async () => {
    const told = await ready<AskedAndChanged>(artist, `${song}/comparisons/rough/mix-1/asked`);
    expect(told).toMatchObject({ answersList: false, asked: [], rounds: [] });
  });

  it('two that can’t be compared say why for each request', async () => {
    await run(ownerId, {
      type: 'postVersion',
      song: 'song',
      gate: 'mix',
      versionId: 'mix-lost',
      file: {
        sha256: sha256Of('a file that is not in the store'),
        fileName: 'lost.wav',
        byteLength: 1,
        sampleRateHz: rate,
        channelCount: 2,
        bitDepth: 24,
        durationSeconds: 24,
      },
      printNotes: '',
      warnings: [],
      changes: [],
    });
    const told = await ready<AskedAndChanged>(artist, `${song}/comparisons/mix-1/mix-lost/asked`);
    expect(told.fault).toMatch(/\.$/);
    expect(told.unasked).toEqual([]);
    expect(told.asked).not.toEqual([]);
    for (const { verdict, figure } of told.asked)
      expect([verdict, figure]).toEqual(['cannot be told this way', told.fault]);
  });
});

describe('notes on an older version', () => {
  it('stand where their place is in the one that is heard, or say that it was cut', async () => {
    // Verse 1's second half goes, so that what follows stands 2 s earlier.
    const cut = without(mixDown(made), rate, 6, 8);
    await post('mix-cut', 'mix', await arrive('mix-cut.wav', 'mix', cut));
    const places = (versionId: string, note = 'bass-note') =>
      artist
        .ask('GET', `${song}/versions/${versionId}/note-places`)
        .then((each) => json<{ places: NotePlace[] }>(each))
        .then((each) => each.places.find(({ noteId }) => noteId === note));
    // The lost file breaks the chain of neighbours; the direct comparison joins the two.
    await ready(artist, `${song}/comparisons/mix-1/mix-cut`);
    const moved = await places('mix-cut');
    expect(moved).toMatchObject({ left: 'all', range: { endSeconds: null } });
    expect(moved!.range!.startSeconds).toBeCloseTo(7, 2);
    // 0:07 lay in what was cut out at 0:06.
    const gone = await places('mix-cut', 'praise-note');
    expect(gone).toMatchObject({ left: 'none', range: null });
    expect(gone!.seconds).toBeCloseTo(6, 2);
    expect(await places('mix-2')).toMatchObject({ left: 'all', range: { startSeconds: 9 } });
    expect(await places('mix-lost')).toMatchObject({ left: 'unknown', range: { startSeconds: 9 } });
    expect(await places('mix-1')).toBeUndefined();
  });
});
