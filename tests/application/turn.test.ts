import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { turnOf } from '../../server/application/turn.ts';
import { currentGate } from '../../server/domain/record.ts';
import { attempts, commandOf, contracts, starts, startUnder } from '../domain/history.ts';
import { note, post, type RecordUnderTest, sign, wish } from '../domain/record-under-test.ts';
import { turnCommand, turns } from '../domain/turn-taker.ts';
import { mixUnder, storyAt, storyPersons, storySong } from '../domain/worked-story.ts';

/**
 * Proves that every reader of a song is told in one sentence whose turn it is and what the next step is, that whoever
 * has a turn can take it, and that a song whose people take their turns reaches its last gate from wherever it stands.
 */
const song = storySong;
const said = (record: RecordUnderTest, id: string) => {
  const person = record.record.people[id];
  if (!person) throw new Error(`${id} is not on the record.`);
  const { step, sentence, mine } = turnOf(record.record, record.song(song), person);
  return `${mine ? 'mine' : 'theirs'}, ${step}: ${sentence}`;
};

describe('the turn through the worked story', () => {
  const lines: [step: number, reader: string, words: string][] = [
    [
      0,
      'producer',
      "mine, post production: You post the rough, the production's quick balance, for approval.",
    ],
    [
      0,
      'artist',
      "theirs, post production: Nell posts the rough, the production's quick balance, for approval.",
    ],
    [1, 'mixer', 'mine, post mix: The production is locked: you post Mix v1.'],
    [1, 'label', 'theirs, post mix: The production is locked: Ivo posts Mix v1.'],
    [2, 'artist', 'mine, sign: Mix v1 is up: Ruth and you listen, then write notes or sign it.'],
    [2, 'drummer', 'theirs, sign: Mix v1 is up: Mara and Ruth listen, then write notes or sign it.'],
    [
      3,
      'artist',
      'mine, send round: The list holds 4 requests, and two of them contradict each other: you settle that, then send the round.',
    ],
    [
      3,
      'label',
      'theirs, send round: The list holds 4 requests, and two of them contradict each other: Mara settles that, then sends the round.',
    ],
    [5, 'mixer', 'mine, answer round: The round is sent, 1 of 3 requests open: you answer with Mix v2.'],
    [5, 'artist', 'theirs, answer round: The round is sent, 1 of 3 requests open: Ivo answers with Mix v2.'],
    [5, 'producer', 'mine, price change: Lock break 1, “add a shaker in verse 2”: you price or decline it.'],
    [
      6,
      'label',
      'mine, accept change: Change order 1, “add a shaker in verse 2”, is € 90.00: you accept or refuse it.',
    ],
    [
      11,
      'label',
      'mine, go-ahead: This round is beyond the contract, € 80.00: you give the go-ahead or decline.',
    ],
    [
      11,
      'artist',
      'theirs, go-ahead: This round is beyond the contract, € 80.00: Ruth gives the go-ahead or declines.',
    ],
    [
      13,
      'artist',
      'mine, sign: Mix v5 is up, signed by Ruth, while you signed Mix v4: you listen, then write notes or sign it.',
    ],
    [
      13,
      'label',
      'theirs, sign: Mix v5 is up, signed by you, while Mara signed Mix v4: Mara listens, then writes notes or signs it.',
    ],
    [14, 'masterer', 'mine, post master: The mix is signed: you post Master v1.'],
    [15, 'manager', 'theirs, post master: The mix is signed: Odd posts Master v1.'],
  ];
  for (const [step, reader, words] of lines)
    it(`${step}, to the ${reader}`, () => {
      expect(said(storyAt(step), reader)).toBe(words);
    });
});

describe('the turn beside the story', () => {
  it('waits for the contract before anybody signs the rough', () => {
    const record = storyAt(0);
    record.done('producer', post(song, 'production', 'rough-1'));
    expect(said(record, 'artist')).toBe(
      'mine, sign production: Rough v1 is up: Ruth and you listen, then write notes or approve the production by signing it.',
    );
    const { record: state } = record;
    record.state = {
      ...state,
      contract: { status: 'drafted', terms: state.contract?.terms ?? ({} as never) },
    };
    expect(said(record, 'artist')).toBe(
      'theirs, write notes: Rough v1 is up to be heard. It can be signed once both sides have agreed to the contract.',
    );
  });

  it('is the producer’s and then the signers’ while the lock is open, and the engineer’s beside it', () => {
    const record = storyAt(6);
    record.done('label', { type: 'acceptChange', song, number: 1 });
    expect(said(record, 'drummer')).toBe(
      'theirs, deliver production: The production lock is open for change 1: Nell delivers the new production.',
    );
    expect(said(record, 'mixer')).toContain('mine, answer round');
    record.done('producer', post(song, 'production', 'rough-2', [1]));
    record.done('artist', sign(song, 'production', 'rough-2'));
    expect(said(record, 'label')).toBe(
      'mine, sign production: Rough v2 holds change 1: you sign it, which locks the production again.',
    );
  });

  it('says that all is answered, and what is still declined', () => {
    const record = storyAt(11);
    record.done('label', { type: 'declineRound', song, gate: 'mix', number: 4, reason: 'too dear' });
    expect(said(record, 'artist')).toBe(
      'mine, send round: The go-ahead for this round was declined: you change the list and send it again.',
    );
    const answered = storyAt(5);
    answered.done('mixer', { type: 'answerRequest', song, requestId: 'vocal-up', answer: 'done', text: '' });
    expect(said(answered, 'mixer')).toBe(
      'mine, answer round: The round is sent and every request has its answer: you post Mix v2.',
    );
  });

  it('is the engineer’s to quote before it is the payer’s, where the fee is by the hour', () => {
    const record = mixUnder({
      includedMixRounds: 0,
      roundFee: { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 1 },
    });
    record.done('artist', note(song, 'mix-1', [wish('voice', 'mix')]));
    record.done('artist', { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: 7000 });
    expect(said(record, 'label')).toBe(
      'theirs, answer round: This round is beyond the contract and paid by the hour: Ivo quotes the hours, then it waits for the go-ahead.',
    );
    record.done('mixer', { type: 'quoteRound', song, gate: 'mix', number: 1, hours: 1.5 });
    expect(said(record, 'label')).toBe(
      'mine, go-ahead: This round is beyond the contract, € 105.00: you give the go-ahead or decline.',
    );
  });

  it('is the payer’s while a reopening waits', () => {
    const record = storyAt(14);
    record.done('artist', {
      type: 'reopenGate',
      song,
      gate: 'mix',
      reason: 'the wrong word in verse 2',
      agreedFeeMinorUnits: 8000,
    });
    expect(said(record, 'label')).toBe(
      'mine, go-ahead: Reopening the mix gate costs € 80.00 (the wrong word in verse 2): you give the go-ahead or decline.',
    );
  });

  it('is a signature again where an amendment took a signer off after the others had signed', () => {
    const record = storyAt(13);
    const terms = record.record.contract?.terms;
    if (!terms) throw new Error('The story has a contract.');
    record.done('mixer', {
      type: 'proposeAmendment',
      terms: { ...terms, signers: { ...terms.signers, mix: ['label'] } },
      reason: 'the artist is on tour',
    });
    record.done('label', { type: 'acceptAmendment', number: 2 });
    expect(said(record, 'label')).toBe(
      'mine, sign: Mix v5 has every signature that the amended contract asks for: you sign once more to close the gate.',
    );
  });
});

/** What a sentence for people must not show, whoever reads it. */
const unfit =
  /undefined|null|NaN|nobody|somebody|\[object| {2}|\byou [a-z]+s\b(?<!press)|[a-z]: [A-Z](?!ara|eo|uth|vo|ell|dd|ia|aster|ix|ough)/;

describe('turns', () => {
  it('are told in a sentence wherever a random history leads', () => {
    fc.assert(
      fc.property(contracts, attempts, starts, (terms, tried, step) => {
        const record = startUnder(terms, step);
        for (const [index, attempt] of tried.entries()) record.give(...commandOf(record, attempt, index));
        for (const person of storyPersons) {
          const { sentence } = turnOf(record.record, record.song(song), person);
          expect(sentence).toMatch(/^[A-Z].*\.$/);
          expect(sentence).not.toMatch(unfit);
        }
      }),
      { numRuns: 60, seed: 20_260_105 },
    );
  });

  it('can be taken, and lead from wherever a random history stands through the last gate', () => {
    fc.assert(
      fc.property(contracts, attempts, starts, (terms, tried, step) => {
        const record = startUnder(terms, step);
        for (const [index, attempt] of tried.entries()) record.give(...commandOf(record, attempt, index));
        let taken = 0;
        while (currentGate(record.song(song)) !== null) {
          const [first] = turns(record);
          expect(first, 'somebody has a turn').toBeDefined();
          if (!first) return;
          record.done(first.person.id, turnCommand(record, first.person, first.turn, `turn-${taken}`));
          taken += 1;
          expect(taken).toBeLessThan(200);
        }
      }),
      { numRuns: 60, seed: 20_260_106 },
    );
  });
});
