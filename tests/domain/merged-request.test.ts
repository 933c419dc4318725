import { describe, expect, it } from 'vitest';
import { agreements } from '../../server/application/agreement.ts';
import type { Command } from '../../server/domain/command.ts';
import { countingRequests, standingRequests, unsettledContradictions } from '../../server/domain/record.ts';
import { note, type RecordUnderTest, wish } from './record-under-test.ts';
import { mixUnder, storySong } from './worked-story.ts';

/**
 * Proves that the same wish of several people is seen, that only the spokesperson makes one request of it and only until
 * the list is sent, that it then counts once, that its answer and everything else that becomes of it is all its authors',
 * and that nobody's words get lost by it.
 */
const song = storySong;
const chorus = { startSeconds: 42, endSeconds: 63 };
const verse = { startSeconds: 70, endSeconds: 90 };
const up = (id: string, text: string, range = chorus) =>
  note(song, 'mix-1', [wish(id, 'mix', text, { target: 'lead vocal', direction: 'up', range })]);
const merge = (into: string, ...others: string[]): Command => ({ type: 'mergeRequests', song, into, others });
const apart = (into: string): Command => ({ type: 'unmergeRequests', song, into });
const send: Command = { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: null };

/** Artist, drummer and manager want the voice louder in the chorus. */
function three(terms: Parameters<typeof mixUnder>[0] = {}): RecordUnderTest {
  const record = mixUnder(terms);
  record.done('artist', up('a', 'vocal up in the chorus'));
  record.done('drummer', up('b', 'the voice louder here'));
  record.done('manager', up('c', 'more voice please'));
  return record;
}
const open = (record: RecordUnderTest) => record.song(song).rounds.at(-1)!;
const refusal = (record: RecordUnderTest, by: string, command: Command) => {
  const decision = record.decide(by, command);
  return decision.ok ? null : decision.refusal.code;
};

describe('agreement', () => {
  const found = (record: RecordUnderTest) => agreements(record.song(song), open(record));

  it('is seen where several people wish the same of the same part at places that meet', () => {
    expect(found(three())).toEqual([{ requestIds: ['a', 'b', 'c'], people: 3 }]);
  });

  it('is none where the place, the part, the direction or the level differs, or one person says it twice', () => {
    const others: [by: string, command: Command][] = [
      ['drummer', up('x', 'vocal up', verse)],
      [
        'drummer',
        note(song, 'mix-1', [wish('x', 'mix', 'x', { target: 'snare', direction: 'up', range: chorus })]),
      ],
      [
        'drummer',
        note(song, 'mix-1', [
          wish('x', 'mix', 'x', { target: 'lead vocal', direction: 'down', range: chorus }),
        ]),
      ],
      [
        'drummer',
        note(song, 'mix-1', [
          wish('x', 'production', 'x', {
            target: 'lead vocal',
            kind: 'balance',
            direction: 'up',
            range: chorus,
          }),
        ]),
      ],
      ['artist', up('x', 'vocal up, really')],
    ];
    for (const [by, command] of others) {
      const record = mixUnder({});
      record.done('artist', up('a', 'vocal up in the chorus'));
      record.done(by, command);
      expect([by, found(record)]).toEqual([by, []]);
    }
  });

  it('of wishes for another sound goes by their words too', () => {
    const tone = (by: string, id: string, text: string): [string, Command] => [
      by,
      note(song, 'mix-1', [wish(id, 'mix', text, { kind: 'tone', target: 'snare', direction: 'up' })]),
    ];
    const record = mixUnder({});
    record.done(...tone('artist', 'a', 'the snare brighter'));
    record.done(...tone('drummer', 'b', 'more body in the snare'));
    expect(found(record)).toEqual([]);
    record.done(...tone('manager', 'c', 'snare could be brighter'));
    expect(found(record)).toEqual([{ requestIds: ['a', 'c'], people: 2 }]);
  });
});

describe('an agreement that is none', () => {
  const different = (...requestIds: string[]): Command => ({ type: 'keepRequestsApart', song, requestIds });
  const found = (record: RecordUnderTest) =>
    agreements(record.song(song), open(record)).map(({ requestIds }) => requestIds);

  it('is so by the spokesperson alone, on the record, and is not suggested again', () => {
    const record = three();
    for (const by of ['drummer', 'manager', 'mixer', 'label'])
      expect([by, refusal(record, by, different('a', 'b'))]).toEqual([by, 'not_entitled']);
    expect(record.done('artist', different('a', 'b', 'c'))).toEqual(['requestsKeptApart']);
    expect(record.entries.at(-1)).toMatchObject({
      by: 'artist',
      fact: { type: 'requestsKeptApart', song, requestIds: ['a', 'b', 'c'] },
    });
    expect(found(record)).toEqual([]);
    expect(standingRequests(record.song(song), open(record))).toHaveLength(3);
    for (const again of [different('c', 'b', 'a'), different('b', 'a')])
      expect(record.done('artist', again)).toEqual([]);
  });

  it('says nothing of other requests', () => {
    const record = three();
    record.done('artist', different('a', 'b'));
    expect(found(record)).toEqual([['a', 'c']]);
    record.done('artist', merge('a', 'c'));
    // What stands for “a” and “c” is still another wish than “b”.
    expect(found(record)).toEqual([]);
  });

  it('is taken back by making one request of them', () => {
    const record = three();
    record.done('artist', different('a', 'b', 'c'));
    record.done('artist', merge('b', 'a'));
    expect(record.song(song).keptApart.map(({ requestIds }) => requestIds)).toEqual([
      ['a', 'c'],
      ['b', 'c'],
    ]);
    record.done('artist', apart('b'));
    expect(found(record)).toEqual([['a', 'b']]);
  });

  it('is said of two or more that stand by themselves on one list that is not sent', () => {
    const record = three();
    expect(refusal(record, 'artist', different('a', 'nothing'))).toBe('request_unknown');
    expect(refusal(record, 'artist', different('a', 'a'))).toBe('malformed');
    record.done('artist', merge('a', 'b'));
    expect(refusal(record, 'artist', different('b', 'c'))).toBe('request_not_in_round');
    record.done('artist', send);
    expect(refusal(record, 'artist', different('a', 'c'))).toBe('request_sent');
    record.done('drummer', up('d', 'the voice louder still'));
    expect(refusal(record, 'artist', different('d', 'a'))).toBe('request_sent');
  });
});

describe('requests made one', () => {
  it('are so by the spokesperson alone, and count once', () => {
    const record = three({ pointsCap: 1 });
    for (const by of ['drummer', 'manager', 'mixer', 'label'])
      expect([by, refusal(record, by, merge('a', 'b'))]).toEqual([by, 'not_entitled']);
    expect(refusal(record, 'artist', send)).toBe('points_over_cap');
    expect(record.done('artist', merge('a', 'b', 'c'))).toEqual(['requestsMerged']);
    expect(record.done('artist', merge('a', 'b', 'c'))).toEqual([]);
    expect(standingRequests(record.song(song), open(record)).map(({ id }) => id)).toEqual(['a']);
    expect(countingRequests(record.record, record.song(song), open(record))).toHaveLength(1);
    expect(agreements(record.song(song), open(record))).toEqual([]);
    expect(record.done('artist', send)).toEqual(['roundSent']);
    expect(record.song(song).rounds.at(-1)).toMatchObject({ requestIds: ['a'] });
  });

  it('count where any of their authors is of the client, whoever stands for them', () => {
    const record = mixUnder({});
    record.done('producer', up('p', 'voice up in the chorus'));
    record.done('drummer', up('d', 'the voice louder'));
    record.done('artist', merge('p', 'd'));
    expect(countingRequests(record.record, record.song(song), open(record)).map(({ id }) => id)).toEqual([
      'p',
    ]);
  });

  it('can be taken apart until they are sent', () => {
    const record = three();
    record.done('artist', merge('a', 'b', 'c'));
    expect(record.done('artist', apart('a'))).toEqual(['requestsUnmerged']);
    expect(standingRequests(record.song(song), open(record))).toHaveLength(3);
    record.done('artist', merge('b', 'a'));
    record.done('artist', send);
    expect(refusal(record, 'artist', apart('b'))).toBe('request_sent');
    expect(refusal(record, 'artist', merge('b', 'c'))).toBe('request_sent');
  });

  it('bring along what was made one with them before', () => {
    const record = three();
    record.done('artist', merge('b', 'c'));
    record.done('artist', merge('a', 'b'));
    expect(record.song(song).requests.map(({ id, mergedInto }) => [id, mergedInto])).toEqual([
      ['a', null],
      ['b', 'a'],
      ['c', 'a'],
    ]);
    expect(refusal(record, 'artist', merge('b', 'a'))).toBe('request_not_in_round');
  });

  it('are of one level, of one list, not left out, and don’t contradict each other', () => {
    const record = three();
    record.done('drummer', note(song, 'mix-1', [wish('new', 'production', 'a shaker')]));
    record.done(
      'drummer',
      note(song, 'mix-1', [wish('down', 'mix', 'voice down')], {
        contradictions: [{ requestId: 'down', otherRequestId: 'a', why: 'up and down' }],
      }),
    );
    expect(refusal(record, 'artist', merge('a', 'new'))).toBe('malformed');
    expect(refusal(record, 'artist', merge('a', 'a'))).toBe('malformed');
    expect(refusal(record, 'artist', merge('a', 'nothing'))).toBe('request_unknown');
    expect(refusal(record, 'artist', merge('a', 'down'))).toBe('contradiction_unsettled');
    record.done('artist', { type: 'leaveOutRequest', song, requestId: 'b', reason: 'said already' });
    expect(refusal(record, 'artist', merge('a', 'b'))).toBe('request_not_in_round');
  });

  it('come apart where an author takes back or changes what they wrote', () => {
    const record = three();
    record.done('artist', merge('a', 'b', 'c'));
    expect(record.done('artist', { type: 'withdrawNote', song, noteId: 'a-note' })).toEqual([
      'requestsUnmerged',
      'noteWithdrawn',
    ]);
    expect(standingRequests(record.song(song), open(record)).map(({ id }) => id)).toEqual(['b', 'c']);
    record.done('artist', merge('b', 'c'));
    expect(record.done('manager', { type: 'chooseLevel', song, requestId: 'c', level: 'none' })).toEqual([
      'requestsUnmerged',
      'levelChosen',
    ]);
  });

  it('stand for all their authors in a contradiction', () => {
    const record = three();
    record.done('artist', merge('a', 'b', 'c'));
    record.done(
      'drummer',
      note(song, 'mix-1', [wish('down', 'mix', 'voice down')], {
        contradictions: [{ requestId: 'down', otherRequestId: 'c', why: 'up and down' }],
      }),
    );
    expect(unsettledContradictions(record.song(song), open(record)).map((each) => each.requestIds)).toEqual([
      ['a', 'down'],
    ]);
    record.done('artist', {
      type: 'settleContradiction',
      song,
      requestIds: ['a', 'down'],
      keep: 'down',
      reason: 'it masks the guitar',
    });
    expect(standingRequests(record.song(song), open(record)).map(({ id }) => id)).toEqual(['down']);
  });

  it('are answered and re-sorted as the one that stands for them', () => {
    const record = three();
    record.done('artist', merge('a', 'b', 'c'));
    record.done('artist', send);
    const answer = (requestId: string): Command => ({
      type: 'answerRequest',
      song,
      requestId,
      answer: 'done',
      text: '',
    });
    expect(refusal(record, 'mixer', answer('b'))).toBe('request_not_in_round');
    expect(record.done('mixer', answer('a'))).toEqual(['requestAnswered']);
  });
});
