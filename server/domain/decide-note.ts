import type { Gate } from './contract.ts';
import type { Rules } from './decide.ts';
import type { Fact, WrittenRequest } from './ledger-entry.ts';
import type { Note, Request } from './note.ts';
import type { Role } from './person.ts';
import { productionLock, type Song } from './record.ts';
import {
  lockBreakOf,
  noteOf,
  refuse,
  requestOf,
  requireReason,
  requireRole,
  songOf,
  versionOf,
} from './refused.ts';
import type { Level } from './request-kind.ts';
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
 * What a request sets off as soon as it is on the record outside an open list: at a locked production a
 * production-level one breaks the lock, and before the master gate a mastering-level one is parked.
 */
export function consequences(
  song: Song,
  requests: readonly { id: string; level: Level; parked?: boolean; lockBreak?: number | null }[],
  gate: Gate,
): Fact[] {
  let number = song.lockBreaks.length;
  return requests.flatMap((request): Fact[] => {
    if (request.level === 'mastering' && gate !== 'master' && !request.parked)
      return [{ type: 'requestParked', song: song.id, requestId: request.id }];
    if (request.level === 'production' && productionLock(song).status !== 'open' && !request.lockBreak) {
      number += 1;
      return [{ type: 'lockBroken', song: song.id, number, requestId: request.id }];
    }
    return [];
  });
}

/** On a list that was sent, or on none: what happens to its level happens at once. */
function isOutOfOpenList(song: Song, note: Note): boolean {
  if (!note.round) return true;
  const { gate, number } = note.round;
  return song.rounds.some(
    (round) => round.gate === gate && round.number === number && round.status !== 'open',
  );
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

function answerers(request: Request, gate: Gate): (Role | 'owner')[] {
  return request.level === 'production' ? ['producer', 'mix engineer'] : sorters[gate];
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
    const trimmed = text.trim();
    if (!trimmed) refuse('malformed', 'The note is empty. Write what you hear, and where.');
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
    const known = song.notes.find((note) => note.id === noteId);
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
        requestIds: [otherRequestId, requestId],
        why,
      }),
    );
    return [written, ...found, ...(place.round ? [] : consequences(song, requests, place.gate))];
  },

  withdrawNote: ({ record, person, command: { song: songId, noteId } }) => {
    const song = songOf(record, songId);
    const note = noteOf(song, noteId);
    if (note.by !== person.id) refuse('not_your_note', 'Only its author can withdraw a note.');
    if (isOutOfOpenList(song, note))
      refuse('request_sent', 'This note was sent and stays on the record. Write a new one to take it back.');
    return [{ type: 'noteWithdrawn', song: song.id, noteId }];
  },

  replyToNote: ({ record, command: { song: songId, noteId, text } }) => {
    const song = songOf(record, songId);
    noteOf(song, noteId);
    if (!text.trim()) refuse('malformed', 'The reply is empty.');
    return [{ type: 'noteReplied', song: song.id, noteId, text }];
  },

  chooseLevel: ({ record, person, command: { song: songId, requestId, level } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    if (note.by !== person.id) refuse('not_your_note', 'Only its author can choose the level of a request.');
    if (isOutOfOpenList(song, note))
      refuse(
        'request_sent',
        'The round was sent. Ask the engineer, who can re-sort the request with a reason.',
      );
    return request.level === level ? [] : [{ type: 'levelChosen', song: song.id, requestId, level }];
  },

  resortRequest: ({ record, person, command }) => {
    const song = songOf(record, command.song);
    const { request, note } = requestOf(song, command.requestId);
    requireRole(record, person, [...sorters[note.gate], 'producer'], 'Re-sorting requests');
    const { level, reason } = command;
    const kind = command.kind ?? request.kind;
    if (request.level === level && request.kind === kind)
      refuse('level_unchanged', `The request has the level ${level} already.`);
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
    const sets = isOutOfOpenList(song, note) ? consequences(song, [{ ...request, level }], note.gate) : [];
    return [resorted, ...leaves, ...sets];
  },

  answerRequest: ({ record, person, command: { song: songId, requestId, answer, text } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, answerers(request, note.gate), 'Answering requests');
    if (note.round && !isOutOfOpenList(song, note))
      refuse(
        'round_not_sent',
        'The round is not sent yet: the list may still change. Reply to the note instead.',
      );
    if (answer !== 'done') requireReason(text, answer === 'question' ? 'A question' : '“Not done”');
    if (request.answer?.kind === answer && request.answer.text === text) return [];
    return [{ type: 'requestAnswered', song: song.id, requestId, answer, text }];
  },

  markOwnMistake: ({ record, person, command: { song: songId, requestId, reason } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, sorters[note.gate], 'Marking an own mistake');
    if (request.ownMistake) return [];
    requireReason(reason, 'An own mistake');
    return [{ type: 'ownMistakeMarked', song: song.id, requestId, reason }];
  },
};
