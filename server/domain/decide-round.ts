import { type RoundGate, roundFeeMinorUnits } from './contract.ts';
import { consequences } from './decide-note.ts';
import type { Fact } from './ledger-entry.ts';
import type { Note } from './note.ts';
import {
  areKeptApart,
  countingRequests,
  forecastRound,
  isOnOpenList,
  mergedWith,
  newestVersion,
  type RecordState,
  type RoundStanding,
  roundStandings,
  type Song,
  standingFor,
  standingRequests,
  unsettledContradictions,
} from './record.ts';
import {
  agreedTerms,
  money,
  refuse,
  requestOf,
  requireApart,
  requireReason,
  requireRole,
  songOf,
} from './refused.ts';
import { reopeningPrice } from './reopening-price.ts';
import { isSent, type Round, type SentRound } from './round.ts';
import type { Rules } from './rule.ts';

function standingOf(record: RecordState, song: Song, gate: RoundGate, number: number): RoundStanding {
  return (
    roundStandings(record, song, gate).find((standing) => standing.round.number === number) ??
    refuse('round_unknown', `There is no round ${number} at the ${gate} gate.`)
  );
}

function waitingRound({ round, waitsForGoAhead }: RoundStanding): SentRound {
  return waitsForGoAhead && isSent(round)
    ? round
    : refuse('not_pending', `Round ${round.number} is not waiting for a go-ahead.`);
}

/** The open list of a gate; refused while the gate is closed, waits for the mix, or has its list sent. */
function requireOpen(record: RecordState, song: Song, newest: Round): Extract<Round, { status: 'open' }> {
  const { gate } = newest;
  if (gate === 'master' && song.gates.mix.status === 'open')
    refuse('mix_gate_open', 'The mix gate is open, so the master waits. The notes are kept.');
  if (song.gates[gate].status === 'closed')
    refuse(
      'gate_closed',
      `The ${gate} gate is closed. Reopen it on the record first${reopeningPrice(record, song, gate).words}; the notes are kept.`,
    );
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
  | 'mergeRequests'
  | 'unmergeRequests'
  | 'keepRequestsApart'
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
    const notes = pair.requestIds.map((id) => requestOf(song, id).note);
    requireRole(record, person, ['spokesperson'], 'Settling a contradiction');
    if (keep !== null && !pair.requestIds.includes(keep))
      refuse('malformed', 'Keep one of the two requests, or both.');
    for (const note of notes) requireInOpenRound(song, note);
    if (pair.settled) refuse('contradiction_settled', 'This contradiction is settled already.');
    requireReason(reason, 'Settling a contradiction');
    const loser = keep === null ? null : (pair.requestIds.find((id) => id !== keep) ?? null);
    const leftOut = loser && standingFor(song, loser);
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
    requireInOpenRound(song, note);
    if (request.leftOut) return [];
    requireApart(request);
    if (request.parked || request.lockBreak !== null)
      refuse(
        'request_sent',
        'This request is on the mastering brief or with the producer already. Ask the engineer to re-sort it.',
      );
    requireReason(reason, 'Leaving a request out');
    return [{ type: 'requestLeftOut', song: song.id, requestId, reason }];
  },

  takeRequestBackIn: ({ record, person, command: { song: songId, requestId } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, requestId);
    requireRole(record, person, ['spokesperson'], 'Taking a request back in');
    requireInOpenRound(song, note);
    return request.leftOut ? [{ type: 'requestTakenBackIn', song: song.id, requestId }] : [];
  },

  mergeRequests: ({ record, person, command: { song: songId, into, others } }) => {
    const song = songOf(record, songId);
    const lead = requestOf(song, into);
    const named = [...new Set(others)].map((id) => requestOf(song, id));
    requireRole(record, person, ['spokesperson'], 'Making one request of several');
    if (!others.length || others.includes(into))
      refuse('malformed', 'One request is made of two or more different ones.');
    const apart = named.filter(({ request }) => request.mergedInto !== into);
    if (!apart.length) return [];
    const joining = [
      ...apart,
      ...apart.flatMap(({ request }) => mergedWith(song, request.id).map(({ id }) => requestOf(song, id))),
    ].filter(({ request }) => request.id !== into);
    const all = [lead, ...joining];
    if (all.some(({ request }) => request.level !== lead.request.level || request.level === 'none'))
      refuse('malformed', 'Requests of one level are made one. Choose the level of each first.');
    if (all.some(({ request }) => (request.ownMistake === null) !== (lead.request.ownMistake === null)))
      refuse(
        'malformed',
        'What puts right an own mistake counts in no round, so it is not made one with the rest.',
      );
    for (const { note, request } of all) {
      if (note.round) requireUnsent(song, note);
      if (request.parked || request.lockBreak !== null)
        refuse('request_sent', 'This request is on the mastering brief or with the producer already.');
    }
    for (const { note, request } of all) {
      const { round } = note;
      if (!round || round.gate !== lead.note.round?.gate || round.number !== lead.note.round.number)
        refuse('request_not_in_round', 'The requests stand on different lists.');
      if (request.leftOut)
        refuse('request_not_in_round', 'One of the requests is left out. Take it back in first.');
    }
    requireApart(lead.request);
    for (const { request } of apart) requireApart(request);
    const ids = new Set(all.map(({ request }) => request.id));
    const unsettled = song.contradictions.filter(
      (each) => !each.settled && each.requestIds.every((id) => ids.has(id)),
    );
    if (unsettled.length)
      refuse('contradiction_unsettled', 'They contradict each other. Settle that first.', {
        requestIds: unsettled.map((each) => each.requestIds),
      });
    return [
      { type: 'requestsMerged', song: song.id, into, others: joining.map(({ request }) => request.id) },
    ];
  },

  unmergeRequests: ({ record, person, command: { song: songId, into } }) => {
    const song = songOf(record, songId);
    const { request, note } = requestOf(song, into);
    requireRole(record, person, ['spokesperson'], 'Taking requests apart');
    requireInOpenRound(song, note);
    if (request.parked || request.lockBreak !== null)
      refuse('request_sent', 'This request is on the mastering brief or with the producer already.');
    return mergedWith(song, into).length ? [{ type: 'requestsUnmerged', song: song.id, into }] : [];
  },

  keepRequestsApart: ({ record, person, command: { song: songId, requestIds } }) => {
    const song = songOf(record, songId);
    const ids = [...new Set(requestIds)];
    const named = ids.map((id) => requestOf(song, id));
    requireRole(record, person, ['spokesperson'], 'Keeping requests apart');
    const [first] = named;
    if (!first || ids.length < 2) refuse('malformed', 'Name two requests or more that are different wishes.');
    for (const { note } of named) if (note.round) requireUnsent(song, note);
    for (const { note } of named)
      if (
        !note.round ||
        note.round.gate !== first.note.round?.gate ||
        note.round.number !== first.note.round.number
      )
        refuse('request_not_in_round', 'The requests stand on different lists.');
    for (const { request } of named) requireApart(request);
    const said = ids.every((one, index) =>
      ids.slice(index + 1).every((other) => areKeptApart(song, one, other)),
    );
    return said ? [] : [{ type: 'requestsKeptApart', song: song.id, requestIds: ids }];
  },

  sendRound: ({ record, person, at, command: { song: songId, gate, agreedFeeMinorUnits } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['spokesperson'], 'Sending the round');
    const version = newestVersion(song, gate);
    const newest = song.rounds.filter((each) => each.gate === gate).at(-1);
    if (!version || !newest)
      return refuse('round_unknown', `There is no version at the ${gate} gate yet to send notes on.`);
    const terms = agreedTerms(record);
    const round = requireOpen(record, song, newest);
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
      forecast.beyond && terms.payer === person.id && forecast.terms.fee.basis === 'flat'
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
    const round = waitingRound(standing);
    const { fee } = round.terms;
    if (fee.basis !== 'hourly')
      return refuse(
        'not_pending',
        'The contract has a flat fee for further rounds, so there is nothing to quote.',
      );
    if (round.quotedHours === hours) return [];
    return [
      {
        type: 'roundQuoted',
        song: song.id,
        gate,
        number,
        hours,
        feeMinorUnits: roundFeeMinorUnits(fee, hours),
      },
    ];
  },

  giveRoundGoAhead: ({ record, person, command: { song: songId, gate, number, agreedFeeMinorUnits } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'The go-ahead');
    const standing = standingOf(record, song, gate, number);
    if (isSent(standing.round) && standing.round.goAhead) return [];
    const round = waitingRound(standing);
    if (round.terms.fee.basis === 'hourly' && round.quotedHours === null)
      refuse(
        'not_pending',
        `Round ${number} is paid by the hour: the engineer quotes the hours first, then it waits for the go-ahead.`,
      );
    const { feeMinorUnits } = round.terms;
    if (agreedFeeMinorUnits !== undefined && agreedFeeMinorUnits !== feeMinorUnits)
      refuse(
        'round_beyond_contract',
        `Round ${number} was quoted anew meanwhile: it is ${money(agreedTerms(record), feeMinorUnits)} now. Nothing is agreed to yet; look at it again.`,
        { feeMinorUnits },
      );
    return [{ type: 'roundGoAheadGiven', song: song.id, gate, number, feeMinorUnits }];
  },

  declineRound: ({ record, person, command: { song: songId, gate, number, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'Declining the go-ahead');
    waitingRound(standingOf(record, song, gate, number));
    requireReason(reason, 'Declining the go-ahead');
    return [{ type: 'roundDeclined', song: song.id, gate, number, reason }];
  },

  extendNoteDays: ({ record, person, at, command: { song: songId, gate, until, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['mix engineer', 'mastering engineer', 'owner'], 'Granting more days');
    if (!(Date.parse(until) > Date.parse(at))) refuse('malformed', 'The new day lies in the past.');
    requireReason(reason, 'Granting more days');
    const granted = new Date(until).toISOString();
    if (song.noteDaysUntil[gate] === granted) return [];
    return [{ type: 'noteDaysExtended', song: song.id, gate, until: granted, reason }];
  },
};

function requireUnsent(song: Song, note: Note): void {
  if (!isOnOpenList(song, note)) refuse('request_sent', 'The round was sent and stays as it is.');
}

function requireInOpenRound(song: Song, note: Note): void {
  if (!note.round) refuse('request_not_in_round', 'This request belongs to no round.');
  requireUnsent(song, note);
}
