import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { RequestView, SongSheet } from '../../server/application/song-sheet.ts';
import { type ChainVerdict, verifyChain } from '../../server/domain/ledger-chain.ts';
import type { LedgerEntry } from '../../server/domain/ledger-entry.ts';
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
 * Proves the worked story of the job over HTTP, each step by the person's own cookie: notes as people type them are
 * sorted by the server, files are uploaded, and each step holds what the job says must be true after it.
 */
let server: ServerUnderTest;
let people: Record<string, Browser>;
const song = '/records/record/songs/song';

beforeAll(async () => {
  server = await startServer();
  server.setNow('2026-03-02T10:00:00.000Z');
  people = await openRecord(
    server,
    'record',
    {
      artist: { name: 'Ana', roles: ['artist'] },
      drummer: { name: 'Dee', roles: ['artist'] },
      producer: { name: 'Pia', roles: ['producer'] },
      label: { name: 'Lea', roles: ['label'] },
    },
    () => ({
      includedMixRounds: 2,
      roundFee: { basis: 'flat', amountMinorUnits: 8000 },
      productionRateMinorUnits: 6000,
      spokesperson: 'artist',
      payer: 'label',
      signers: { production: ['artist', 'label'], mix: ['artist', 'label'], master: ['artist', 'label'] },
    }),
  );
  const sections = await by('owner').ask('PUT', `${song}/sections`, {
    sections: [
      { id: 'a', name: 'Chorus 1', startSeconds: 0, endSeconds: 1 },
      { id: 'b', name: 'Verse 2', startSeconds: 1, endSeconds: 2 },
    ],
    tempoBpm: 120,
    beatsPerBar: 4,
    firstBarSeconds: 0,
    basedOnRevision: 0,
  });
  expect(sections.status).toBe(200);
}, 120_000);

afterAll(() => server.close());

const by = (id: string): Browser => people[id === 'owner' ? ownerId : id]!;
const sheet = async (id = 'artist') => json<SongSheet>(await by(id).ask('GET', song));
const problemOf = (response: Response) =>
  json<{ code: string; detail: string; feeMinorUnits?: number }>(response);

async function passes(id: string, method: string, path: string, body: unknown = {}): Promise<string[]> {
  const response = await by(id).ask(method, `${song}${path}`, body);
  const text = await response.text();
  expect([path, response.status, text]).toEqual([path, 200, text]);
  return JSON.parse(text).facts;
}

async function refused(id: string, method: string, path: string, code: string, body: unknown = {}) {
  const found = await problemOf(await by(id).ask(method, `${song}${path}`, body));
  expect(found.code).toBe(code);
  return found;
}

let files = 0;
async function post(id: string, gate: string, versionId: string, changes: number[] = [], code?: string) {
  files += 1;
  const path = join(server.folder, `${versionId}.wav`);
  await toneFile(path, { gain: 0.1 + files * 0.01 });
  const { id: uploadId, inspection } = await upload(server, by(id), 'record', await readFile(path), {
    song: 'song',
    gate,
    filename: `${versionId}.wav`,
  });
  expect(inspection.state).toBe('ready');
  const body = { versionId, uploadId, gate, printNotes: `as asked (${versionId})`, changes };
  return code ? refused(id, 'POST', '/versions', code, body) : passes(id, 'POST', '/versions', body);
}

let notes = 0;
const write = async (id: string, versionId: string, text: string) => {
  notes += 1;
  return passes(id, 'POST', '/notes', {
    noteId: `note-${notes}`,
    versionId,
    range: null,
    text,
    heardOn: 'phone',
    levels: [],
  });
};

async function sign(id: string, gate: string, versionId: string): Promise<string[]> {
  const { versions } = await sheet(id);
  const version = versions.find((each) => each.id === versionId)!;
  return passes(id, 'POST', `/gates/${gate}/signature`, {
    versionId,
    sha256: version.file.sha256,
    statement: 'This is the one.',
  });
}

const requests = (found: SongSheet): RequestView[] =>
  found.notes.flatMap((note) => note.requests).filter((request) => request.level !== 'none');
const send = (agreedFeeMinorUnits: number | null = null) =>
  passes('artist', 'POST', '/rounds/mix/sending', { agreedFeeMinorUnits });

describe('the worked story over HTTP', () => {
  it('1: the rough is signed by both, and the production is locked on its SHA-256', async () => {
    await post('producer', 'production', 'rough');
    await sign('artist', 'production', 'rough');
    expect(await sign('label', 'production', 'rough')).toContain('productionLocked');
    const { lock, versions } = await sheet();
    expect(lock).toMatchObject({ status: 'locked', sha256: versions[0]!.file.sha256 });
  });

  it('2: Mix v1 counts no round; round 1 is open, 0 of 2', async () => {
    await post('owner', 'mix', 'v1');
    const found = await sheet();
    expect(found.versions.at(-1)?.name).toBe('Mix v1');
    expect(found.openRound?.number).toBe(1);
    expect(found.counted).toEqual({ gate: 'mix', rounds: 0, included: 2 });
  });

  it('3: four requests, mix, production, mastering, mix; praise is none; two contradict', async () => {
    await write('artist', 'v1', 'vocal up in chorus 1, and add a shaker in verse 2');
    await write('artist', 'v1', 'should be as loud as other records');
    await write('artist', 'v1', 'love the bridge');
    await write('drummer', 'v1', 'vocal down in chorus 1');
    const found = await sheet();
    expect(requests(found).map((request) => request.level)).toEqual([
      'mix',
      'production',
      'mastering',
      'mix',
    ]);
    expect(found.openRound?.contradictions).toHaveLength(1);
  });

  it('4: sending is refused until the contradiction is settled', async () => {
    await refused('artist', 'POST', '/rounds/mix/sending', 'contradiction_unsettled', {
      agreedFeeMinorUnits: null,
    });
    const [pair] = (await sheet()).openRound!.contradictions;
    const up = requests(await sheet()).find(
      (request) => request.direction === 'up' && request.level === 'mix',
    )!;
    await passes('artist', 'POST', '/contradictions/settlement', {
      requestIds: pair!.requestIds,
      keep: up.id,
      reason: 'the words must be understood',
    });
    await send();
    const down = requests(await sheet()).find((request) => request.direction === 'down')!;
    expect(down.leftOut?.reason).toBe('the words must be understood');
  });

  it('5: 1 of 2 counted; lock break 1 is with the producer; the loudness wish is parked', async () => {
    const found = await sheet('producer');
    expect(found.counted?.rounds).toBe(1);
    expect(found.lockBreaks.map(({ number, status }) => [number, status])).toEqual([[1, 'flagged']]);
    expect(found.brief.map((request) => request.text)).toEqual(['should be as loud as other records']);
  });

  it('6: 1.5 h make a change order of € 90.00 that waits for the label; the lock holds', async () => {
    await passes('producer', 'POST', '/changes/1/price', { hours: 1.5, words: 'record a shaker' });
    const found = await sheet('label');
    expect(found.lockBreaks[0]).toMatchObject({ status: 'priced', amountMinorUnits: 9000 });
    expect(found.lock.status).toBe('locked');
  });

  it('7: accepted, the lock is open for change 1 only, then locked again on the new SHA-256', async () => {
    await refused('label', 'POST', '/changes/1/acceptance', 'change_not_priced', {
      agreedFeeMinorUnits: 6000,
    });
    await passes('label', 'POST', '/changes/1/acceptance', { agreedFeeMinorUnits: 9000 });
    expect((await sheet()).lock).toMatchObject({ status: 'open for changes', changes: [1] });
    await post('producer', 'production', 'rough2', [1]);
    await sign('artist', 'production', 'rough2');
    await sign('label', 'production', 'rough2');
    const { lock, versions } = await sheet();
    expect(lock).toMatchObject({ status: 'locked', sha256: versions.at(-1)!.file.sha256 });
  });

  it('8: Mix v2 answers round 1; round 2 is open', async () => {
    const up = requests(await sheet()).find(
      (request) => request.direction === 'up' && request.level === 'mix',
    )!;
    await passes('owner', 'POST', `/requests/${up.id}/answer`, { answer: 'done', text: '' });
    expect(await post('owner', 'mix', 'v2')).toContain('roundAnswered');
    const found = await sheet();
    expect(found.rounds.map(({ status }) => status)).toEqual(['answered', 'open']);
  });

  it('9: an own mistake counts no round: still 1 of 2', async () => {
    await write('artist', 'v2', 'you forgot the mute at 1:20 that we agreed on');
    await send();
    const mistake = requests(await sheet()).at(-1)!;
    expect(mistake.level).toBe('mix');
    await passes('owner', 'POST', `/requests/${mistake.id}/own-mistake`, {
      reason: 'agreed by phone, forgotten by me',
    });
    await post('owner', 'mix', 'v3');
    expect((await sheet()).counted?.rounds).toBe(1);
  });

  it('10: three mix requests, sent and answered: 2 of 2', async () => {
    await write('artist', 'v3', 'bass down a bit in verse 2');
    await write('artist', 'v3', 'snare brighter in chorus 1');
    await write('artist', 'v3', 'more reverb on the guitar in verse 2');
    await send();
    await post('owner', 'mix', 'v4');
    expect((await sheet()).counted?.rounds).toBe(2);
  });

  it('11: two more are beyond the contract, € 80.00, and wait for the go-ahead', async () => {
    await write('artist', 'v4', 'kick louder in chorus 1');
    await write('artist', 'v4', 'keys quieter in verse 2');
    const found = await refused('artist', 'POST', '/rounds/mix/sending', 'round_beyond_contract', {
      agreedFeeMinorUnits: null,
    });
    expect(found.detail).toContain('beyond the contract, € 80.00');
    await send(8000);
    expect((await sheet('owner')).rounds.at(-1)).toMatchObject({ waitsForGoAhead: true, beyond: true });
  });

  it('12: go-ahead and Mix v5: 3 counted, 1 beyond, € 170.00 in all', async () => {
    const { number } = (await sheet()).rounds.at(-1)!;
    await passes('label', 'POST', `/rounds/mix/${number}/go-ahead`, { agreedFeeMinorUnits: 8000 });
    await post('owner', 'mix', 'v5');
    const found = await sheet('label');
    expect(found.counted?.rounds).toBe(3);
    expect(found.rounds.filter((round) => round.beyond)).toHaveLength(1);
    expect(found.beyondContractMinorUnits).toBe(17_000);
  });

  it('13: the label signs v5, the artist v4: the gate stays open, and the page says so', async () => {
    await sign('label', 'mix', 'v5');
    await sign('artist', 'mix', 'v4');
    const { gates } = await sheet();
    expect(gates.mix.status).toBe('open');
    expect(gates.mix.disagreement).toContain('different files');
  });

  it('14: the artist signs v5: closed on its SHA-256, certificate, the parked wish on the brief', async () => {
    expect(await sign('artist', 'mix', 'v5')).toContain('gateClosed');
    const found = await sheet();
    expect(found.gates.mix.sha256).toBe(found.versions.at(-1)!.file.sha256);
    const certificate = await json<{ sha256: string; signatures: unknown[] }>(
      await by('label').ask('GET', `${song}/gates/mix/certificate`),
    );
    expect(certificate.sha256).toBe(found.gates.mix.sha256);
    expect(certificate.signatures).toHaveLength(2);
    expect(found.brief).toHaveLength(1);
  });

  it('15: Mix v6 is refused with the price of reopening; a note is taken, stamped after approval', async () => {
    const found = await post('owner', 'mix', 'v6', [], 'gate_closed');
    expect(found).toMatchObject({ detail: expect.stringContaining('€ 80.00') });
    await write('artist', 'v5', 'vocal down');
    expect((await sheet()).notes.at(-1)?.afterApproval).toBe(true);
  });

  it('16: the ledger is whole, and a changed byte in any entry is named', async () => {
    const text = await (await by('label').ask('GET', '/records/record/ledger.jsonl')).text();
    const entries: LedgerEntry[] = text
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(verifyChain(entries)).toMatchObject({ whole: true, entries: entries.length });
    for (const [index, entry] of entries.entries()) {
      const json = JSON.stringify(entry.fact);
      const at = json.indexOf('"', json.indexOf(':') + 1) + 1;
      const changed = JSON.parse(`${json.slice(0, at)}X${json.slice(at + 1)}`);
      const damaged = entries.map((each, place) => (place === index ? { ...each, fact: changed } : each));
      expect(verifyChain(damaged)).toMatchObject({
        whole: false,
        sequence: index + 1,
      } satisfies Partial<ChainVerdict>);
    }
  });
});
