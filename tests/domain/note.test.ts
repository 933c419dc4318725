import { describe, expect, it } from 'vitest';
import type { Command } from '../../server/domain/command.ts';
import { masteringBrief } from '../../server/domain/record.ts';
import { note, post, type RecordUnderTest, wish } from './record-under-test.ts';
import { mixUnder, storyAt, storySong } from './worked-story.ts';

/**
 * Proves the rules of notes and of the requests inside them: where a note belongs, what its author may still change,
 * what re-sorting sets off, and who answers.
 */
const song = storySong;
const codeOf = (record: RecordUnderTest, ...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = record.decide(...given);
  return decision.ok ? null : decision.refusal.code;
};
const request = (record: RecordUnderTest, id: string) => {
  const found = record.song(song).requests.find((each) => each.id === id);
  if (!found) throw new Error(`There is no request ${id}.`);
  return found;
};
const send = { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: null } as const;
const resort = (
  requestId: string,
  level: 'mix' | 'production' | 'mastering' | 'none',
  reason = 'heard again',
) => ({ type: 'resortRequest', song, requestId, level, kind: null, reason }) as const;

describe('a note', () => {
  it('belongs to the open round; after sending it waits for the next, and opens with it', () => {
    const record = storyAt(3);
    expect(record.song(song).notes.at(-1)?.round).toEqual({ gate: 'mix', number: 1 });
    const sent = storyAt(5);
    sent.done('artist', note(song, 'mix-1', [wish('trickle', 'mix')]));
    expect(sent.song(song).notes.at(-1)).toMatchObject({ round: { number: 2 }, afterApproval: false });
    expect(codeOf(sent, 'artist', send)).toBe('round_already_sent');
    expect(sent.done('artist', { type: 'withdrawNote', song, noteId: 'trickle-note' })).toEqual([
      'noteWithdrawn',
    ]);
    sent.done('artist', note(song, 'mix-1', [wish('trickle-2', 'mix')]));
    sent.done('mixer', post(song, 'mix', 'mix-2'));
    sent.done('artist', send);
    expect(sent.song(song).rounds[1]).toMatchObject({ status: 'sent', requestIds: ['trickle-2'] });
  });

  it('on the rough belongs to the mix once the production is locked', () => {
    const record = storyAt(1);
    record.done('artist', note(song, 'rough-1', [wish('voice', 'mix')]));
    expect(record.song(song).notes.at(-1)).toMatchObject({ gate: 'mix', round: { gate: 'mix', number: 1 } });
  });

  it('at the open production gate is on no list; its mastering-level wish is parked at once', () => {
    const record = storyAt(0);
    record.done('producer', post(song, 'production', 'rough-1'));
    const facts = record.done(
      'artist',
      note(song, 'rough-1', [wish('shaker', 'production'), wish('loud', 'mastering')]),
    );
    expect(facts).toEqual(['noteWritten', 'requestParked']);
    expect(record.song(song).notes.at(-1)).toMatchObject({ gate: 'production', round: null });
    expect(
      record.done('producer', {
        type: 'answerRequest',
        song,
        requestId: 'shaker',
        answer: 'done',
        text: 'it is in the next rough',
      }),
    ).toEqual(['requestAnswered']);
  });

  it('after approval is taken, stamped, and its consequences come at once', () => {
    const record = storyAt(14);
    const facts = record.done(
      'drummer',
      note(song, 'mix-5', [wish('down', 'mix'), wish('choir', 'production'), wish('fade', 'mastering')]),
    );
    expect(facts).toEqual(['noteWritten', 'lockBroken', 'requestParked']);
    expect(record.song(song).notes.at(-1)).toMatchObject({ afterApproval: true, round: null });
    expect(masteringBrief(record.song(song)).map(({ id }) => id)).toEqual(['loudness', 'fade']);
  });

  it('is taken as it is once, and is not empty, endless, backwards or past the end', () => {
    const record = storyAt(2);
    const written = note(song, 'mix-1', [wish('voice', 'mix')]);
    expect(record.done('artist', written)).toEqual(['noteWritten']);
    expect(record.done('artist', written)).toEqual([]);
    expect(codeOf(record, 'drummer', written)).toBe('already_exists');
    expect(codeOf(record, 'artist', note(song, 'mix-1', [wish('voice', 'mix')], { noteId: 'n2' }))).toBe(
      'already_exists',
    );
    const at = (startSeconds: number, endSeconds: number | null) =>
      note(song, 'mix-1', [], { noteId: 'n3', range: { startSeconds, endSeconds } });
    for (const unfit of [
      { ...at(0, null), text: '' },
      { ...at(0, null), text: 'x'.repeat(20_001) },
      at(30, 20),
      at(-1, null),
      at(Number.NaN, null),
      at(211, null),
    ])
      expect(codeOf(record, 'artist', unfit)).toBe('malformed');
    expect(codeOf(record, 'artist', at(209, 215))).toBeNull();
  });

  it('is answered by anybody in words, once', () => {
    const record = storyAt(3);
    const reply = { type: 'replyToNote', song, noteId: 'bridge-note', text: 'so do I' } as const;
    expect(record.done('mixer', reply)).toEqual(['noteReplied']);
    expect(record.done('mixer', reply)).toEqual([]);
    expect(record.done('drummer', reply)).toEqual(['noteReplied']);
  });

  it('is withdrawn by its author alone, with its requests, before it is sent', () => {
    const record = storyAt(3);
    record.done('drummer', { type: 'withdrawNote', song, noteId: 'vocal-down-note' });
    expect(record.done('artist', send)).toContain('roundSent');
    expect(record.song(song).rounds[0]).toMatchObject({
      requestIds: ['vocal-up', 'shaker', 'loudness', 'bridge'],
    });
  });
});

describe('a level', () => {
  it('is proposed, chosen by the author before sending, re-sorted by the engineer; all stay on the record', () => {
    const record = storyAt(3);
    record.done('artist', { type: 'chooseLevel', song, requestId: 'shaker', level: 'mix' });
    expect(codeOf(record, 'drummer', { type: 'chooseLevel', song, requestId: 'shaker', level: 'mix' })).toBe(
      'not_your_note',
    );
    record.done('mixer', resort('shaker', 'production', 'there is no shaker among the files'));
    expect(
      request(record, 'shaker').decisions.map(({ level, how, by, reason }) => [level, how, by, reason]),
    ).toEqual([
      ['production', 'proposed', 'artist', null],
      ['mix', 'author', 'artist', null],
      ['production', 'engineer', 'mixer', 'there is no shaker among the files'],
    ]);
  });

  it('chosen while writing stands beside the proposal', () => {
    const record = storyAt(2);
    record.done('artist', note(song, 'mix-1', [wish('a', 'mix', 'a', { proposedLevel: 'production' })]));
    expect(request(record, 'a').decisions.map(({ level, how }) => [level, how])).toEqual([
      ['production', 'proposed'],
      ['mix', 'author'],
    ]);
  });

  it('breaks no lock before the list is sent', () => {
    const record = storyAt(3);
    record.done('mixer', resort('vocal-up', 'production'));
    expect(record.song(song).lockBreaks).toEqual([]);
  });

  it('re-sorted on a sent list breaks the lock, withdraws the break, parks and takes off the brief', () => {
    const record = storyAt(5);
    expect(record.done('mixer', resort('shaker', 'mix', 'a loop of it is in the drums'))).toEqual([
      'requestResorted',
      'lockBreakWithdrawn',
    ]);
    expect(record.song(song).lockBreaks).toMatchObject([{ number: 1, status: 'withdrawn' }]);
    expect(record.done('mixer', resort('shaker', 'production'))).toEqual(['requestResorted', 'lockBroken']);
    expect(record.song(song).lockBreaks).toMatchObject([
      { status: 'withdrawn' },
      { number: 2, status: 'flagged' },
    ]);
    expect(record.done('producer', resort('shaker', 'mastering'))).toEqual([
      'requestResorted',
      'lockBreakWithdrawn',
      'requestParked',
    ]);
    expect(record.done('mixer', resort('loudness', 'mix'))).toEqual(['requestResorted', 'requestUnparked']);
    expect(masteringBrief(record.song(song)).map(({ id }) => id)).toEqual(['shaker']);
  });

  it('of a request that was left out sets nothing off', () => {
    const record = storyAt(5);
    expect(record.done('mixer', resort('vocal-down', 'production'))).toEqual(['requestResorted']);
  });

  it('of a change that is under way stays', () => {
    const record = storyAt(6);
    record.done('label', { type: 'acceptChange', song, number: 1 });
    expect(codeOf(record, 'mixer', resort('shaker', 'mix'))).toBe('change_already_decided');
  });

  it('of a parked wish may be re-sorted by the mastering engineer, who has the brief', () => {
    const record = storyAt(14);
    expect(codeOf(record, 'masterer', resort('vocal-up', 'mastering'))).toBe('not_entitled');
    expect(record.done('masterer', resort('loudness', 'none', 'the master is loud enough'))).toEqual([
      'requestResorted',
      'requestUnparked',
    ]);
  });
});

describe('an answer', () => {
  const answer = (requestId: string, kind: 'done' | 'not done' | 'question', text = '') =>
    ({ type: 'answerRequest', song, requestId, answer: kind, text }) as const;

  it('is given on a sent list by whoever can do it', () => {
    const record = storyAt(5);
    expect(codeOf(record, 'artist', answer('vocal-up', 'done'))).toBe('not_entitled');
    expect(codeOf(record, 'producer', answer('vocal-up', 'done'))).toBe('not_entitled');
    expect(record.done('mixer', answer('vocal-up', 'done'))).toEqual(['requestAnswered']);
    expect(record.done('producer', answer('shaker', 'question', 'egg or tambourine?'))).toEqual([
      'requestAnswered',
    ]);
    expect(record.done('masterer', answer('loudness', 'done', 'with the master'))).toEqual([
      'requestAnswered',
    ]);
  });

  it('that is no “done” says why, and the same answer stands once', () => {
    const record = storyAt(5);
    expect(codeOf(record, 'mixer', answer('vocal-up', 'not done'))).toBe('reason_missing');
    expect(codeOf(record, 'mixer', answer('vocal-up', 'question', ' '))).toBe('reason_missing');
    record.done('mixer', answer('vocal-up', 'not done', 'it would cover the guitar'));
    expect(record.done('mixer', answer('vocal-up', 'not done', 'it would cover the guitar'))).toEqual([]);
    expect(record.done('mixer', answer('vocal-up', 'done', 'with the guitar turned down'))).toEqual([
      'requestAnswered',
    ]);
  });
});

describe('a contradiction', () => {
  const settle = (keep: string | null): Command => ({
    type: 'settleContradiction',
    song,
    requestIds: ['vocal-down', 'vocal-up'],
    keep,
    reason: 'the words carry chorus 1',
  });

  it('is settled for one, or both are let stand', () => {
    const one = storyAt(3);
    one.done('artist', settle('vocal-down'));
    expect(request(one, 'vocal-up').leftOut?.reason).toBe('the words carry chorus 1');
    expect(one.done('artist', send)).toContain('roundSent');
    const both = storyAt(3);
    both.done('artist', settle(null));
    both.done('artist', send);
    expect(both.song(song).rounds[0]).toMatchObject({
      requestIds: ['vocal-up', 'shaker', 'loudness', 'bridge', 'vocal-down'],
    });
  });

  it('stands again when the request that was left out is taken back in', () => {
    const record = storyAt(3);
    record.done('artist', settle('vocal-up'));
    record.done('artist', { type: 'takeRequestBackIn', song, requestId: 'vocal-down' });
    expect(codeOf(record, 'artist', send)).toBe('contradiction_unsettled');
    expect(record.done('artist', settle('vocal-down'))).toEqual(['contradictionSettled']);
  });

  it('is gone when one of the two is left out, withdrawn or found to be no request', () => {
    const leftOut = storyAt(3);
    leftOut.done('artist', { type: 'leaveOutRequest', song, requestId: 'vocal-up', reason: 'next time' });
    expect(codeOf(leftOut, 'artist', send)).toBeNull();
    const none = storyAt(3);
    none.done('drummer', { type: 'chooseLevel', song, requestId: 'vocal-down', level: 'none' });
    expect(codeOf(none, 'artist', send)).toBeNull();
  });

  it('names requests that are there, one of them of the note itself', () => {
    const record = storyAt(2);
    const writing = (requestId: string, otherRequestId: string) =>
      note(song, 'mix-1', [wish('a', 'mix')], {
        contradictions: [{ requestId, otherRequestId, why: 'why' }],
      });
    expect(codeOf(record, 'artist', writing('a', 'b'))).toBe('request_unknown');
    expect(codeOf(record, 'artist', writing('b', 'a'))).toBe('request_unknown');
  });
});

describe('what a declined list has set off', () => {
  it('stays: its lock break and its parked wish are neither withdrawn, re-levelled nor left out', () => {
    const record = mixUnder({ includedMixRounds: 0 });
    record.done(
      'artist',
      note(song, 'mix-1', [wish('voice', 'mix'), wish('choir', 'production'), wish('loud', 'mastering')]),
    );
    record.done('artist', { ...send, agreedFeeMinorUnits: 8000 });
    record.done('label', { type: 'declineRound', song, gate: 'mix', number: 1, reason: 'too dear' });
    expect(codeOf(record, 'artist', { type: 'withdrawNote', song, noteId: 'voice-note' })).toBe(
      'request_sent',
    );
    expect(codeOf(record, 'artist', { type: 'chooseLevel', song, requestId: 'choir', level: 'mix' })).toBe(
      'request_sent',
    );
    expect(
      codeOf(record, 'artist', { type: 'leaveOutRequest', song, requestId: 'loud', reason: 'not now' }),
    ).toBe('request_sent');
    record.done('artist', { type: 'leaveOutRequest', song, requestId: 'voice', reason: 'too dear' });
    expect(record.done('artist', send)).toEqual(['roundSent']);
    expect(record.song(song).lockBreaks).toHaveLength(1);
  });
});
