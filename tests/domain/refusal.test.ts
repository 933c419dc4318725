import { describe, expect, it } from 'vitest';
import type { Command } from '../../server/domain/command.ts';
import { type RefusalCode, refusalCodes } from '../../server/domain/refusal.ts';
import type { VersionFile } from '../../server/domain/version.ts';
import { fileOf, note, post, RecordUnderTest, sha256Of, sign, wish } from './record-under-test.ts';
import { mixUnder, play, storyAt, storyBefore, storySong, storyTerms } from './worked-story.ts';

/**
 * Proves that every refusal code is reached, that the list of codes holds no other, and that the order of the list is
 * the order of precedence: where a command breaks several rules at once, the one that stands first is given.
 */
interface Broken {
  words: string;
  given: () => RecordUnderTest;
  by: string;
  command: Command;
  /** The rules that stand in the way, as many as the command breaks. */
  breaks: RefusalCode[];
}

const song = storySong;
const at =
  (step: number, ...then: [by: string, command: Command][]) =>
  () => {
    const record = storyAt(step);
    for (const [by, command] of then) record.done(by, command);
    return record;
  };
const opened = () => play(new RecordUnderTest(), storyBefore.slice(0, -3));
const drafted = () => play(new RecordUnderTest(), storyBefore.slice(0, -2));
const songWithDraft = () => {
  const record = drafted();
  record.done('mixer', { type: 'addSong', song, title: 'Lanterns' });
  record.done('producer', post(song, 'production', 'rough-1'));
  return record;
};

const send = (agreedFeeMinorUnits: number | null = null): Command => ({
  type: 'sendRound',
  song,
  gate: 'mix',
  agreedFeeMinorUnits,
});
const reopen = (reason: string, agreedFeeMinorUnits: number | null): Command => ({
  type: 'reopenGate',
  song,
  gate: 'mix',
  reason,
  agreedFeeMinorUnits,
});
const price = (number: number, hours: number, words: string): Command => ({
  type: 'priceChange',
  song,
  number,
  hours,
  words,
});
const settle = (requestIds: [string, string], keep: string | null, reason: string): Command => ({
  type: 'settleContradiction',
  song,
  requestIds,
  keep,
  reason,
});
const accept: Command = { type: 'acceptChange', song, number: 1 };
const amend = (reason: string, terms = storyTerms): Command => ({ type: 'proposeAmendment', terms, reason });
const wrongFile = (gate: 'production' | 'mix' | 'master', versionId: string): Command => ({
  type: 'signOff',
  song,
  gate,
  versionId,
  sha256: sha256Of('another file'),
  statement: 'This one.',
});
const sections = (start: number, end: number, basedOnRevision: number): Command => ({
  type: 'nameSections',
  song,
  sections: [{ id: 'intro', name: 'intro', startSeconds: start, endSeconds: end }],
  tempoBpm: null,
  beatsPerBar: null,
  firstBarSeconds: 0,
  basedOnRevision,
});
const withdraw = (noteId: string): Command => ({ type: 'withdrawNote', song, noteId });
const leaveOut = (requestId: string, reason: string): Command => ({
  type: 'leaveOutRequest',
  song,
  requestId,
  reason,
});
const resort = (requestId: string, level: 'mix' | 'production', reason: string): Command => ({
  type: 'resortRequest',
  song,
  requestId,
  level,
  kind: null,
  reason,
});
const attach = (versionId: string, files: VersionFile[]): Command => ({
  type: 'attachStems',
  song,
  versionId,
  stems: files.map((file) => ({ name: file.fileName, role: 'part', file })),
  reason: '',
});
/** Mix v1 has stems. */
const withStems = at(2, ['mixer', attach('mix-1', [fileOf('drums')])]);
const badTerms = { ...storyTerms, includedMixRounds: -1 };
const pair: [string, string] = ['vocal-up', 'vocal-down'];

/** A mix with three wishes, two of which contradict, under a cap of one point and no included round. */
function crowded() {
  const record = mixUnder({ pointsCap: 1, includedMixRounds: 0 });
  record.done('artist', note(song, 'mix-1', [wish('vocal-up', 'mix'), wish('bass', 'mix')]));
  record.done(
    'drummer',
    note(song, 'mix-1', [wish('vocal-down', 'mix')], {
      contradictions: [{ requestId: 'vocal-down', otherRequestId: 'vocal-up', why: 'up and down' }],
    }),
  );
  return record;
}

function crowdedSettled() {
  const record = crowded();
  record.done('artist', settle(pair, null, 'up in the first half, down in the second'));
  return record;
}

/** The mix gate was closed, a master was posted, and the mix gate is open again. */
function reopenedAfterMaster() {
  const record = storyAt(14);
  record.done('masterer', post(song, 'master', 'master-1'));
  record.done('label', reopen('the wrong word in verse 2', 8000 + storyTerms.newMixSurchargeMinorUnits));
  return record;
}

const lines: Broken[] = [
  {
    words: 'a stranger writes on a song that is not there',
    given: at(2),
    by: 'stranger',
    command: note('other', 'mix-1', [wish('a', 'mix')]),
    breaks: ['not_on_record', 'song_unknown'],
  },
  {
    words: 'the artist posts on a song that is not there',
    given: at(2),
    by: 'artist',
    command: post('other', 'mix', 'mix-2'),
    breaks: ['song_unknown', 'not_entitled'],
  },
  {
    words: 'an empty note on a version that is not there',
    given: at(2),
    by: 'artist',
    command: note(song, 'mix-9', [], { text: ' ' }),
    breaks: ['version_unknown', 'malformed'],
  },
  {
    words: 'a signature on a version that is not there, by nobody who signs',
    given: at(2),
    by: 'drummer',
    command: wrongFile('mix', 'mix-9'),
    breaks: ['version_unknown', 'not_a_signer', 'wrong_file'],
  },
  {
    words: 'an empty reply to a note that is not there',
    given: at(2),
    by: 'artist',
    command: { type: 'replyToNote', song, noteId: 'other', text: '' },
    breaks: ['note_unknown', 'malformed'],
  },
  {
    words: 'the drummer settles what was not found to contradict, without a reason',
    given: at(3),
    by: 'drummer',
    command: settle(['vocal-up', 'loudness'], 'bridge', ''),
    breaks: ['request_unknown', 'not_entitled', 'malformed', 'reason_missing'],
  },
  {
    words: 'an empty note that contradicts a request that is not there',
    given: at(3),
    by: 'artist',
    command: note(song, 'mix-1', [wish('x', 'mix')], {
      text: '',
      contradictions: [{ requestId: 'x', otherRequestId: 'other', why: 'why' }],
    }),
    breaks: ['request_unknown', 'malformed'],
  },
  {
    words: 'the drummer removes somebody who is not there',
    given: at(0),
    by: 'drummer',
    command: { type: 'removePerson', personId: 'nobody' },
    breaks: ['person_unknown', 'not_entitled'],
  },
  {
    words: 'the drummer drafts a contract that names a stranger, over an agreed one',
    given: at(0),
    by: 'drummer',
    command: { type: 'draftContract', terms: { ...badTerms, payer: 'nobody' } },
    breaks: ['person_unknown', 'not_entitled', 'malformed', 'contract_agreed'],
  },
  {
    words: 'the drummer removes the payer',
    given: at(0),
    by: 'drummer',
    command: { type: 'removePerson', personId: 'label' },
    breaks: ['not_entitled', 'person_in_contract'],
  },
  {
    words: 'the drummer sends at a closed gate',
    given: at(15),
    by: 'drummer',
    command: send(),
    breaks: ['not_entitled', 'gate_closed'],
  },
  {
    words: 'the artist prices a lock break that is not there, at no hours, in no words',
    given: at(5),
    by: 'artist',
    command: price(9, 0, ''),
    breaks: ['not_entitled', 'lock_break_unknown', 'malformed', 'reason_missing'],
  },
  {
    words: 'the drummer reopens an open gate, without a reason',
    given: at(2),
    by: 'drummer',
    command: reopen('', null),
    breaks: ['not_entitled', 'gate_open', 'reason_missing'],
  },
  {
    words: 'the drummer withdraws the artist’s note, which was sent',
    given: at(5),
    by: 'drummer',
    command: withdraw('vocal-up-note'),
    breaks: ['not_your_note', 'request_sent'],
  },
  {
    words: 'the engineer quotes a round that is not there, at no hours',
    given: at(11),
    by: 'mixer',
    command: { type: 'quoteRound', song, gate: 'mix', number: 9, hours: 0 },
    breaks: ['round_unknown', 'malformed'],
  },
  {
    words: 'the engineer quotes no hours for a round that does not wait',
    given: at(10),
    by: 'mixer',
    command: { type: 'quoteRound', song, gate: 'mix', number: 1, hours: 0 },
    breaks: ['malformed', 'not_pending'],
  },
  {
    words: 'a round is sent at a gate that has no version, under a draft',
    given: songWithDraft,
    by: 'artist',
    command: send(),
    breaks: ['round_unknown', 'contract_not_agreed'],
  },
  {
    words: 'the producer prices a lock break that is not there, at no hours',
    given: at(5),
    by: 'producer',
    command: price(9, 0, ''),
    breaks: ['lock_break_unknown', 'malformed', 'reason_missing'],
  },
  {
    words: 'an empty note under the id of another one',
    given: at(3),
    by: 'artist',
    command: note(song, 'mix-1', [wish('vocal-up', 'mix')], { text: ' ' }),
    breaks: ['malformed', 'already_exists'],
  },
  {
    words: 'a draft with fewer rounds than none, over an agreed contract',
    given: at(0),
    by: 'mixer',
    command: { type: 'draftContract', terms: badTerms },
    breaks: ['malformed', 'contract_agreed'],
  },
  {
    words: 'an amendment of a contract that there is none of, in bad terms',
    given: opened,
    by: 'mixer',
    command: amend('', badTerms),
    breaks: ['malformed', 'contract_missing', 'reason_missing'],
  },
  {
    words: 'no hours for a change order that is decided',
    given: at(7),
    by: 'producer',
    command: price(1, 0, ''),
    breaks: ['malformed', 'change_already_decided', 'reason_missing'],
  },
  {
    words: 'sections that end before they start, made from an old list',
    given: at(2),
    by: 'mixer',
    command: sections(20, 10, 7),
    breaks: ['malformed', 'sections_changed_meanwhile'],
  },
  {
    words: 'days for notes that lie in the past, without a reason',
    given: at(2),
    by: 'mixer',
    command: { type: 'extendNoteDays', song, gate: 'mix', until: '2020-01-01', reason: '' },
    breaks: ['malformed', 'reason_missing'],
  },
  {
    words: 'another file under the id of a posted version, at a gate that is closed',
    given: at(14),
    by: 'mixer',
    command: { ...post(song, 'mix', 'mix-1'), file: fileOf('another file') },
    breaks: ['already_exists', 'gate_closed'],
  },
  {
    words: 'too many stems, all alike and none as the mix is, in place of others and without a reason',
    given: withStems,
    by: 'mixer',
    command: attach(
      'mix-1',
      Array.from({ length: 65 }, () => ({ ...fileOf('bass'), sampleRateHz: 44_100, durationSeconds: 30 })),
    ),
    breaks: ['stems_too_many', 'stem_repeated', 'stem_rate_differs', 'stem_length_differs', 'reason_missing'],
  },
  {
    words: 'the print itself among its stems, at another rate, without a reason',
    given: withStems,
    by: 'mixer',
    command: attach('mix-1', [{ ...fileOf('mix-1'), sampleRateHz: 44_100 }]),
    breaks: ['stem_repeated', 'stem_rate_differs', 'reason_missing'],
  },
  {
    words: 'a stem of another rate that is shorter than its print, without a reason',
    given: withStems,
    by: 'mixer',
    command: attach('mix-1', [{ ...fileOf('bass'), sampleRateHz: 44_100, durationSeconds: 30 }]),
    breaks: ['stem_rate_differs', 'stem_length_differs', 'reason_missing'],
  },
  {
    words: 'a stem that is shorter than its print, without a reason',
    given: withStems,
    by: 'mixer',
    command: attach('mix-1', [{ ...fileOf('bass'), durationSeconds: 30 }]),
    breaks: ['stem_length_differs', 'reason_missing'],
  },
  {
    words: 'an agreement to no contract, in no words',
    given: opened,
    by: 'mixer',
    command: { type: 'agreeContract', how: '' },
    breaks: ['contract_missing', 'reason_missing'],
  },
  {
    words: 'a draft over an agreed contract',
    given: at(0),
    by: 'mixer',
    command: { type: 'draftContract', terms: storyTerms },
    breaks: ['contract_agreed'],
  },
  {
    words: 'a signature on another file under a draft, by nobody who signs',
    given: songWithDraft,
    by: 'drummer',
    command: wrongFile('production', 'rough-1'),
    breaks: ['contract_not_agreed', 'not_a_signer', 'wrong_file'],
  },
  {
    words: 'the drummer signs another file at a closed gate',
    given: at(14),
    by: 'drummer',
    command: wrongFile('mix', 'mix-4'),
    breaks: ['not_a_signer', 'gate_closed', 'wrong_file'],
  },
  {
    words: 'a second amendment, without a reason',
    given: at(0, ['mixer', amend('one more round')]),
    by: 'label',
    command: amend(''),
    breaks: ['amendment_pending', 'reason_missing'],
  },
  {
    words: 'an amendment that is not there is declined without a reason',
    given: at(0),
    by: 'label',
    command: { type: 'declineAmendment', number: 2, reason: '' },
    breaks: ['no_amendment_pending', 'reason_missing'],
  },
  {
    words: 'the engineer accepts the engineer’s amendment',
    given: at(0, ['mixer', amend('one more round')]),
    by: 'mixer',
    command: { type: 'acceptAmendment', number: 2 },
    breaks: ['own_side'],
  },
  {
    words: 'the owner removes the payer',
    given: at(0),
    by: 'mixer',
    command: { type: 'removePerson', personId: 'label' },
    breaks: ['person_in_contract'],
  },
  {
    words: 'a master is posted before the production is locked',
    given: at(0),
    by: 'masterer',
    command: post(song, 'master', 'master-1'),
    breaks: ['production_not_locked', 'mix_gate_open'],
  },
  {
    words: 'another file than the rough is signed at the locked production',
    given: at(2),
    by: 'artist',
    command: wrongFile('production', 'rough-1'),
    breaks: ['production_locked', 'wrong_file'],
  },
  {
    words: 'another file than the master is signed while the mix gate is open again',
    given: reopenedAfterMaster,
    by: 'artist',
    command: wrongFile('master', 'master-1'),
    breaks: ['mix_gate_open', 'wrong_file'],
  },
  {
    words: 'an empty master round is sent while the mix gate is open again',
    given: reopenedAfterMaster,
    by: 'artist',
    command: { type: 'sendRound', song, gate: 'master', agreedFeeMinorUnits: null },
    breaks: ['mix_gate_open', 'round_empty'],
  },
  {
    words: 'a change order that was not priced is accepted after the mix was signed',
    given: at(15, ['artist', note(song, 'mix-5', [wish('choir', 'production', 'add a choir')])]),
    by: 'label',
    command: { type: 'acceptChange', song, number: 2 },
    breaks: ['gate_closed', 'change_not_priced'],
  },
  {
    words: 'another file is signed at a closed gate',
    given: at(14),
    by: 'artist',
    command: wrongFile('mix', 'mix-4'),
    breaks: ['gate_closed', 'wrong_file'],
  },
  {
    words: 'an open gate is reopened without a reason',
    given: at(2),
    by: 'artist',
    command: reopen('', null),
    breaks: ['gate_open', 'reason_missing'],
  },
  {
    words: 'a gate whose reopening waits is reopened without a reason or a fee',
    given: at(14, ['artist', reopen('the wrong word in verse 2', 8000)]),
    by: 'artist',
    command: reopen('', null),
    breaks: ['reopening_pending', 'reason_missing', 'reopening_beyond_contract'],
  },
  {
    words: 'a reopening that nobody asked for is declined without a reason',
    given: at(14),
    by: 'label',
    command: { type: 'declineReopening', song, gate: 'mix', reason: '' },
    breaks: ['not_pending', 'reason_missing'],
  },
  {
    words: 'another file is signed while the lock is open and the round is not answered',
    given: at(6, ['label', accept]),
    by: 'label',
    command: wrongFile('mix', 'mix-1'),
    breaks: ['wrong_file', 'change_in_progress', 'round_awaits_answer'],
  },
  {
    words: 'the right file is signed while the lock is open and the round is not answered',
    given: at(6, ['label', accept]),
    by: 'label',
    command: sign(song, 'mix', 'mix-1'),
    breaks: ['change_in_progress', 'round_awaits_answer'],
  },
  {
    words: 'Mix v4 is signed while a round waits for the go-ahead',
    given: at(11),
    by: 'label',
    command: sign(song, 'mix', 'mix-4'),
    breaks: ['round_waits_for_go_ahead', 'round_awaits_answer'],
  },
  {
    words: 'a list that was sent, and is empty since, is sent again',
    given: at(5),
    by: 'artist',
    command: send(),
    breaks: ['round_already_sent', 'round_empty'],
  },
  {
    words: 'a request of an open list is answered “not done” without a reason',
    given: at(3),
    by: 'mixer',
    command: { type: 'answerRequest', song, requestId: 'vocal-up', answer: 'not done', text: '' },
    breaks: ['round_not_sent', 'reason_missing'],
  },
  {
    words: 'Mix v1 is signed while its round is not answered',
    given: at(5),
    by: 'label',
    command: sign(song, 'mix', 'mix-1'),
    breaks: ['round_awaits_answer'],
  },
  {
    words: 'a request that was sent is left out without a reason',
    given: at(5),
    by: 'artist',
    command: leaveOut('vocal-up', ''),
    breaks: ['request_sent', 'reason_missing'],
  },
  {
    words: 'a contradiction of a list that was sent is settled again without a reason',
    given: at(5),
    by: 'artist',
    command: settle(pair, 'vocal-down', ''),
    breaks: ['request_sent', 'contradiction_settled', 'reason_missing'],
  },
  {
    words: 'an accepted change is re-sorted to the level that it has, without a reason',
    given: at(6, ['label', accept]),
    by: 'mixer',
    command: resort('shaker', 'production', ''),
    breaks: ['level_unchanged', 'change_already_decided', 'reason_missing'],
  },
  {
    words: 'a request that is on no list is left out without a reason',
    given: at(15),
    by: 'artist',
    command: leaveOut('vocal-down-late', ''),
    breaks: ['request_not_in_round', 'reason_missing'],
  },
  {
    words: 'a contradiction is settled twice, without a reason',
    given: at(3, ['artist', settle(pair, 'vocal-up', 'the words carry chorus 1')]),
    by: 'artist',
    command: settle(pair, 'vocal-down', ''),
    breaks: ['contradiction_settled', 'reason_missing'],
  },
  {
    words: 'a decided change is declined without a reason',
    given: at(7),
    by: 'producer',
    command: { type: 'declineChange', song, number: 1, reason: '' },
    breaks: ['change_already_decided', 'reason_missing'],
  },
  {
    words: 'a change that has no price is refused without a reason',
    given: at(5),
    by: 'label',
    command: { type: 'refuseChange', song, number: 1, reason: '' },
    breaks: ['change_not_priced', 'reason_missing'],
  },
  {
    words: 'sections made from an old list',
    given: at(2),
    by: 'mixer',
    command: sections(0, 10, 7),
    breaks: ['sections_changed_meanwhile'],
  },
  {
    words: 'a gate is reopened without a reason or a fee',
    given: at(14),
    by: 'artist',
    command: reopen(' ', null),
    breaks: ['reason_missing', 'reopening_beyond_contract'],
  },
  {
    words: 'an empty list is sent after the included rounds',
    given: at(10),
    by: 'artist',
    command: send(),
    breaks: ['round_empty'],
  },
  {
    words: 'too many points, two of which contradict, beyond the contract',
    given: crowded,
    by: 'artist',
    command: send(),
    breaks: ['contradiction_unsettled', 'points_over_cap', 'round_beyond_contract'],
  },
  {
    words: 'too many points, beyond the contract',
    given: crowdedSettled,
    by: 'artist',
    command: send(),
    breaks: ['points_over_cap', 'round_beyond_contract'],
  },
  {
    words: 'two wishes after the included rounds, with another fee in mind',
    given: at(10, ['artist', note(song, 'mix-4', [wish('reverb', 'mix'), wish('guitar', 'mix')])]),
    by: 'artist',
    command: send(4000),
    breaks: ['round_beyond_contract'],
  },
  {
    words: 'a gate is reopened with another fee in mind',
    given: at(14),
    by: 'artist',
    command: reopen('the wrong word in verse 2', 1),
    breaks: ['reopening_beyond_contract'],
  },
];

const place = (code: RefusalCode) => refusalCodes.indexOf(code);

describe('refusals', () => {
  for (const { words, given, by, command, breaks } of lines)
    it(`${breaks[0]}: ${words}`, () => {
      const decision = given().decide(by, command);
      const [first] = [...breaks].sort((a, b) => place(a) - place(b));
      expect(breaks[0]).toBe(first);
      expect(decision).toMatchObject({ ok: false, refusal: { code: first } });
    });

  it('every code is reached, and no other', () => {
    const reached = new Set(lines.map(({ breaks }) => breaks[0]));
    expect(refusalCodes.filter((code) => !reached.has(code))).toEqual([]);
    expect(new Set(refusalCodes).size).toBe(refusalCodes.length);
  });

  it('every refusal says in a sentence or two what stands in the way', () => {
    for (const { given, by, command } of lines) {
      const decision = given().decide(by, command);
      if (decision.ok) throw new Error(`${command.type} is not refused.`);
      expect(decision.refusal.message).toMatch(/^[A-Z0-9“][^\n]{10,}\.$/u);
    }
  });

  it('a fee or the pairs in question come with the refusal', () => {
    const fee = at(14)().decide('artist', reopen('the wrong word in verse 2', null));
    expect(fee).toMatchObject({ refusal: { feeMinorUnits: 8000 } });
    const contradiction = at(3)().decide('artist', send());
    expect(contradiction).toMatchObject({ refusal: { requestIds: [pair] } });
  });
});
