import { type RoundGate, roundFeeMinorUnits } from './contract.ts';
import type { Rules } from './decide.ts';
import { consequences } from './decide-note.ts';
import type { Fact } from './ledger-entry.ts';
import {
  countingRequests,
  forecastRound,
  newestVersion,
  type RecordState,
  type RoundStanding,
  roundStandings,
  type Song,
  standingRequests,
  unsettledContradictions,
} from './record.ts';
import { agreedTerms, money, refuse, requestOf, requireReason, requireRole, songOf } from './refused.ts';
import { reopeningPrice } from './reopening-price.ts';
import type { Round } from './round.ts';

function standingOf(record: RecordState, song: Song, gate: RoundGate, number: number): RoundStanding {
  return (
    roundStandings(record, song, gate).find((standing) => standing.round.number === number) ??
    refuse('round_unknown', `There is no round ${number} at the ${gate} gate.`)
  );
}

function requireWaiting(record: RecordState, song: Song, gate: RoundGate, number: number): RoundStanding {
  const standing = standingOf(record, song, gate, number);
  if (!standing.waitsForGoAhead) refuse('not_pending', `Round ${number} is not waiting for a go-ahead.`);
  return standing;
}

function openRound(record: RecordState, song: Song, gate: RoundGate): Round {
  const newest = song.rounds.filter((round) => round.gate === gate).at(-1);
  if (song.gates[gate].status === 'closed')
    refuse(
      'gate_closed',
      `The ${gate} gate is closed. Reopen it on the record first${reopeningPrice(record, song, gate).words}; the notes are kept.`,
    );
  if (!newest) refuse('round_unknown', `There is no version at the ${gate} gate yet to send notes on.`);
  if (newest.status === 'open') return newest;
  return refuse(
    'round_already_sent',
    `Round ${newest.number} is sent and the next version answers it. Notes since then wait for the next round.`,
  );
}

type RoundCommand =
  | 'settleContradiction'
  | 'leaveOutRequest'
  | 'takeRequestBackIn'
  | 'sendRound'
  | 'quoteRound'
  | 'giveRoundGoAhead'
  | 'declineRound'
  | 'extendNoteDays';

/** The list of notes: contradictions settled, sent as one, counted, and paid for beyond the contract. */
export const decideRound: Rules<RoundCommand> = {
  settleContradiction: ({ record, person, command: { song: songId, requestIds, keep, reason } }) => {
    const song = songOf(record, songId);
    const pair = song.contradictions.find((each) => requestIds.every((id) => each.requestIds.includes(id)));
    if (!pair || requestIds[0] === requestIds[1])
      refuse('request_unknown', 'These two requests were not found to contradict each other.');
    requireRole(record, person, ['spokesperson'], 'Settling a contradiction');
    if (keep !== null && !pair.requestIds.includes(keep))
      refuse('malformed', 'Keep one of the two requests, or both.');
    if (pair.settled) refuse('contradiction_settled', 'This contradiction is settled already.');
    requireReason(reason, 'Settling a contradiction');
    const leftOut = keep === null ? null : (pair.requestIds.find((id) => id !== keep) ?? null);
    return [
      {
        type: 'contradictionSettled',
        song: song.id,
        requestIds: pair.requestIds,
        kept: keep,
        leftOut,
        reason,
      },
    ];
  },

  leaveOutRequest: ({ record, person, command: { song: songId, requestId, reason } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, ['spokesperson'], 'Leaving a request out');
    requireInOpenRound(song, note.round);
    if (request.leftOut) return [];
    requireReason(reason, 'Leaving a request out');
    return [{ type: 'requestLeftOut', song: song.id, requestId, reason }];
  },

  takeRequestBackIn: ({ record, person, command: { song: songId, requestId } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, ['spokesperson'], 'Taking a request back in');
    requireInOpenRound(song, note.round);
    return request.leftOut ? [{ type: 'requestTakenBackIn', song: song.id, requestId }] : [];
  },

  sendRound: ({ record, person, at, command: { song: songId, gate, agreedFeeMinorUnits } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['spokesperson'], 'Sending the round');
    const terms = agreedTerms(record);
    const round = openRound(record, song, gate);
    const requests = standingRequests(song, round);
    if (!requests.some((request) => request.level !== 'none' || request.kind === 'question'))
      refuse(
        'round_empty',
        'There is no request in this round yet. Praise and talk are read without a round.',
      );
    const unsettled = unsettledContradictions(song, round);
    if (unsettled.length)
      refuse(
        'contradiction_unsettled',
        `${unsettled.length === 1 ? 'Two requests contradict' : `${unsettled.length} pairs of requests contradict`} each other. Choose one of each pair with a reason; nothing is lost.`,
        { requestIds: unsettled.map((each) => each.requestIds) },
      );
    const points = countingRequests(record, song, round).length;
    if (terms.pointsCap !== null && points > terms.pointsCap)
      refuse(
        'points_over_cap',
        `The contract caps a round at ${terms.pointsCap} points and this one has ${points}. Leave some out for the next round.`,
      );
    const forecast = forecastRound(record, song, round, terms, at);
    if (forecast.beyond && agreedFeeMinorUnits !== forecast.feeMinorUnits)
      refuse(
        'round_beyond_contract',
        `This round is beyond the contract, ${money(terms, forecast.feeMinorUnits)} (${
          forecast.terms.late ? 'the days for notes have run out; ' : ''
        }${forecast.terms.feeClause}). Send it knowing that, and it waits for the payer's go-ahead.`,
        { feeMinorUnits: forecast.feeMinorUnits },
      );
    const version = newestVersion(song, gate);
    if (!version) return refuse('version_unknown', `There is no version at the ${gate} gate.`);
    const sent: Fact = {
      type: 'roundSent',
      song: song.id,
      gate,
      number: round.number,
      versionId: version.id,
      requestIds: requests.map((request) => request.id),
      terms: forecast.terms,
    };
    const agreed: Fact[] =
      forecast.beyond && terms.payer === person.id
        ? [
            {
              type: 'roundGoAheadGiven',
              song: song.id,
              gate,
              number: round.number,
              feeMinorUnits: forecast.feeMinorUnits,
            },
          ]
        : [];
    return [sent, ...agreed, ...consequences(song, requests, gate)];
  },

  quoteRound: ({ record, person, command: { song: songId, gate, number, hours } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['mix engineer', 'mastering engineer'], 'Quoting a round');
    const standing = standingOf(record, song, gate, number);
    if (!(hours > 0 && hours < 1000)) refuse('malformed', 'Hours are more than zero.');
    const terms = agreedTerms(record);
    if (terms.roundFee.basis !== 'hourly')
      refuse('malformed', 'The contract has a flat fee for further rounds, so there is nothing to quote.');
    if (!standing.waitsForGoAhead) refuse('not_pending', `Round ${number} is not waiting for a go-ahead.`);
    return [
      {
        type: 'roundQuoted',
        song: song.id,
        gate,
        number,
        hours,
        feeMinorUnits: roundFeeMinorUnits(terms, hours),
      },
    ];
  },

  giveRoundGoAhead: ({ record, person, command: { song: songId, gate, number } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'The go-ahead');
    const { round } = standingOf(record, song, gate, number);
    if (round.status !== 'open' && round.goAhead) return [];
    requireWaiting(record, song, gate, number);
    return round.status === 'open'
      ? []
      : [
          {
            type: 'roundGoAheadGiven',
            song: song.id,
            gate,
            number,
            feeMinorUnits: round.terms.feeMinorUnits,
          },
        ];
  },

  declineRound: ({ record, person, command: { song: songId, gate, number, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'Declining the go-ahead');
    requireWaiting(record, song, gate, number);
    requireReason(reason, 'Declining the go-ahead');
    return [{ type: 'roundDeclined', song: song.id, gate, number, reason }];
  },

  extendNoteDays: ({ record, person, at, command: { song: songId, gate, until, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['mix engineer', 'mastering engineer', 'owner'], 'Granting more days');
    if (Number.isNaN(Date.parse(until)) || until <= at) refuse('malformed', 'The new day lies in the past.');
    requireReason(reason, 'Granting more days');
    return [{ type: 'noteDaysExtended', song: song.id, gate, until, reason }];
  },
};

function requireInOpenRound(song: Song, place: { gate: RoundGate; number: number } | null): void {
  if (!place) refuse('request_not_in_round', 'This request belongs to no round.');
  const round = song.rounds.find((each) => each.gate === place.gate && each.number === place.number);
  if (round && round.status !== 'open') refuse('request_sent', 'The round was sent and stays as it is.');
}
