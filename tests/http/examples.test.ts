import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ExampleView } from '../../server/application/example-views.ts';
import type { SongSheet } from '../../server/application/song-sheet.ts';
import { StudioExamples } from '../../server/application/studio-examples.ts';
import { Database } from '../../server/storage/database.ts';
import { ExampleStore } from '../../server/storage/example-store.ts';
import { LedgerStore } from '../../server/storage/ledger-store.ts';
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
 * Proves that a re-sorting teaches this server how its studio reads such words: for the notes that come after, on every
 * record, at once; that nothing decided before changes; that an example can be seen, taken out, put back and taken away
 * as a file; and that the words of one record's people are not shown to those of another.
 */
interface Sorting {
  requests: { kind: string; level: string; why: string }[];
}

let server: ServerUnderTest;
let people: Record<string, Browser>;
let others: Record<string, Browser>;
const song = '/records/record/songs/song';
const wish = 'could the second voice sit nearer to the front';

const record = async (id: string, title: string, label: string) => {
  const browsers = await openRecord(
    server,
    id,
    { artist: { name: title, roles: ['artist'] }, producer: { name: 'Pia', roles: ['producer'] } },
    () => ({
      spokesperson: 'artist',
      payer: 'artist',
      signers: { production: ['artist'], mix: ['artist'], master: ['artist'] },
    }),
  );
  const path = join(server.folder, `${label}.wav`);
  await toneFile(path);
  const sent = await upload(server, browsers.producer!, id, await readFile(path), {
    song: 'song',
    gate: 'production',
    filename: 'rough.wav',
  });
  const posted = await browsers.producer!.ask('POST', `/records/${id}/songs/song/versions`, {
    versionId: 'rough',
    uploadId: sent.id,
    gate: 'production',
    printNotes: '',
    changes: [],
  });
  expect(posted.status).toBe(200);
  return browsers;
};

beforeAll(async () => {
  server = await startServer();
  server.setNow('2026-03-02T10:00:00.000Z');
  people = await record('record', 'Ana', 'one');
  others = await record('other', 'Gus', 'two');
}, 120_000);

afterAll(() => server.close());

const sorting = async (by: Browser, recordId = 'record', text = wish): Promise<Sorting> =>
  json(
    await by.ask('POST', `/records/${recordId}/songs/song/sortings`, {
      text,
      versionId: 'rough',
      range: null,
    }),
  );
const examples = async (by: Browser, path = '/records/record/examples') =>
  (await json<{ examples: ExampleView[] }>(await by.ask('GET', path))).examples;
const requestOf = async () =>
  (await json<SongSheet>(await people.artist!.ask('GET', song))).notes[0]!.requests[0]!;
const resort = async (level: string, kind: string, reason: string) => {
  const { id } = await requestOf();
  const response = await people[ownerId]!.ask('POST', `${song}/requests/${id}/resorting`, {
    level,
    kind,
    reason,
  });
  expect(response.status).toBe(200);
};

it('says what the levels mean that the author has chosen, once they are', async () => {
  const words = 'lead vocal up a touch';
  const meaning = async (chosen: { text: string; level: string }[]) => {
    const sent = { text: words, versionId: 'rough', range: null, chosen };
    const answer = await people.artist!.ask('POST', `${song}/sortings`, sent);
    return (await json<{ meaning: string }>(answer)).meaning;
  };
  expect(await meaning([])).toMatch(/^Mix: /u);
  expect(await meaning([{ text: words, level: 'mastering' }])).toMatch(/^Mastering: parked/u);
  expect(await meaning([{ text: 'other words', level: 'mastering' }])).toMatch(/^Mix: /u);
});

describe('what a studio teaches the sorting', () => {
  it('is nothing at first', async () => {
    expect(await examples(people[ownerId]!)).toEqual([]);
    expect((await sorting(people.artist!)).requests[0]?.kind).not.toBe('comp');
  });

  it('comes of a re-sorting with its reason, and holds for the next note', async () => {
    const written = await people.artist!.ask('POST', `${song}/notes`, {
      noteId: 'first',
      versionId: 'rough',
      range: null,
      text: wish,
      heardOn: null,
      levels: [],
    });
    expect(written.status).toBe(200);
    const before = await requestOf();
    await resort('production', 'comp', 'another take has to be chosen for it');
    const [example, ...more] = await examples(people[ownerId]!);
    expect(more).toEqual([]);
    expect(example).toMatchObject({
      record: { id: 'record', title: 'Ninth Harbour' },
      song: { id: 'song', title: 'Low Water' },
      requestId: before.id,
      text: wish,
      kind: 'comp',
      level: 'production',
      reason: 'another take has to be chosen for it',
      by: { id: ownerId, name: 'Owner' },
      at: '2026-03-02T10:00:00.000Z',
    });
    const { requests } = await sorting(people.artist!);
    expect(requests.map(({ kind, level }) => ({ kind, level }))).toEqual([
      { kind: 'comp', level: 'production' },
    ]);
  });

  it('holds on the other records, without the words of the first one’s people', async () => {
    const { requests } = await sorting(others.artist!, 'other', 'could the second voice sit nearer to front');
    expect(requests[0]).toMatchObject({ kind: 'comp', level: 'production' });
    expect(JSON.stringify(requests[0]?.why)).not.toContain('nearer to the front');
    expect(requests[0]?.why).toContain('this studio sorted such a request so');
  });

  it('changes nothing that was decided before', async () => {
    const text = 'could the second voice sit nearer the front';
    const first = await people.artist!.ask('POST', `${song}/notes`, {
      noteId: 'second',
      versionId: 'rough',
      range: null,
      text,
      heardOn: null,
      levels: [],
    });
    expect(first.status).toBe(200);
    const kinds = async () =>
      (await json<SongSheet>(await people.artist!.ask('GET', song))).notes.flatMap((note) =>
        note.requests.map(({ kind, level }) => `${note.id} ${kind} ${level}`),
      );
    const before = await kinds();
    expect(before).toContain('second comp production');
    await resort('mix', 'balance', 'a fader does it after all');
    expect(await kinds()).toEqual(
      before.map((each) => each.replace('first comp production', 'first balance mix')),
    );
  });

  it('is replaced where the same request is re-sorted again', async () => {
    const found = await examples(people[ownerId]!);
    expect(found.map(({ kind, level, reason }) => ({ kind, level, reason }))).toEqual([
      { kind: 'balance', level: 'mix', reason: 'a fader does it after all' },
    ]);
    expect((await sorting(people.artist!)).requests[0]).toMatchObject({ kind: 'balance', level: 'mix' });
    await resort('production', 'comp', 'no, another take');
  });

  it('is taken out and put back within the hour, and gone after it', async () => {
    const producer = people.producer!;
    const { id } = await requestOf();
    const at = `/records/record/examples/${id}`;
    expect((await producer.ask('DELETE', at)).status).toBe(204);
    expect(await examples(producer)).toEqual([]);
    expect((await sorting(people.artist!)).requests[0]?.kind).not.toBe('comp');
    expect((await producer.ask('DELETE', at)).status).toBe(404);
    expect((await producer.ask('POST', `${at}/restoration`)).status).toBe(204);
    expect((await sorting(people.artist!)).requests[0]?.kind).toBe('comp');
    expect((await producer.ask('DELETE', at)).status).toBe(204);
    server.setNow('2026-03-02T11:00:01.000Z');
    expect((await producer.ask('DELETE', at)).status).toBe(404);
    expect((await producer.ask('POST', `${at}/restoration`)).status).toBe(404);
    await resort('mix', 'balance', 'a fader, and that is that');
  });

  it('is taken away as a file, one example a line', async () => {
    const response = await people[ownerId]!.ask('GET', '/records/record/examples.jsonl');
    expect(response.headers.get('content-disposition')).toContain('.jsonl');
    const lines = (await response.text()).trimEnd().split('\n');
    expect(lines.map((line) => JSON.parse(line))).toEqual(await examples(people[ownerId]!));
    const all = await people[ownerId]!.ask('GET', '/examples.jsonl');
    expect((await all.text()).trimEnd().split('\n')).toEqual(lines);
  });

  it('is shown to the owner for all records, and to engineers for their own', async () => {
    expect((await examples(people[ownerId]!, '/examples')).map((each) => each.record.id)).toEqual(['record']);
    expect(await examples(others.producer!, '/records/other/examples')).toEqual([]);
    expect((await others.producer!.ask('GET', '/records/record/examples')).status).toBe(404);
    expect((await others.producer!.ask('GET', '/examples')).status).toBe(403);
    expect((await people.artist!.ask('GET', '/records/record/examples')).status).toBe(403);
  });

  it('follows the scope sheet of each contract where the level came from one', async () => {
    const taught = server.examples.all.find((each) => each.requestId !== '')!;
    expect(taught).toMatchObject({ kind: 'balance', level: 'mix', byScopeSheet: true });
    const sheet = (await server.ledger.state('other'))!.contract!.terms.scopeSheet;
    const stricter = { ...sheet, balance: { level: 'production' as const, grey: false } };
    expect(server.examples.under(stricter)[0]).toMatchObject({ kind: 'balance', level: 'production' });
  });

  it('goes with the demo record, when that is deleted', async () => {
    const database = await Database.open(join(server.folder, 'apart'));
    const store = new ExampleStore(database);
    await database.write((writer) =>
      store.keepIn(writer, { ...server.examples.all[0]!, recordId: 'demo', requestId: 'r' }),
    );
    const kept = await StudioExamples.open(store);
    expect(kept.all).toHaveLength(1);
    await new LedgerStore(database).deleteRecord('demo');
    await kept.read();
    expect(kept.all).toEqual([]);
    await database.close();
  });
});
