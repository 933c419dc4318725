import { describe, expect, it } from 'vitest';
import {
  beyondContractMinorUnits,
  countedRounds,
  forecastRound,
  notesDueAt,
  roundStandings,
} from '../../server/domain/record.ts';
import { hour, note, post, type RecordUnderTest, sign, wish } from './record-under-test.ts';
import { mixUnder, storyAt, storySong, storyTerms } from './worked-story.ts';

/**
 * Proves how lists of notes are sent, counted against the contract and paid for beyond it: what counts, what does not,
 * late lists, fees by the hour, declined lists, and lists that ask for no version.
 */
const song = storySong;
const send = (agreedFeeMinorUnits: number | null = null) =>
  ({ type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits }) as const;
const goAhead = (number: number) => ({ type: 'giveRoundGoAhead', song, gate: 'mix', number }) as const;
const decline = (number: number) =>
  ({ type: 'declineRound', song, gate: 'mix', number, reason: 'too dear' }) as const;
const mistake = (requestId: string) =>
  ({ type: 'markOwnMistake', song, requestId, reason: 'forgotten here' }) as const;
const resort = (requestId: string, level: 'mix' | 'production' | 'mastering') =>
  ({ type: 'resortRequest', song, requestId, level, kind: null, reason: 'heard again' }) as const;
const refusalOf = (record: RecordUnderTest, ...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = record.decide(...given);
  return decision.ok ? null : decision.refusal;
};
const codeOf = (...given: Parameters<typeof refusalOf>) => refusalOf(...given)?.code ?? null;
const counted = (record: RecordUnderTest) => countedRounds(record.record, record.song(song), 'mix');
const standing = (record: RecordUnderTest, number: number) =>
  roundStandings(record.record, record.song(song), 'mix').find(({ round }) => round.number === number);
const owed = (record: RecordUnderTest) => beyondContractMinorUnits(record.record, record.song(song));

/** Writes one mix wish, sends it, and answers it with the next mix. */
function round(record: RecordUnderTest, number: number) {
  record.done('artist', note(song, `mix-${number}`, [wish(`wish-${number}`, 'mix')]));
  record.done('artist', send());
  record.done('mixer', post(song, 'mix', `mix-${number + 1}`));
}

describe('what counts', () => {
  it('is a list with one mix-level request of the client’s', () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix'), wish('choir', 'production')]));
    record.done('artist', send());
    expect(counted(record)).toBe(1);
  });

  it('is no list of production-level and mastering-level wishes and questions alone', () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('choir', 'production'), wish('loud', 'mastering')]));
    record.done(
      'artist',
      note(song, 'mix-1', [wish('which', 'none', 'which take is it?', { kind: 'question' })]),
    );
    record.done('artist', send());
    expect(counted(record)).toBe(0);
  });

  it('is no list of the engineer’s side’s own wishes', () => {
    const record = mixUnder({});
    record.done('producer', note(song, 'mix-1', [wish('snare', 'mix')]));
    record.done('artist', send());
    expect(counted(record)).toBe(0);
    expect(standing(record, 1)?.round.status).toBe('sent');
  });

  it('nothing of it is sent before there is a request', () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('nice', 'none')]));
    expect(codeOf(record, 'artist', send())).toBe('round_empty');
    record.done('artist', note(song, 'mix-1', [wish('which', 'none', 'which take?', { kind: 'question' })]));
    expect(codeOf(record, 'artist', send())).toBeNull();
  });

  it('is settled when the round is answered: re-sorting takes it off the count, never puts it on', () => {
    const record = mixUnder({ includedMixRounds: 1 });
    record.done('artist', note(song, 'mix-1', [wish('choir', 'production')]));
    record.done('artist', send());
    record.done('mixer', post(song, 'mix', 'mix-2'));
    round(record, 2);
    record.done('mixer', resort('choir', 'mix'));
    expect(counted(record)).toBe(1);
    expect(standing(record, 2)).toMatchObject({ position: 1, beyond: false });
    record.done('mixer', resort('wish-2', 'mastering'));
    expect(counted(record)).toBe(0);
    record.done('mixer', resort('wish-2', 'mix'));
    expect(counted(record)).toBe(1);
    expect(owed(record)).toBe(0);
  });

  it('follows a re-sorting at once while the round is sent, and the payer is asked before any work', () => {
    const record = mixUnder({ includedMixRounds: 0 });
    record.done('artist', note(song, 'mix-1', [wish('throw', 'production')]));
    record.done('artist', send());
    expect(standing(record, 1)).toMatchObject({ counts: false, waitsForGoAhead: false });
    record.done('mixer', resort('throw', 'mix'));
    expect(standing(record, 1)).toMatchObject({ counts: true, beyond: true, waitsForGoAhead: true });
    expect(codeOf(record, 'mixer', post(song, 'mix', 'mix-2'))).toBe('round_waits_for_go_ahead');
    record.done('mixer', mistake('throw'));
    expect(codeOf(record, 'mixer', post(song, 'mix', 'mix-2'))).toBeNull();
  });
});

describe('an own mistake found late', () => {
  it('takes its round off the count, and with it the fee of the round that it had pushed beyond', () => {
    const record = mixUnder({ includedMixRounds: 1 });
    round(record, 1);
    record.done('artist', note(song, 'mix-2', [wish('wish-2', 'mix')]));
    record.done('artist', send(8000));
    record.done('label', goAhead(2));
    record.done('mixer', post(song, 'mix', 'mix-3'));
    expect([counted(record), owed(record)]).toEqual([2, 8000]);
    record.done('mixer', mistake('wish-1'));
    expect([counted(record), owed(record)]).toEqual([1, 0]);
  });
});

describe('a list', () => {
  it('is sent by the spokesperson alone, once, at an open gate', () => {
    const record = storyAt(3);
    expect(codeOf(record, 'label', send())).toBe('not_entitled');
    expect(codeOf(storyAt(5), 'artist', send())).toBe('round_already_sent');
    expect(codeOf(storyAt(14), 'artist', send())).toBe('gate_closed');
    expect(codeOf(storyAt(1), 'artist', send())).toBe('round_unknown');
  });

  it('leaves out what the spokesperson left out with a reason, and takes it back in', () => {
    const record = mixUnder({});
    record.done('drummer', note(song, 'mix-1', [wish('kick', 'mix'), wish('snare', 'mix')]));
    const leave = { type: 'leaveOutRequest', song, requestId: 'kick', reason: 'next time' } as const;
    expect(codeOf(record, 'artist', { ...leave, reason: '' })).toBe('reason_missing');
    record.done('artist', leave);
    expect(record.done('artist', leave)).toEqual([]);
    const back = { type: 'takeRequestBackIn', song, requestId: 'kick' } as const;
    record.done('artist', back);
    expect(record.done('artist', back)).toEqual([]);
    record.done('artist', leave);
    record.done('artist', send());
    expect(record.song(song).rounds[0]).toMatchObject({ requestIds: ['snare'] });
  });

  it('holds no more points than the contract caps, counted as the client’s mix-level requests', () => {
    const record = mixUnder({ pointsCap: 2 });
    record.done(
      'artist',
      note(song, 'mix-1', [wish('a', 'mix'), wish('b', 'mix'), wish('c', 'mix'), wish('d', 'production')]),
    );
    record.done('producer', note(song, 'mix-1', [wish('e', 'mix')]));
    expect(codeOf(record, 'artist', send())).toBe('points_over_cap');
    record.done('artist', { type: 'leaveOutRequest', song, requestId: 'c', reason: 'next time' });
    expect(codeOf(record, 'artist', send())).toBeNull();
  });

  it('a version nobody asked for answers nothing and leaves the list open', () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    expect(record.done('mixer', post(song, 'mix', 'mix-2'))).toEqual(['versionPosted']);
    record.done('artist', send());
    expect(standing(record, 1)?.round).toMatchObject({ status: 'sent', versionId: 'mix-2' });
  });
});

describe('a list that asks for no version', () => {
  const parked = () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('loud', 'mastering'), wish('choir', 'production')]));
    record.done('artist', send());
    return record;
  };

  it('keeps nobody from signing', () => {
    const record = parked();
    record.done('artist', sign(song, 'mix', 'mix-1'));
    expect(record.done('label', sign(song, 'mix', 'mix-1'))).toContain('gateClosed');
  });

  it('makes way for the next as soon as somebody writes for that', () => {
    const record = parked();
    expect(record.done('drummer', note(song, 'mix-1', [wish('snare', 'mix')]))).toEqual([
      'roundAnswered',
      'roundOpened',
      'noteWritten',
    ]);
    expect(standing(record, 1)).toMatchObject({
      counts: false,
      round: { status: 'answered', answeredBy: null },
    });
    record.done('artist', send());
    expect([counted(record), standing(record, 2)?.position]).toEqual([1, 1]);
  });

  it('is also one whose every wish the engineer answered “not done”: the notes that wait move on', () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix'), wish('bass', 'mix')]));
    record.done('artist', send());
    record.done('drummer', note(song, 'mix-1', [wish('snare', 'mix')]));
    const no = (requestId: string) =>
      ({ type: 'answerRequest', song, requestId, answer: 'not done', text: 'it masks the guitar' }) as const;
    expect(record.done('mixer', no('voice'))).toEqual(['requestAnswered']);
    expect(codeOf(record, 'label', sign(song, 'mix', 'mix-1'))).toBe('round_awaits_answer');
    expect(record.done('mixer', no('bass'))).toEqual(['requestAnswered', 'roundAnswered', 'roundOpened']);
    expect(counted(record)).toBe(1);
    record.done('artist', send());
    expect(standing(record, 2)?.round).toMatchObject({ status: 'sent', requestIds: ['snare'] });
  });

  it('is one whose last mix wish was re-sorted', () => {
    const record = mixUnder({});
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    record.done('artist', send());
    record.done('drummer', note(song, 'mix-1', [wish('snare', 'mix')]));
    expect(record.done('mixer', resort('voice', 'production'))).toEqual([
      'requestResorted',
      'lockBroken',
      'roundAnswered',
      'roundOpened',
    ]);
  });
});

describe('beyond the contract', () => {
  const beyond = (terms = {}) => {
    const record = mixUnder({ includedMixRounds: 0, ...terms });
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix'), wish('bass', 'mix')]));
    return record;
  };

  it('a list says its fee before it is sent, and waits for the payer', () => {
    const record = beyond();
    expect(refusalOf(record, 'artist', send())).toMatchObject({
      code: 'round_beyond_contract',
      feeMinorUnits: 8000,
    });
    expect(codeOf(record, 'artist', send(7999))).toBe('round_beyond_contract');
    expect(record.done('artist', send(8000))).toEqual(['roundSent']);
    expect(owed(record)).toBe(0);
    expect(codeOf(record, 'artist', goAhead(1))).toBe('not_entitled');
    expect(record.done('label', goAhead(1))).toEqual(['roundGoAheadGiven']);
    expect(record.done('label', goAhead(1))).toEqual([]);
    expect(owed(record)).toBe(8000);
    expect(codeOf(record, 'label', decline(1))).toBe('not_pending');
  });

  it('a payer who is the spokesperson gives the go-ahead by sending', () => {
    const record = beyond({ payer: 'artist' });
    expect(record.done('artist', send(8000))).toEqual(['roundSent', 'roundGoAheadGiven']);
    expect(owed(record)).toBe(8000);
  });

  it('a declined list is open again under its number, can be shortened, and is sent again', () => {
    const record = beyond();
    record.done('artist', send(8000));
    record.done('drummer', note(song, 'mix-1', [wish('snare', 'mix')]));
    expect(codeOf(record, 'label', { ...decline(1), reason: '' })).toBe('reason_missing');
    record.done('label', decline(1));
    expect(record.song(song).rounds).toMatchObject([
      { number: 1, status: 'open', declined: { reason: 'too dear' } },
    ]);
    record.done('mixer', mistake('voice'));
    record.done('artist', { type: 'leaveOutRequest', song, requestId: 'bass', reason: 'too dear' });
    expect(record.done('artist', send())).toEqual(['roundSent']);
    record.done('mixer', post(song, 'mix', 'mix-2'));
    expect(counted(record)).toBe(0);
    record.done('artist', send(8000));
    expect(standing(record, 2)?.round).toMatchObject({ requestIds: ['snare'] });
  });

  it('keeps to an amendment only from the next list on', () => {
    const record = beyond();
    record.done('artist', send(8000));
    record.done('mixer', {
      type: 'proposeAmendment',
      terms: { ...storyTerms, includedMixRounds: 5 },
      reason: 'a bigger record than we thought',
    });
    record.done('label', { type: 'acceptAmendment', number: 2 });
    expect(standing(record, 1)?.waitsForGoAhead).toBe(true);
    record.done('label', decline(1));
    expect(record.done('artist', send())).toEqual(['roundSent']);
    expect(standing(record, 1)).toMatchObject({ beyond: false, position: 1 });
  });
});

describe('a fee by the hour', () => {
  const hourly = { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 1 } as const;
  const quote = (hours: number) => ({ type: 'quoteRound', song, gate: 'mix', number: 1, hours }) as const;
  const sent = (payer = 'label') => {
    const record = mixUnder({ includedMixRounds: 0, roundFee: hourly, payer });
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    record.done('artist', send(7000));
    return record;
  };

  it('is quoted by the engineer before the go-ahead, even where the payer sends', () => {
    for (const payer of ['label', 'artist']) {
      const record = sent(payer);
      expect(record.song(song).rounds[0]).toMatchObject({ status: 'sent', goAhead: null });
      expect(codeOf(record, payer, goAhead(1))).toBe('not_pending');
      expect(codeOf(record, 'artist', quote(2))).toBe('not_entitled');
      record.done('mixer', quote(2.5));
      expect(record.done('mixer', quote(2.5))).toEqual([]);
      record.done(payer, goAhead(1));
      expect(owed(record)).toBe(17_500);
      expect(codeOf(record, 'mixer', quote(9))).toBe('not_pending');
    }
  });

  it('is never below its minimum, and is held to the terms under which the list was sent', () => {
    const record = sent();
    record.done('mixer', {
      type: 'proposeAmendment',
      terms: { ...storyTerms, roundFee: { ...hourly, rateMinorUnits: 9000 } },
      reason: 'new rates this year',
    });
    record.done('label', { type: 'acceptAmendment', number: 2 });
    record.done('mixer', quote(0.25));
    record.done('label', goAhead(1));
    expect(owed(record)).toBe(7000);
  });

  it('there is nothing to quote for a flat one', () => {
    expect(codeOf(storyAt(11), 'mixer', { ...quote(2), number: 4 })).toBe('not_pending');
  });
});

describe('the days for notes', () => {
  const day = 24;
  const late = (record: RecordUnderTest) => {
    const { contract, songs } = record.record;
    const open = songs[song]?.rounds.find((each) => each.status === 'open');
    if (!contract || !open) throw new Error('There is no open list.');
    return forecastRound(record.record, record.song(song), open, contract.terms, record.at).terms.late;
  };

  it('run from the newest version; after them a round that was included becomes chargeable', () => {
    const record = mixUnder({ noteDays: 7 });
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    expect(notesDueAt(record.song(song), 'mix', storyTerms)).toBe(hour(25 + 7 * day));
    record.wait(7 * day);
    expect([late(record), codeOf(record, 'artist', send())]).toEqual([false, null]);
    record.wait(1);
    expect(refusalOf(record, 'artist', send())).toMatchObject({
      code: 'round_beyond_contract',
      message: expect.stringContaining('the days for notes have run out'),
    });
    record.done('artist', send(8000));
    expect(standing(record, 1)).toMatchObject({ position: 1, beyond: true, waitsForGoAhead: true });
  });

  it('a late list of what counts nowhere costs nothing', () => {
    const record = mixUnder({ noteDays: 7 });
    record.done('artist', note(song, 'mix-1', [wish('loud', 'mastering')]));
    record.wait(9 * day);
    expect(record.done('artist', send())).toEqual(['roundSent', 'requestParked']);
  });

  it('are extended by the engineer, with a reason, whatever the notation of the day', () => {
    const record = mixUnder({ noteDays: 7 });
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    record.wait(8 * day);
    const more = (until: string) =>
      ({ type: 'extendNoteDays', song, gate: 'mix', until, reason: 'the band was on tour' }) as const;
    expect(codeOf(record, 'artist', more('2026-02-01'))).toBe('not_entitled');
    expect(codeOf(record, 'mixer', more('soon'))).toBe('malformed');
    record.done('mixer', more('2026-02-01T12:00:00+02:00'));
    expect(record.done('mixer', more('2026-02-01T10:00:00Z'))).toEqual([]);
    expect(notesDueAt(record.song(song), 'mix', storyTerms)).toBe('2026-02-01T10:00:00.000Z');
    expect([late(record), codeOf(record, 'artist', send())]).toEqual([false, null]);
  });

  it('begin anew when a gate is reopened: its price is asked for once', () => {
    const record = storyAt(14);
    record.wait(60 * day);
    record.done('label', {
      type: 'reopenGate',
      song,
      gate: 'mix',
      reason: 'the wrong word in verse 2',
      agreedFeeMinorUnits: 8000,
    });
    expect(late(record)).toBe(false);
    record.wait(8 * day);
    expect(late(record)).toBe(true);
  });
});
