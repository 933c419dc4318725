import { describe, expect, it } from 'vitest';
import type { NoteView, RequestView, RoundView, SongSheet } from '../../client/api/types.ts';
import { grouped, queueItems, queueLists, shownRound } from '../../client/features/queue/queue-order.ts';

const sections = [
  { id: 'a', name: 'Verse 1', startSeconds: 0, endSeconds: 20 },
  { id: 'b', name: 'Chorus 1', startSeconds: 20, endSeconds: 40 },
  { id: 'c', name: 'Chorus 2', startSeconds: 40, endSeconds: 60 },
];

const request = (id: string, part: Partial<RequestView> = {}): RequestView => ({
  id,
  noteId: `note ${id}`,
  text: id,
  kind: 'balance',
  target: null,
  direction: 'up',
  place: null,
  range: null,
  grey: false,
  why: '',
  level: 'mix',
  decisions: [],
  leftOut: null,
  ownMistake: null,
  answer: null,
  parked: false,
  lockBreak: null,
  author: { id: 'ada', name: 'Ada' },
  versionId: 'v1',
  decisionNames: [],
  lockBreakStatus: null,
  ...part,
});

const note = (requests: RequestView[], part: Partial<NoteView> = {}): NoteView => ({
  id: `note ${requests[0]?.id}`,
  versionId: 'v1',
  range: null,
  text: '',
  heardOn: null,
  at: '2026-02-01T10:00:00Z',
  gate: 'mix',
  round: { gate: 'mix', number: 1 },
  afterApproval: false,
  withdrawn: false,
  protections: [],
  by: { id: 'ada', name: 'Ada' },
  mine: false,
  versionName: 'Mix v1',
  sent: true,
  replies: [],
  requests,
  ...part,
});

const sheet = (notes: NoteView[], rounds: RoundView[] = []) =>
  ({ notes, rounds, song: { sectionMap: { sections } } }) as unknown as SongSheet;
const moment = (startSeconds: number) => ({ startSeconds, endSeconds: null });
const round = (number: number, status: RoundView['status'], requestIds: string[]) =>
  ({ gate: 'mix', number, status, requestIds }) as RoundView;

describe('the queue shows the round that matters now', () => {
  it('opens with the sent one, then the one being gathered, then the one answered last', () => {
    const answered = round(1, 'answered', ['x']);
    expect(shownRound([answered, round(2, 'sent', ['y'])], null)?.number).toBe(2);
    expect(shownRound([answered, round(2, 'open', ['y'])], null)?.number).toBe(2);
    expect(shownRound([answered, round(2, 'open', [])], null)?.number).toBe(1);
    expect(shownRound([round(1, 'open', [])], null)?.number).toBe(1);
    expect(shownRound([], null)).toBeNull();
  });

  it('shows the round that the address names', () => {
    expect(shownRound([round(1, 'answered', []), round(2, 'sent', [])], 'mix-1')?.number).toBe(1);
  });
});

describe('the queue stands in an order that suits mixing', () => {
  const notes = [
    note([request('late', { target: 'lead vocal' })], { range: moment(45) }),
    note([request('whole', { author: { id: 'jon', name: 'Jon' } })]),
    note([request('early', { target: 'bass' })], { range: moment(5) }),
    note([request('edge', { target: 'lead vocal' })], { range: moment(20) }),
  ];
  const items = queueItems(sheet(notes));
  const shape = (order: 'song' | 'part' | 'person') =>
    grouped(items, order).map((group) => [group.heading, ...group.items.map((item) => item.request.id)]);

  it('by section and time, what concerns the whole song first; an edge belongs to the section that starts there', () => {
    expect(shape('song')).toEqual([
      ['Whole song', 'whole'],
      ['Verse 1', 'early'],
      ['Chorus 1', 'edge'],
      ['Chorus 2', 'late'],
    ]);
  });

  it('by part, the unnamed last', () => {
    expect(shape('part')).toEqual([
      ['Bass', 'early'],
      ['Lead vocal', 'edge', 'late'],
      ['No part named', 'whole'],
    ]);
  });

  it('by person', () => {
    expect(shape('person')).toEqual([
      ['Ada', 'early', 'edge', 'late'],
      ['Jon', 'whole'],
    ]);
  });
});

describe('what is outside the round stays in sight', () => {
  it('keeps work, talk, lock breaks, parked, unsent and late notes apart, each request in one list', () => {
    const lists = queueLists(
      sheet([
        note([request('work'), request('praise', { level: 'none', kind: 'praise' })]),
        note([request('lock', { level: 'production', lockBreak: 1, lockBreakStatus: 'flagged' })]),
        note([request('resorted', { lockBreak: 2, lockBreakStatus: 'withdrawn' })]),
        note([request('loud', { level: 'mastering', parked: true })]),
        note([request('next')], { sent: false, round: { gate: 'mix', number: 2 } }),
        note([request('after')], { round: null, afterApproval: true }),
      ]),
      round(1, 'sent', ['work', 'praise', 'lock', 'resorted', 'loud']),
    );
    const ids = (name: keyof typeof lists) => lists[name].map((item) => item.request.id);
    expect(ids('work')).toEqual(['work', 'resorted']);
    expect(ids('talk')).toEqual(['praise']);
    expect(ids('atLock')).toEqual(['lock']);
    expect(ids('parked')).toEqual(['loud']);
    expect(ids('unsent')).toEqual(['next']);
    expect(ids('afterApproval')).toEqual(['after']);
  });

  it('leaves out of a past round what came up in a later one', () => {
    const notes = [
      note([request('old', { level: 'mastering', parked: true })]),
      note([request('new', { level: 'mastering', parked: true })], { round: { gate: 'mix', number: 2 } }),
    ];
    const past = round(1, 'answered', ['old']);
    const parked = (rounds: RoundView[]) =>
      queueLists(sheet(notes, rounds), past).parked.map((item) => item.request.id);
    expect(parked([past, round(2, 'sent', ['new'])])).toEqual(['old']);
    expect(parked([past, round(2, 'open', [])])).toEqual(['old', 'new']);
  });

  it('takes the pin where it lies inside what the words name', () => {
    const wide = request('x', { place: 'the chorus', range: { startSeconds: 20, endSeconds: 60 } });
    const [found] = queueItems(sheet([note([wide], { range: { startSeconds: 42, endSeconds: 50 } })]));
    expect(found?.section?.name).toBe('Chorus 2');
  });
});
