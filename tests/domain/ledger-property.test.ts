import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Command } from '../../server/domain/command.ts';
import { fold } from '../../server/domain/evolve.ts';
import { verifyChain } from '../../server/domain/ledger-chain.ts';
import type { Level } from '../../server/domain/request-kind.ts';
import { attempts, commandOf, contracts, starts, startUnder } from './history.ts';
import { giveAndCheck } from './ledger-invariants.ts';
import { note, post, type RecordUnderTest, sign, wish } from './record-under-test.ts';
import { mixUnder, storySong } from './worked-story.ts';

/**
 * Proves what must hold of every ledger, whatever people do: replay equals state, a refused command appends nothing,
 * sending again is harmless, sequences have no gaps, no round counts that was not sent, the money agreed is what the
 * entries say, and a gate is closed on a posted file that every signer signed. Every short sequence of a small alphabet
 * is walked; longer ones are made at random and held against a smaller model that reads the entries alone.
 */
const song = storySong;
type Given = [by: string, command: Command];

const send = (agreedFeeMinorUnits: number | null): Command => ({
  type: 'sendRound',
  song,
  gate: 'mix',
  agreedFeeMinorUnits,
});
const resort = (requestId: string, level: Level): Command => ({
  type: 'resortRequest',
  song,
  requestId,
  level,
  kind: null,
  reason: 'heard again',
});

describe('every short sequence of commands', () => {
  const alphabet: Given[] = [
    ['artist', note(song, 'mix-1', [wish('a', 'mix'), wish('b', 'production')])],
    ['artist', { type: 'withdrawNote', song, noteId: 'a-note' }],
    [
      'drummer',
      note(song, 'mix-1', [wish('c', 'mix')], {
        contradictions: [{ requestId: 'c', otherRequestId: 'a', why: 'up and down' }],
      }),
    ],
    ['artist', { type: 'settleContradiction', song, requestIds: ['a', 'c'], keep: 'a', reason: 'up' }],
    ['artist', { type: 'takeRequestBackIn', song, requestId: 'c' }],
    ['artist', { type: 'mergeRequests', song, into: 'a', others: ['c'] }],
    ['artist', { type: 'unmergeRequests', song, into: 'a' }],
    ['artist', send(null)],
    ['artist', send(8000)],
    ['label', { type: 'giveRoundGoAhead', song, gate: 'mix', number: 1 }],
    ['label', { type: 'declineRound', song, gate: 'mix', number: 1, reason: 'too dear' }],
    ['mixer', post(song, 'mix', 'mix-2')],
    ['mixer', { type: 'markOwnMistake', song, requestId: 'a', reason: 'forgotten here' }],
    ['mixer', resort('a', 'production')],
    ['mixer', resort('b', 'mix')],
    [
      'mixer',
      { type: 'answerRequest', song, requestId: 'a', answer: 'not done', text: 'it masks the guitar' },
    ],
    ['producer', { type: 'priceChange', song, number: 1, hours: 1, words: 'recorded' }],
    ['label', { type: 'acceptChange', song, number: 1 }],
    ['producer', post(song, 'production', 'rough-2', [1])],
    ['artist', sign(song, 'mix', 'mix-1')],
    ['label', sign(song, 'mix', 'mix-1')],
    ['label', { type: 'reopenGate', song, gate: 'mix', reason: 'a word', agreedFeeMinorUnits: 8000 }],
  ];

  const beginnings: [words: string, start: () => RecordUnderTest][] = [
    ['from Mix v1 with no included round', () => mixUnder({ includedMixRounds: 0 })],
    [
      'from a list with a mix and a production wish that was sent',
      () => {
        const record = mixUnder({ includedMixRounds: 0 });
        for (const [by, command] of [alphabet[0], alphabet[8]] as Given[]) record.done(by, command);
        return record;
      },
    ],
  ];

  for (const [words, start] of beginnings)
    it(`up to three long, ${words}`, () => {
      let walked = 0;
      const walk = (record: RecordUnderTest, depth: number): void => {
        for (const [by, command] of alphabet) {
          const next = record.fork();
          const { ok } = giveAndCheck(next, by, command);
          walked += 1;
          // What was refused left everything as it was, so the sequences behind it are those of one step less.
          if (ok && depth > 1 && next.entries.length > record.entries.length) walk(next, depth - 1);
        }
      };
      walk(start(), 3);
      expect(walked).toBeGreaterThan(alphabet.length ** 2);
    });
});

describe('every ledger', () => {
  it('of a long random history holds what the smaller model reads off its entries', () => {
    const met = new Map<string, number>();
    fc.assert(
      fc.property(contracts, attempts, starts, (terms, tried, step) => {
        const record = startUnder(terms, step);
        for (const [index, attempt] of tried.entries()) {
          const [by, command] = commandOf(record, attempt, index);
          const decision = giveAndCheck(record, by, command);
          const outcome = decision.ok ? (decision.facts.length ? 'done' : 'nothing') : 'refused';
          met.set(`${command.type} ${outcome}`, (met.get(`${command.type} ${outcome}`) ?? 0) + 1);
        }
        expect(fold(record.entries)).toEqual(record.state);
        expect(fold(JSON.parse(JSON.stringify(record.entries)))).toEqual(record.state);
        expect(verifyChain(record.entries)).toMatchObject({ whole: true, entries: record.entries.length });
      }),
      { numRuns: 120, seed: 20_260_108 },
    );
    // The histories are worth the name: each of these was carried out somewhere among them.
    const carriedOut = [...met.keys()].filter((key) => key.endsWith(' done'));
    const missing = [
      'sendRound',
      'giveRoundGoAhead',
      'declineRound',
      'quoteRound',
      'priceChange',
      'acceptChange',
      'refuseChange',
      'declineChange',
      'signOff',
      'withdrawSignature',
      'reopenGate',
      'giveReopeningGoAhead',
      'declineReopening',
      'resortRequest',
      'markOwnMistake',
      'answerRequest',
      'settleContradiction',
      'leaveOutRequest',
      'takeRequestBackIn',
      'chooseLevel',
      'withdrawNote',
      'acceptAmendment',
      'declineAmendment',
      'extendNoteDays',
      'explainChange',
      'attachStems',
      'mergeRequests',
      'unmergeRequests',
      'keepRequestsApart',
      'answerPartQuestion',
    ].filter((type) => !carriedOut.includes(`${type} done`));
    expect(missing).toEqual([]);
  });
});
