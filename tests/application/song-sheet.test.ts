import { describe, expect, it } from 'vitest';
import { ledgerWords } from '../../server/application/ledger-words.ts';
import { recordSheet } from '../../server/application/record-sheet.ts';
import { type AnalysisState, songSheet } from '../../server/application/song-sheet.ts';
import { note, post, type RecordUnderTest, sha256Of, sign, wish } from '../domain/record-under-test.ts';
import { mixUnder, storyAt, storyPersons, storySong } from '../domain/worked-story.ts';

/**
 * Proves what the pages of a song and of a record show each reader at steps of the worked story: the open list and
 * what sending it means, who has not signed and why a gate stays open, money beyond the contract, and a ledger that
 * reads as sentences.
 */
const waiting: AnalysisState = {
  state: 'waiting',
  progress: 0,
  message: null,
  integratedLoudnessLufs: null,
  truePeakDbtp: null,
  listening: null,
};
const personOf = (record: RecordUnderTest, id: string) => {
  const person = record.record.people[id];
  if (!person) throw new Error(`${id} is not on the record.`);
  return person;
};
const page = (record: RecordUnderTest, reader = 'artist') =>
  songSheet(record.record, record.song(storySong), personOf(record, reader), record.at, () => waiting);
const glance = (record: RecordUnderTest, reader: string) =>
  recordSheet(record.record, personOf(record, reader), false);

describe('the open list', () => {
  it('says in one sentence what sending it would mean', () => {
    expect(page(storyAt(2)).openRound?.words).toBe('There is no request on this list yet.');
    expect(page(storyAt(3)).openRound?.words).toBe('Sending this is round 1 of 2.');
    const beyond = storyAt(10);
    beyond.done('artist', note(storySong, 'mix-4', [wish('reverb', 'mix')]));
    expect(page(beyond).openRound).toMatchObject({
      beyond: true,
      feeMinorUnits: 8000,
      words:
        "This is beyond the contract, € 80.00 (each further round € 80.00). It waits for the payer's go-ahead.",
    });
    const parked = storyAt(10);
    parked.done('artist', note(storySong, 'mix-4', [wish('loud', 'mastering')]));
    expect(page(parked).openRound?.words).toBe(
      'Sending this counts no round: it holds no request that the contract counts.',
    );
    const late = mixUnder({ noteDays: 7 });
    late.done('artist', note(storySong, 'mix-1', [wish('voice', 'mix')]));
    late.wait(8 * 24);
    expect(page(late).openRound?.words).toBe(
      "The days for notes have run out, so this round is beyond the contract, € 80.00 (each further round € 80.00). It waits for the payer's go-ahead.",
    );
  });

  it('counts points as the rule that caps them does: the client’s alone', () => {
    const record = mixUnder({ pointsCap: 5 });
    record.done('artist', note(storySong, 'mix-1', [wish('voice', 'mix'), wish('choir', 'production')]));
    record.done('producer', note(storySong, 'mix-1', [wish('snare', 'mix')]));
    expect(page(record).openRound).toMatchObject({ points: 1, pointsCap: 5 });
  });

  it('suggests one request of two alike until they are said to be two, names who said it, and forgets it once they are one', () => {
    const record = mixUnder({});
    for (const [by, id] of [
      ['artist', 'a'],
      ['drummer', 'b'],
    ] as const)
      record.done(
        by,
        note(storySong, 'mix-1', [
          wish(id, 'mix', `voice up ${id}`, { target: 'lead vocal', direction: 'up' }),
        ]),
      );
    const pair = { requestIds: ['a', 'b'] };
    expect(page(record).openRound).toMatchObject({ agreements: [pair], keptApart: [] });
    record.done('artist', { type: 'keepRequestsApart', song: storySong, ...pair });
    const { name } = personOf(record, 'artist');
    expect(page(record, 'drummer').openRound).toMatchObject({
      agreements: [],
      keptApart: [{ ...pair, by: { id: 'artist', name } }],
    });
    expect(ledgerWords(record.record, record.entries.at(-1)!)).toBe(
      'said that “voice up a” and “voice up b” are two wishes · Lanterns',
    );
    record.done('artist', { type: 'mergeRequests', song: storySong, into: 'a', others: ['b'] });
    expect(page(record).openRound).toMatchObject({ agreements: [], keptApart: [], requestIds: ['a'] });
  });

  it('is gone while a list is with the engineer, and names the pairs that contradict before', () => {
    expect(page(storyAt(3)).openRound?.contradictions.map((each) => each.requestIds)).toEqual([
      ['vocal-up', 'vocal-down'],
    ]);
    expect(page(storyAt(5)).openRound).toBeNull();
  });
});

describe('the gates on the page', () => {
  const missing = (step: number, gate: 'production' | 'mix') =>
    page(storyAt(step)).gates[gate].missing.map(({ name }) => name);

  it('name whoever has not signed the newest file', () => {
    expect(missing(2, 'mix')).toEqual(['Mara', 'Ruth']);
    expect(missing(13, 'mix')).toEqual(['Mara']);
    expect(missing(14, 'mix')).toEqual([]);
    expect(missing(1, 'production')).toEqual([]);
  });

  it('say that two files were signed, for as long as they are', () => {
    expect([12, 13, 14].map((step) => page(storyAt(step)).gates.mix.disagreement)).toEqual([
      null,
      'Ruth signed Mix v5, Mara signed Mix v4: different files, so the gate stays open until the same one is signed.',
      null,
    ]);
  });

  it('show the file that closed them and what reopening costs', () => {
    expect(page(storyAt(14)).gates.mix).toMatchObject({
      status: 'closed',
      versionName: 'Mix v5',
      sha256: sha256Of('mix-5'),
      reopeningPrice: { feeMinorUnits: 8000, clause: 'charge after approval € 80.00' },
    });
  });
});

describe('rounds and money on the page', () => {
  it('stand at 0, 1, 1, 2 and 3 of 2, with one beyond', () => {
    const counts = [2, 5, 9, 10, 12].map((step) => page(storyAt(step)).counted);
    expect(counts).toEqual([0, 1, 1, 2, 3].map((rounds) => ({ gate: 'mix', rounds, included: 2 })));
    expect(page(storyAt(12)).rounds.filter(({ beyond }) => beyond)).toHaveLength(1);
  });

  it('add up to € 170.00, each charge with its clause', () => {
    const { charges, beyondContractMinorUnits, currency } = page(storyAt(12), 'label');
    expect([beyondContractMinorUnits, currency]).toEqual([17_000, 'EUR']);
    expect(charges.map(({ words, clause, amountMinorUnits }) => [words, clause, amountMinorUnits])).toEqual([
      ['Change order 1: shaker recorded and edited in verse 2', 'production changes by the hour', 9000],
      ['Mix round 4', 'each further round € 80.00', 8000],
    ]);
  });

  it('name a round that asked for no version by the version it was sent on', () => {
    const record = mixUnder({});
    record.done('artist', note(storySong, 'mix-1', [wish('loud', 'mastering')]));
    record.done('artist', { type: 'sendRound', song: storySong, gate: 'mix', agreedFeeMinorUnits: null });
    record.done('artist', note(storySong, 'mix-1', [wish('voice', 'mix')]));
    expect(page(record).rounds[0]).toMatchObject({ status: 'answered', counts: false, answeredBy: 'Mix v1' });
  });
});

describe('every reader', () => {
  it('sees the same facts, their own turn and their own notes', () => {
    for (const step of [1, 3, 5, 6, 9, 11, 13, 14, 15]) {
      const record = storyAt(step);
      const pages = storyPersons.map(({ id }) => page(record, id));
      for (const each of pages) {
        const { reader, turn, notes, ...rest } = each;
        const { reader: _reader, turn: _turn, notes: firstNotes, ...first } = pages[0] ?? each;
        expect(rest).toEqual(first);
        expect(notes.map(({ mine: _mine, ...shown }) => shown)).toEqual(
          firstNotes.map(({ mine: _mine, ...shown }) => shown),
        );
        expect(turn.mine).toBe(turn.people.includes(reader.person.id));
        for (const shown of notes) expect(shown.mine).toBe(shown.by.id === reader.person.id);
      }
    }
  });

  it('is told of their roles, their payment and their signatures', () => {
    const record = storyAt(2);
    expect(page(record, 'artist').reader).toMatchObject({
      roles: ['artist', 'spokesperson'],
      payer: false,
      signs: ['production', 'mix', 'master'],
    });
    expect(page(record, 'label').reader).toMatchObject({ roles: ['label'], payer: true, owner: false });
    expect(page(record, 'mixer').reader).toMatchObject({ owner: true, signs: [] });
  });

  it('reads on a request how its level came to be', () => {
    const record = storyAt(5);
    record.done('mixer', {
      type: 'resortRequest',
      song: storySong,
      requestId: 'shaker',
      level: 'mix',
      kind: null,
      reason: 'a loop of it is in the drums',
    });
    const shown = page(record).notes.flatMap((each) => each.requests);
    expect(shown.find(({ id }) => id === 'shaker')?.decisionNames).toEqual([
      'production: proposed from the words',
      'mix: re-sorted by Ivo (a loop of it is in the drums)',
    ]);
  });
});

describe('the record at a glance', () => {
  const lines: [step: number, reader: string, words: string][] = [
    [2, 'artist', 'One song. One waits for your signature.'],
    [2, 'drummer', 'One song. None waits for you.'],
    [3, 'artist', 'One song. One waits for your next step.'],
    [6, 'label', 'One song. One waits for your go-ahead.'],
    [11, 'label', 'One song. One waits for your go-ahead.'],
    [14, 'masterer', 'One song. One waits for your next step.'],
  ];
  for (const [step, reader, words] of lines)
    it(`${step}, to the ${reader}: ${words}`, () => {
      expect(glance(storyAt(step), reader).sentence).toBe(words);
    });

  it('counts what waits for one reader over several songs', () => {
    const record = storyAt(13);
    for (const id of ['tide', 'ebb']) {
      record.done('mixer', { type: 'addSong', song: id, title: id });
      record.done('producer', post(id, 'production', `${id}-rough`));
    }
    expect(glance(record, 'artist').sentence).toBe('Three songs. Three wait for your signature.');
    record.done('artist', sign('tide', 'production', 'tide-rough'));
    record.done('label', sign('tide', 'production', 'tide-rough'));
    record.done('mixer', post('tide', 'mix', 'tide-mix'));
    record.done('artist', note('tide', 'tide-mix', [wish('kick', 'mix')]));
    expect(glance(record, 'artist').sentence).toBe(
      'Three songs. Two wait for your signature, one for your next step.',
    );
  });

  it('shows gate, rounds, what is open and what it costs', () => {
    expect(glance(storyAt(11), 'label').songs[0]).toMatchObject({
      gate: 'mix',
      counted: { rounds: 3, included: 2 },
      openRequests: 2,
      openChanges: 0,
      waitsForGoAhead: { number: 4, feeMinorUnits: 8000 },
      beyondContractMinorUnits: 9000,
    });
    expect(glance(storyAt(12), 'manager').beyondContractMinorUnits).toBe(17_000);
  });
});

describe('the ledger in words', () => {
  const { record, entries } = storyAt(15);
  const words = entries.map((entry) => ledgerWords(record, entry));

  it('reads as a sentence behind a name, with nothing left unnamed', () => {
    for (const each of words) {
      expect(each).toMatch(/^[a-z]/);
      expect(each).not.toMatch(/undefined|null|\(\)|a version|a request|somebody no longer/);
    }
  });

  it('says money with its currency and files with their hash', () => {
    expect(words).toContain(
      'priced change order 1: 1.5 h, € 90.00 (shaker recorded and edited in verse 2) · Lanterns',
    );
    expect(words).toContain('gave the go-ahead to round 4 beyond the contract, € 80.00 · Lanterns');
    expect(
      words.some((each) => /^closed the mix gate on Mix v5 \(SHA-256 [0-9a-f]{8}…[0-9a-f]{4}\)/.test(each)),
    ).toBe(true);
    expect(words.at(-1)).toBe('wrote on Mix v5: “vocal down” (after approval) · Lanterns');
  });
});
