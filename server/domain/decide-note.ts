import type { Gate } from './contract.ts';
import type { Fact, WrittenRequest } from './ledger-entry.ts';
import type { Note, Request } from './note.ts';
import type { Role } from './person.ts';
import {
  awaitsVersion,
  isOnOpenList,
  mergedWith,
  productionLock,
  type RecordState,
  roundStandings,
  type Song,
  standingFor,
} from './record.ts';
import {
  lockBreakOf,
  noteOf,
  refuse,
  requestOf,
  requireApart,
  requireReason,
  requireRole,
  songOf,
  versionOf,
} from './refused.ts';
import type { Rules } from './rule.ts';
import type { Version } from './version.ts';

const maximumNoteLength = 20_000;

/** Where a note on a version belongs: its gate, its list, or the time after approval. */
function placeOf(song: Song, version: Version): Pick<Note, 'gate' | 'round' | 'afterApproval'> {
  const locked = song.gates.production.status === 'closed';
  const gate = version.gate === 'production' && locked ? 'mix' : version.gate;
  if (gate === 'production') return { gate, round: null, afterApproval: false };
  if (song.gates[gate].status === 'closed') return { gate, round: null, afterApproval: true };
  const rounds = song.rounds.filter((round) => round.gate === gate);
  const open = rounds.find((round) => round.status === 'open');
  return { gate, round: { gate, number: open?.number ?? rounds.length + 1 }, afterApproval: false };
}

/**
 * A sent list that asks for no version of its gate makes way for the next one as soon as somebody has written for
 * that: nothing would answer it, and the next could never be sent.
 */
function makeWay(record: RecordState, song: Song, gate: Gate): Fact[] {
  if (gate === 'production' || song.gates[gate].status === 'closed') return [];
  const last = roundStandings(record, song, gate).at(-1);
  if (last?.round.status !== 'sent' || last.waitsForGoAhead || awaitsVersion(song, last.round)) return [];
  const { number } = last.round;
  const { counts, beyond } = last;
  return [
    { type: 'roundAnswered', song: song.id, gate, number, versionId: null, counts, beyond },
    { type: 'roundOpened', song: song.id, gate, number: number + 1 },
  ];
}

/** What follows for the lists from a change to a request of a sent one, where notes wait for the next. */
function makeWayAfter(record: RecordState, song: Song, changed: Request, note: Note): Fact[] {
  const newest = song.rounds.filter((round) => round.gate === note.gate).length;
  const waiting = song.notes.some(
    (each) => each.round?.gate === note.gate && each.round.number > newest && !each.withdrawn,
  );
  if (!waiting) return [];
  const requests = song.requests.map((each) => (each.id === changed.id ? changed : each));
  return makeWay(record, { ...song, requests }, note.gate);
}

/**
 * What a request sets off as soon as it is on the record outside an open list: at a locked production a
 * production-level one breaks the lock, and before the master gate a mastering-level one is parked.
 */
export function consequences(
  song: Song,
  requests: readonly (Pick<Request, 'id' | 'level'> &
    Partial<Pick<Request, 'parked' | 'lockBreak' | 'leftOut'>>)[],
  gate: Gate,
): Fact[] {
  let number = song.lockBreaks.length;
  return requests.flatMap((request): Fact[] => {
    if (request.leftOut) return [];
    if (request.level === 'mastering' && gate !== 'master' && !request.parked)
      return [{ type: 'requestParked', song: song.id, requestId: request.id }];
    if (request.level === 'production' && productionLock(song).status !== 'open' && !request.lockBreak) {
      number += 1;
      return [{ type: 'lockBroken', song: song.id, number, requestId: request.id }];
    }
    return [];
  });
}

function checkContradictions(
  song: Song,
  requests: readonly WrittenRequest[],
  contradictions: readonly { requestId: string; otherRequestId: string }[],
): void {
  const own = new Set(requests.map((request) => request.id));
  for (const { requestId, otherRequestId } of contradictions) {
    if (!own.has(requestId)) refuse('request_unknown', 'A contradiction names a request of another note.');
    requestOf(song, otherRequestId);
  }
}

function checkRequests(song: Song, requests: readonly WrittenRequest[]): void {
  const ids = new Set(song.requests.map((request) => request.id));
  for (const request of requests) {
    if (ids.has(request.id)) refuse('already_exists', 'A request of this note is on the record already.');
    ids.add(request.id);
  }
}

const sorters: Record<Gate, (Role | 'owner')[]> = {
  production: ['producer', 'mix engineer'],
  mix: ['mix engineer'],
  master: ['mastering engineer', 'mix engineer'],
};

/** Who answers a request: who can do it, which for a parked wish is the mastering engineer too. */
function answerers(request: Request, gate: Gate): (Role | 'owner')[] {
  if (request.level === 'production') return ['producer', 'mix engineer'];
  return request.level === 'mastering' ? sorters.master : sorters[gate];
}

/** What was sent stays as it is, and so does what a declined list has set off already. */
function requireUnsent(song: Song, note: Note, requests: readonly Request[], instead: string): void {
  if (!isOnOpenList(song, note)) refuse('request_sent', `This stands on the record already. ${instead}`);
  const standing = requests.map((each) => song.requests.find(({ id }) => id === each.mergedInto) ?? each);
  if (standing.some((request) => request.parked || request.lockBreak !== null))
    refuse('request_sent', `This is on the mastering brief or with the producer already. ${instead}`);
}

/** What authors change of their own requests takes apart what was made one of them: it was made of other words. */
function taking(song: Song, requests: readonly Request[]): Fact[] {
  const leads = new Set(requests.map((request) => request.mergedInto ?? request.id));
  return [...leads].flatMap((into): Fact[] =>
    mergedWith(song, into).length ? [{ type: 'requestsUnmerged', song: song.id, into }] : [],
  );
}

type NoteCommand =
  | 'writeNote'
  | 'withdrawNote'
  | 'replyToNote'
  | 'chooseLevel'
  | 'resortRequest'
  | 'answerRequest'
  | 'markOwnMistake';

/** Notes, the requests inside them, their levels and their answers. */
export const decideNote: Rules<NoteCommand> = {
  writeNote: ({ record, person, command }) => {
    const { noteId, versionId, range, text, heardOn, protections, requests, contradictions } = command;
    const song = songOf(record, command.song);
    const version = versionOf(song, versionId);
    const known = song.notes.find((note) => note.id === noteId);
    if (!known) checkContradictions(song, requests, contradictions);
    if (!text.trim()) refuse('malformed', 'The note is empty. Write what you hear, and where.');
    if (text.length > maximumNoteLength)
      refuse(
        'malformed',
        `A note holds up to ${maximumNoteLength.toLocaleString('en')} characters. Yours is kept on this page: split it.`,
      );
    if (
      range &&
      (!(range.startSeconds >= 0) || (range.endSeconds !== null && !(range.endSeconds > range.startSeconds)))
    )
      refuse('malformed', 'The range of the note ends before it starts.');
    if (range && range.startSeconds > version.file.durationSeconds)
      refuse('malformed', `${version.name} is shorter than that: the note points past its end.`);
    if (known)
      return known.text === text && known.by === person.id
        ? []
        : refuse('already_exists', 'Another note is on the record under this id.');
    checkRequests(song, requests);
    const place = placeOf(song, version);
    const written: Fact = {
      type: 'noteWritten',
      song: song.id,
      noteId,
      versionId,
      range,
      text,
      heardOn,
      protections,
      requests,
      ...place,
    };
    const found = contradictions.map(
      ({ requestId, otherRequestId, why }): Fact => ({
        type: 'contradictionFound',
        song: song.id,
        requestIds: [standingFor(song, otherRequestId), requestId],
        why,
      }),
    );
    return [
      ...makeWay(record, song, place.gate),
      written,
      ...found,
      ...(place.round ? [] : consequences(song, requests, place.gate)),
    ];
  },

  withdrawNote: ({ record, person, command: { song: songId, noteId } }) => {
    const song = songOf(record, songId);
    const note = noteOf(song, noteId);
    if (note.by !== person.id) refuse('not_your_note', 'Only its author can withdraw a note.');
    const requests = song.requests.filter((request) => request.noteId === noteId);
    requireUnsent(song, note, requests, 'Write a new note to take it back.');
    return [...taking(song, requests), { type: 'noteWithdrawn', song: song.id, noteId }];
  },

  replyToNote: ({ record, person, command: { song: songId, noteId, text } }) => {
    const song = songOf(record, songId);
    const last = noteOf(song, noteId).replies.at(-1);
    if (!text.trim()) refuse('malformed', 'The reply is empty.');
    if (last?.by === person.id && last.text === text) return [];
    return [{ type: 'noteReplied', song: song.id, noteId, text }];
  },

  chooseLevel: ({ record, person, command: { song: songId, requestId, level } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    if (note.by !== person.id) refuse('not_your_note', 'Only its author can choose the level of a request.');
    requireUnsent(song, note, [request], 'Ask the engineer, who can re-sort the request with a reason.');
    if (request.level === level) return [];
    return [...taking(song, [request]), { type: 'levelChosen', song: song.id, requestId, level }];
  },

  resortRequest: ({ record, person, command }) => {
    const song = songOf(record, command.song);
    const { request, note } = requestOf(song, command.requestId);
    const engineers = request.parked ? sorters.master : sorters[note.gate];
    requireRole(record, person, [...engineers, 'producer'], 'Re-sorting requests');
    const { level, reason } = command;
    const kind = command.kind ?? request.kind;
    if (request.level === level && request.kind === kind)
      refuse('level_unchanged', `The request has the level ${level} already.`);
    requireApart(request);
    const lockBreak = request.lockBreak === null ? null : lockBreakOf(song, request.lockBreak);
    if (lockBreak && (lockBreak.status === 'accepted' || lockBreak.status === 'delivered'))
      refuse('change_already_decided', `Change order ${lockBreak.number} was accepted and is under way.`);
    requireReason(reason, 'Re-sorting');
    const resorted: Fact = {
      type: 'requestResorted',
      song: song.id,
      requestId: request.id,
      level,
      kind,
      reason,
    };
    const leaves: Fact[] = [];
    if (lockBreak && level !== 'production')
      leaves.push({ type: 'lockBreakWithdrawn', song: song.id, number: lockBreak.number });
    if (request.parked && level !== 'mastering')
      leaves.push({ type: 'requestUnparked', song: song.id, requestId: request.id });
    const sets = isOnOpenList(song, note) ? [] : consequences(song, [{ ...request, level }], note.gate);
    return [resorted, ...leaves, ...sets, ...makeWayAfter(record, song, { ...request, level }, note)];
  },

  answerRequest: ({ record, person, at, command: { song: songId, requestId, answer, text } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, answerers(request, note.gate), 'Answering requests');
    if (isOnOpenList(song, note))
      refuse(
        'round_not_sent',
        'The round is not sent yet: the list may still change. Reply to the note instead.',
      );
    requireApart(request);
    if (answer !== 'done') requireReason(text, answer === 'question' ? 'A question' : '“Not done”');
    if (request.answer?.kind === answer && request.answer.text === text) return [];
    return [
      { type: 'requestAnswered', song: song.id, requestId, answer, text },
      ...makeWayAfter(record, song, { ...request, answer: { kind: answer, text, by: person.id, at } }, note),
    ];
  },

  markOwnMistake: ({ record, person, command: { song: songId, requestId, reason } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, sorters[note.gate], 'Marking an own mistake');
    if (request.ownMistake) return [];
    requireApart(request);
    requireReason(reason, 'An own mistake');
    return [{ type: 'ownMistakeMarked', song: song.id, requestId, reason }];
  },
};
