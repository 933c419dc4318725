import { beforeAll, describe, expect, it } from 'vitest';
import { songSheet } from '../../server/application/song-sheet.ts';
import { verifyChain } from '../../server/domain/ledger-chain.ts';
import {
  beyondContractMinorUnits,
  charges,
  countedRounds,
  masteringBrief,
  productionLock,
  roundStandings,
  type Song,
  unsettledContradictions,
} from '../../server/domain/record.ts';
import { post, RecordUnderTest, sha256Of } from './record-under-test.ts';
import { play, playStep, storyBefore, storySong, storySteps } from './worked-story.ts';

/**
 * Proves the worked story of the job, step by step against the rules: after each step holds what the job's table says
 * must be true. The expectations are the table's own.
 */
const story = new RecordUnderTest();
const song = (): Song => story.song(storySong);
const counted = () => countedRounds(story.record, song(), 'mix');
const standing = (number: number) =>
  roundStandings(story.record, song(), 'mix').find(({ round }) => round.number === number);
const refusalOf = (...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = story.decide(...given);
  return decision.ok ? null : decision.refusal;
};
const step = (number: number) => {
  const found = storySteps.find((each) => each.number === number);
  if (!found) throw new Error(`The story has no step ${number}.`);
  playStep(story, found);
};

describe('the worked story', () => {
  beforeAll(() => {
    play(story, storyBefore);
  });

  it('1: the production is locked on the rough’s SHA-256', () => {
    step(1);
    expect(song().gates.production.status).toBe('closed');
    expect(productionLock(song())).toEqual({
      status: 'locked',
      versionId: 'rough-1',
      sha256: sha256Of('rough-1'),
    });
  });

  it('2: no round counted; round 1 open, 0 of 2', () => {
    step(2);
    expect(song().versions.at(-1)?.name).toBe('Mix v1');
    expect(song().rounds).toEqual([{ gate: 'mix', number: 1, status: 'open', declined: null }]);
    expect(counted()).toBe(0);
  });

  it('3: four requests of levels mix, production, mastering, mix; praise is none; two contradict', () => {
    step(3);
    expect(
      song()
        .requests.filter((request) => request.level !== 'none')
        .map((request) => request.level),
    ).toEqual(['mix', 'production', 'mastering', 'mix']);
    expect(song().requests.find((request) => request.text === 'love the bridge')?.level).toBe('none');
    expect(song().contradictions.map((each) => each.requestIds)).toEqual([['vocal-up', 'vocal-down']]);
  });

  it('4: refused until settled for “up”, the drummer’s request left out with a reason; then sent', () => {
    const [round] = song().rounds;
    expect(round && unsettledContradictions(song(), round)).toHaveLength(1);
    step(4);
    expect(song().requests.find((request) => request.id === 'vocal-down')?.leftOut).toMatchObject({
      by: 'artist',
      reason: 'the words carry chorus 1',
    });
    expect(standing(1)?.round).toMatchObject({
      status: 'sent',
      versionId: 'mix-1',
      requestIds: ['vocal-up', 'shaker', 'loudness', 'bridge'],
    });
  });

  it('5: 1 of 2 counted; lock break 1 is with the producer; the loudness wish is parked', () => {
    step(5);
    expect(counted()).toBe(1);
    expect(song().lockBreaks).toMatchObject([{ number: 1, requestId: 'shaker', status: 'flagged' }]);
    expect(masteringBrief(song()).map((request) => request.id)).toEqual(['loudness']);
    expect(productionLock(song()).status).toBe('locked');
  });

  it('6: change order € 90.00 waits for the label; the lock still holds', () => {
    step(6);
    expect(song().lockBreaks).toMatchObject([{ status: 'priced', price: { amountMinorUnits: 9000 } }]);
    expect(productionLock(song())).toMatchObject({ status: 'locked', sha256: sha256Of('rough-1') });
    expect(refusalOf('producer', post(storySong, 'production', 'rough-2', [1]))?.code).toBe(
      'production_locked',
    );
    expect(refusalOf('artist', { type: 'acceptChange', song: storySong, number: 1 })?.code).toBe(
      'not_entitled',
    );
  });

  it('7: the lock opens for change 1 only, then holds again on the new SHA-256', () => {
    const accepting = story.fork();
    accepting.done('label', { type: 'acceptChange', song: storySong, number: 1 });
    expect(productionLock(accepting.song(storySong))).toMatchObject({
      status: 'open for changes',
      changes: [1],
    });
    const unasked = accepting.decide('producer', post(storySong, 'production', 'other', [2]));
    expect(unasked.ok).toBe(false);
    step(7);
    expect(productionLock(song())).toEqual({
      status: 'locked',
      versionId: 'rough-2',
      sha256: sha256Of('rough-2'),
    });
    expect(song().lockBreaks).toMatchObject([{ status: 'delivered', sha256: sha256Of('rough-2') }]);
    expect(counted()).toBe(1);
  });

  it('8: round 1 answered; round 2 open', () => {
    step(8);
    expect(standing(1)?.round).toMatchObject({ status: 'answered', answeredBy: 'mix-2' });
    expect(song().requests.find((request) => request.id === 'vocal-up')?.answer?.kind).toBe('done');
    expect(standing(2)?.round.status).toBe('open');
  });

  it('9: still 1 of 2; Mix v3 answers', () => {
    step(9);
    expect(counted()).toBe(1);
    expect(standing(2)).toMatchObject({ counts: false, round: { status: 'answered', answeredBy: 'mix-3' } });
    expect(song().requests.find((request) => request.id === 'mute')?.ownMistake?.reason).toBe(
      'agreed on the phone, and forgotten here',
    );
  });

  it('10: 2 of 2', () => {
    step(10);
    expect(counted()).toBe(2);
    expect(standing(3)).toMatchObject({ position: 2, beyond: false });
  });

  it('11: “beyond the contract, € 80.00” before sending; sent, it waits for the label’s go-ahead', () => {
    const [writing] = storySteps.filter(({ number }) => number === 11);
    const before = story.fork().wait(24);
    play(before, writing?.commands.slice(0, 1) ?? []);
    const asked = before.decide('artist', {
      type: 'sendRound',
      song: storySong,
      gate: 'mix',
      agreedFeeMinorUnits: null,
    });
    expect(asked).toMatchObject({
      ok: false,
      refusal: {
        code: 'round_beyond_contract',
        feeMinorUnits: 8000,
        message: expect.stringContaining('beyond the contract, € 80.00'),
      },
    });
    step(11);
    expect(standing(4)).toMatchObject({ counts: true, position: 3, beyond: true, waitsForGoAhead: true });
    expect(beyondContractMinorUnits(story.record, song())).toBe(9000);
  });

  it('12: 3 counted, 1 beyond; beyond the contract € 170.00 in all', () => {
    step(12);
    expect(counted()).toBe(3);
    expect(roundStandings(story.record, song(), 'mix').filter(({ beyond }) => beyond)).toHaveLength(1);
    expect(charges(story.record, song()).map((charge) => charge.amountMinorUnits)).toEqual([9000, 8000]);
    expect(beyondContractMinorUnits(story.record, song())).toBe(17_000);
  });

  it('13: the gate stays open: two different files; the page says so', () => {
    step(13);
    expect(song().gates.mix.status).toBe('open');
    const artist = story.record.people.artist;
    if (!artist) throw new Error('The artist left the story.');
    const page = songSheet(story.record, song(), artist, story.at, () => ({
      state: 'waiting',
      progress: 0,
      message: null,
      integratedLoudnessLufs: null,
      truePeakDbtp: null,
      listening: null,
    }));
    expect(page.gates.mix.disagreement).toBe(
      'Ruth signed Mix v5, Mara signed Mix v4: different files, so the gate stays open until the same one is signed.',
    );
  });

  it('14: mix gate closed on v5’s SHA-256; the parked wish stands on the mastering brief', () => {
    step(14);
    expect(song().gates.mix).toMatchObject({
      status: 'closed',
      versionId: 'mix-5',
      sha256: sha256Of('mix-5'),
    });
    expect(song().gates.mix.signatures.map(({ personId, sha256 }) => [personId, sha256])).toEqual([
      ['label', sha256Of('mix-5')],
      ['artist', sha256Of('mix-5')],
    ]);
    expect(masteringBrief(song()).map((request) => request.text)).toEqual([
      'should be as loud as other records',
    ]);
  });

  it('15: Mix v6 is refused with the price of reopening; the note is taken, stamped “after approval”', () => {
    step(15);
    expect(refusalOf('mixer', post(storySong, 'mix', 'mix-6'))).toMatchObject({
      code: 'gate_closed',
      message: expect.stringMatching(/Reopen it on the record.*€ 80\.00/),
    });
    expect(song().versions.some((version) => version.id === 'mix-6')).toBe(false);
    expect(song().notes.at(-1)).toMatchObject({ text: 'vocal down', afterApproval: true, round: null });
    expect(counted()).toBe(3);
  });

  it('16: the chain is whole; one changed byte in any entry is named', () => {
    step(16);
    expect(verifyChain(story.entries)).toEqual({
      whole: true,
      entries: story.entries.length,
      head: story.entries.at(-1)?.hash,
    });
    for (const [index, entry] of story.entries.entries()) {
      const bytes = JSON.stringify(entry.fact);
      const place = bytes.lastIndexOf('"') - 1;
      const other = bytes[place] === 'x' ? 'y' : 'x';
      const damaged = JSON.parse(`${bytes.slice(0, place)}${other}${bytes.slice(place + 1)}`);
      const entries = story.entries.with(index, { ...entry, fact: damaged });
      expect(verifyChain(entries)).toMatchObject({ whole: false, sequence: index + 1 });
    }
  });
});
