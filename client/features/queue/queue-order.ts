import type { NoteView, Range, RequestView, RoundView, Section, SongSheet } from '../../api/types.ts';
import { asSentence } from '../../elements/count-words.ts';

/** One request with the note that it stands in and its place in the song. */
export interface QueueItem {
  request: RequestView;
  note: NoteView;
  /** `null` where it is about the whole song. */
  range: Range | null;
  startSeconds: number | null;
  section: Section | null;
}

/** Items under one heading. */
export interface QueueGroup {
  key: string;
  heading: string;
  section: Section | null;
  items: QueueItem[];
}

export const queueOrders = ['song', 'part', 'person'] as const;
export type QueueOrder = (typeof queueOrders)[number];

/** The round's key in an address: `mix-2`. */
export const roundKey = (round: Pick<RoundView, 'gate' | 'number'>) => `${round.gate}-${round.number}`;

/**
 * The round that the queue opens with: the one that waits for its answer; else the list that is being gathered, if
 * anything is on it; else the one answered last, so that what changed stands beside what was asked.
 */
export function shownRound(rounds: readonly RoundView[], asked: string | null): RoundView | null {
  const chosen = rounds.find((round) => roundKey(round) === asked);
  if (chosen) return chosen;
  const gate = rounds.some((round) => round.gate === 'master') ? 'master' : 'mix';
  const here = rounds.filter((round) => round.gate === gate);
  return (
    here.find((round) => round.status === 'sent') ??
    here.find((round) => round.status === 'open' && round.requestIds.length > 0) ??
    here.findLast((round) => round.status === 'answered') ??
    here.at(-1) ??
    null
  );
}

/** The words say where, and the pin says it closer: where it lies inside what the words name, it is the spot. */
function spotOf(pinned: Range | null, worded: Range | null): Range | null {
  if (!pinned || !worded || worded.endSeconds === null) return worded ?? pinned;
  const end = pinned.endSeconds ?? pinned.startSeconds;
  return pinned.startSeconds >= worded.startSeconds && end <= worded.endSeconds ? pinned : worded;
}

function itemOf(sheet: SongSheet, note: NoteView, request: RequestView): QueueItem {
  const range = spotOf(note.range, request.range);
  const startSeconds = range?.startSeconds ?? null;
  const { sections } = sheet.song.sectionMap;
  const section =
    startSeconds === null
      ? null
      : (sections.find((each) => startSeconds >= each.startSeconds && startSeconds < each.endSeconds) ??
        null);
  return { request, note, range, startSeconds, section };
}

/** All requests of a song as items, in the order in which they were written; those made one stand as one. */
export function queueItems(sheet: SongSheet): QueueItem[] {
  return sheet.notes.flatMap((note) =>
    note.requests.filter((request) => !request.mergedInto).map((request) => itemOf(sheet, note, request)),
  );
}

const place = (item: QueueItem) => item.startSeconds ?? -1;
const bySong = (a: QueueItem, b: QueueItem) => place(a) - place(b) || a.note.at.localeCompare(b.note.at);

const wholeSong = 'Whole song';
const noPart = 'No part named';

function headingOf(item: QueueItem, order: QueueOrder): string {
  if (order === 'person') return item.request.author.name;
  if (order === 'part') return item.request.target ? asSentence(item.request.target) : noPart;
  if (item.startSeconds === null) return wholeSong;
  return item.section?.name ?? 'Outside the sections';
}

/** Items in an order that suits mixing: in song order under their sections, by part, or by person. */
export function grouped(items: readonly QueueItem[], order: QueueOrder): QueueGroup[] {
  const groups = new Map<string, QueueGroup>();
  for (const item of [...items].sort(bySong)) {
    const heading = headingOf(item, order);
    const key = order === 'song' && item.section ? item.section.id : heading;
    const known = groups.get(key);
    if (known) known.items.push(item);
    else groups.set(key, { key, heading, section: order === 'song' ? item.section : null, items: [item] });
  }
  const found = [...groups.values()];
  if (order === 'song') return found;
  return found.sort(
    (a, b) =>
      Number(a.heading === noPart) - Number(b.heading === noPart) || a.heading.localeCompare(b.heading),
  );
}

/** What stands on the queue of one round, and what stands outside it. */
export interface QueueLists {
  /** Requests of the gate's own work. */
  work: QueueItem[];
  /** Praise, questions and talk on the same list. */
  talk: QueueItem[];
  /** At the lock: flagged, priced, accepted. */
  atLock: QueueItem[];
  parked: QueueItem[];
  /** Written since the round was sent; they wait for the next one. */
  unsent: QueueItem[];
  afterApproval: QueueItem[];
}

/** Whether a later round of the gate has something on it: what belongs to that one is no matter of this one. */
function isPast(sheet: SongSheet, round: RoundView | null): boolean {
  return sheet.rounds.some(
    (later) =>
      round !== null &&
      later.gate === round.gate &&
      later.number > round.number &&
      (later.status !== 'open' || later.requestIds.length > 0),
  );
}

/** Sorts a song's requests into the lists of a round's queue. */
export function queueLists(sheet: SongSheet, round: RoundView | null): QueueLists {
  const items = queueItems(sheet);
  const ids = new Set(round?.requestIds);
  const onList = items.filter((item) => ids.has(item.request.id));
  const inView = isPast(sheet, round) ? onList : items;
  const atLock = inView.filter(
    ({ request }) => request.lockBreak !== null && request.lockBreakStatus !== 'withdrawn',
  );
  const away = (item: QueueItem) => item.request.parked || atLock.includes(item);
  return {
    work: onList.filter((item) => item.request.level !== 'none' && !away(item)),
    talk: onList.filter((item) => item.request.level === 'none'),
    atLock,
    parked: inView.filter(({ request }) => request.parked),
    unsent: inView.filter(
      (item) =>
        !item.note.sent &&
        !item.request.leftOut &&
        (item.request.level !== 'none' || item.request.kind === 'question') &&
        !ids.has(item.request.id) &&
        !away(item),
    ),
    afterApproval: inView.filter((item) => item.note.afterApproval && !away(item)),
  };
}
