import { describe, expect, it } from 'vitest';
import { entitlements } from '../../server/application/entitlements.ts';
import type { Command, CommandType } from '../../server/domain/command.ts';
import { fileOf, note, post, type RecordUnderTest, sign, wish } from '../domain/record-under-test.ts';
import { mixUnder, storyAt, storyPersons, storySong, storyTerms } from '../domain/worked-story.ts';

/**
 * Proves that the commands which a page offers its reader are those that the rules let that reader give: for each
 * person and each command, in a state where it is otherwise allowed, both say the same.
 */
const song = storySong;
const reason = 'so it was agreed';
const at = (step: number, ...then: [by: string, command: Command][]): (() => RecordUnderTest) => {
  return () => {
    const record = storyAt(step);
    for (const [by, command] of then) record.done(by, command);
    return record;
  };
};
const reopen: Command = { type: 'reopenGate', song, gate: 'mix', reason, agreedFeeMinorUnits: 8000 };
const amend: Command = { type: 'proposeAmendment', terms: storyTerms, reason };
const alike: Command = note(song, 'mix-1', [wish('voice-up', 'mix', 'the voice louder')]);
const price: Command = { type: 'priceChange', song, number: 1, hours: 1.5, words: 'a shaker' };
const person = { id: 'new', name: 'Uma', roles: ['artist' as const], owner: false };

const explain = (olderVersionId: string, newerVersionId: string): Command => ({
  type: 'explainChange',
  song,
  olderVersionId,
  newerVersionId,
  place: { startSeconds: 10, endSeconds: 20 },
  text: reason,
});

const attach = (versionId: string): Command => ({
  type: 'attachStems',
  song,
  versionId,
  stems: [{ name: 'bass', role: 'part', file: fileOf('bass') }],
  reason: '',
});

/** A round by the hour that waits for its quote. */
function waitingByTheHour() {
  const record = mixUnder({
    includedMixRounds: 0,
    roundFee: { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 1 },
  });
  record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
  record.done('artist', { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: 7000 });
  return record;
}

type Line = [given: () => RecordUnderTest, ...commands: Command[]];

/** For each command a state that allows it; more than one command where the place decides who may. */
const lines: Record<Exclude<CommandType, 'openRecord'>, Line> = {
  renameRecord: [at(0), { type: 'renameRecord', title: 'T', act: 'A' }],
  addPerson: [at(0), { type: 'addPerson', person }],
  changePerson: [at(0), { type: 'changePerson', person: { ...person, id: 'drummer' } }],
  removePerson: [at(0), { type: 'removePerson', personId: 'drummer' }],
  issueLink: [at(0), { type: 'issueLink', personId: 'drummer', linkId: 'l' }],
  revokeLink: [
    at(0, ['mixer', { type: 'issueLink', personId: 'drummer', linkId: 'l' }]),
    { type: 'revokeLink', personId: 'drummer', linkId: 'l' },
  ],
  draftContract: [at(0), { type: 'draftContract', terms: storyTerms }],
  agreeContract: [at(0), { type: 'agreeContract', how: reason }],
  proposeAmendment: [at(0), amend],
  acceptAmendment: [at(0), { type: 'acceptAmendment', number: 2 }],
  declineAmendment: [at(0, ['mixer', amend]), { type: 'declineAmendment', number: 2, reason }],
  addSong: [at(0), { type: 'addSong', song: 'tide', title: 'Tide' }],
  renameSong: [at(0), { type: 'renameSong', song, title: 'Tide' }],
  nameSections: [
    at(2),
    {
      type: 'nameSections',
      song,
      sections: [],
      tempoBpm: null,
      beatsPerBar: null,
      firstBarSeconds: 0,
      basedOnRevision: 0,
    },
  ],
  nameParts: [at(2), { type: 'nameParts', song, parts: [{ name: 'vocal', delivered: true }] }],
  answerPartQuestion: [at(2), { type: 'answerPartQuestion', song, part: 'tambourine', delivered: false }],
  postVersion: [
    at(0),
    post(song, 'production', 'rough-1'),
    post(song, 'mix', 'mix-1'),
    post(song, 'master', 'master-1'),
  ],
  explainChange: [
    at(14, ['masterer', post(song, 'master', 'master-1')]),
    explain('rough-1', 'rough-2'),
    explain('mix-1', 'mix-2'),
    explain('mix-4', 'master-1'),
  ],
  attachStems: [
    at(14, ['masterer', post(song, 'master', 'master-1')]),
    attach('rough-1'),
    attach('mix-1'),
    attach('master-1'),
  ],
  writeNote: [at(2), note(song, 'mix-1', [wish('voice', 'mix')])],
  withdrawNote: [at(3), { type: 'withdrawNote', song, noteId: 'bridge-note' }],
  replyToNote: [at(3), { type: 'replyToNote', song, noteId: 'bridge-note', text: 'so do I' }],
  chooseLevel: [at(3), { type: 'chooseLevel', song, requestId: 'shaker', level: 'mix' }],
  resortRequest: [
    at(5),
    { type: 'resortRequest', song, requestId: 'vocal-up', level: 'none', kind: null, reason },
    { type: 'resortRequest', song, requestId: 'loudness', level: 'none', kind: null, reason },
  ],
  settleContradiction: [
    at(3),
    { type: 'settleContradiction', song, requestIds: ['vocal-up', 'vocal-down'], keep: null, reason },
  ],
  leaveOutRequest: [at(3), { type: 'leaveOutRequest', song, requestId: 'shaker', reason }],
  takeRequestBackIn: [at(3), { type: 'takeRequestBackIn', song, requestId: 'shaker' }],
  mergeRequests: [
    at(3, ['drummer', alike]),
    { type: 'mergeRequests', song, into: 'vocal-up', others: ['voice-up'] },
  ],
  unmergeRequests: [
    at(
      3,
      ['drummer', alike],
      ['artist', { type: 'mergeRequests', song, into: 'vocal-up', others: ['voice-up'] }],
    ),
    { type: 'unmergeRequests', song, into: 'vocal-up' },
  ],
  keepRequestsApart: [
    at(3, ['drummer', alike]),
    { type: 'keepRequestsApart', song, requestIds: ['vocal-up', 'voice-up'] },
  ],
  sendRound: [at(3), { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: null }],
  quoteRound: [waitingByTheHour, { type: 'quoteRound', song, gate: 'mix', number: 1, hours: 2 }],
  giveRoundGoAhead: [at(11), { type: 'giveRoundGoAhead', song, gate: 'mix', number: 4 }],
  declineRound: [at(11), { type: 'declineRound', song, gate: 'mix', number: 4, reason }],
  extendNoteDays: [at(2), { type: 'extendNoteDays', song, gate: 'mix', until: '2027-01-01', reason }],
  answerRequest: [
    at(5),
    { type: 'answerRequest', song, requestId: 'vocal-up', answer: 'done', text: '' },
    { type: 'answerRequest', song, requestId: 'shaker', answer: 'done', text: '' },
    { type: 'answerRequest', song, requestId: 'loudness', answer: 'done', text: '' },
  ],
  markOwnMistake: [
    at(
      14,
      ['masterer', post(song, 'master', 'master-1')],
      ['artist', note(song, 'master-1', [wish('gap', 'mastering')])],
    ),
    { type: 'markOwnMistake', song, requestId: 'vocal-up', reason },
    { type: 'markOwnMistake', song, requestId: 'gap', reason },
  ],
  declineChange: [at(5), { type: 'declineChange', song, number: 1, reason }],
  priceChange: [at(5), price],
  acceptChange: [at(6), { type: 'acceptChange', song, number: 1 }],
  refuseChange: [at(6), { type: 'refuseChange', song, number: 1, reason }],
  signOff: [at(2), sign(song, 'mix', 'mix-1')],
  withdrawSignature: [at(13), { type: 'withdrawSignature', song, gate: 'mix', reason }],
  reopenGate: [at(14), reopen],
  giveReopeningGoAhead: [at(14, ['artist', reopen]), { type: 'giveReopeningGoAhead', song, gate: 'mix' }],
  declineReopening: [at(14, ['artist', reopen]), { type: 'declineReopening', song, gate: 'mix', reason }],
};

const entitling = new Set(['not_entitled', 'not_a_signer', 'not_your_note']);

/** Commands about one's own: everybody is offered them, and the rules look whose it is. */
const ofOnesOwn: ReadonlySet<string> = new Set(['withdrawNote', 'chooseLevel']);
/** Whoever has no signature withdraws nothing, which needs no refusal. */
const harmless: ReadonlySet<string> = new Set(['withdrawSignature']);

describe('entitlements', () => {
  for (const [type, [given, ...commands]] of Object.entries(lines) as [CommandType, Line][])
    it(`${type}: the page offers it to those whom the rules let`, () => {
      const record = given();
      const let_ = storyPersons
        .filter(({ id }) =>
          commands.some((command) => {
            const decision = record.decide(id, command);
            return decision.ok || !entitling.has(decision.refusal.code);
          }),
        )
        .map(({ id }) => id);
      const offered = storyPersons
        .filter((each) => entitlements(record.record, each).includes(type))
        .map(({ id }) => id);
      if (ofOnesOwn.has(type)) {
        expect(offered).toEqual(storyPersons.map(({ id }) => id));
        expect(let_).toEqual(['artist']);
      } else if (harmless.has(type)) {
        expect(offered).toEqual(['artist', 'label']);
        const written = storyPersons.filter(({ id }) => {
          const decision = commands[0] && record.decide(id, commands[0]);
          return decision?.ok && decision.facts.length > 0;
        });
        expect(written.map(({ id }) => id)).toEqual(offered);
      } else expect(offered).toEqual(let_);
    });

  it('name no command twice', () => {
    for (const each of storyPersons) {
      const may = entitlements(storyAt(2).record, each);
      expect(new Set(may).size).toBe(may.length);
    }
  });
});
