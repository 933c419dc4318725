import { type Turn, turnOf } from '../../server/application/turn.ts';
import type { Command } from '../../server/domain/command.ts';
import type { RoundGate } from '../../server/domain/contract.ts';
import type { Person } from '../../server/domain/person.ts';
import {
  countingRequests,
  currentGate,
  newestVersion,
  productionLock,
  roundStandings,
  unsettledContradictions,
} from '../../server/domain/record.ts';
import { post, type RecordUnderTest, sign } from './record-under-test.ts';
import { storySong } from './worked-story.ts';

const song = storySong;

/** The people who have a turn on the song, with their step, as the pages tell them. */
export function turns(record: RecordUnderTest): { person: Person; turn: Turn }[] {
  return Object.values(record.record.people)
    .map((person) => ({ person, turn: turnOf(record.record, record.song(song), person) }))
    .filter(({ turn }) => turn.mine);
}

/** The command that a person's turn asks for. `name` makes the id of a version that is posted. */
export function turnCommand(record: RecordUnderTest, person: Person, turn: Turn, name: string): Command {
  const state = record.record;
  const found = record.song(song);
  const gate = currentGate(found);
  const roundGate: RoundGate = gate === 'master' ? 'master' : 'mix';
  const standing = roundStandings(state, found, roundGate).at(-1);
  const round = { song, gate: roundGate, number: standing?.round.number ?? 1 } as const;
  const lock = productionLock(found);
  const changes = lock.status === 'open for changes' ? lock.changes : [];
  switch (turn.step) {
    case 'post production':
    case 'deliver production':
      return post(song, 'production', `rough-${name}`, changes);
    case 'sign production':
      return sign(song, 'production', newestVersion(found, 'production')?.id ?? 'none');
    case 'post mix':
    case 'post master':
      return post(song, roundGate, `${roundGate}-${name}`);
    case 'sign':
      return sign(song, roundGate, newestVersion(found, roundGate)?.id ?? 'none');
    case 'answer round':
      return standing?.waitsForGoAhead
        ? { type: 'quoteRound', ...round, hours: 2 }
        : post(song, roundGate, `${roundGate}-${name}`);
    case 'send round': {
      if (!standing) throw new Error('A round is to be sent where there is none.');
      const reason = 'agreed among us';
      const [pair] = unsettledContradictions(found, standing.round);
      if (pair)
        return {
          type: 'settleContradiction',
          song,
          requestIds: pair.requestIds,
          keep: pair.requestIds[0],
          reason,
        };
      const command = { type: 'sendRound', song, gate: roundGate, agreedFeeMinorUnits: null } as const;
      const decision = record.decide(person.id, command);
      if (decision.ok) return command;
      const last = countingRequests(state, found, standing.round).at(-1);
      if (decision.refusal.code === 'points_over_cap' && last)
        return { type: 'leaveOutRequest', song, requestId: last.id, reason };
      return { ...command, agreedFeeMinorUnits: decision.refusal.feeMinorUnits ?? null };
    }
    case 'go-ahead': {
      if (standing?.waitsForGoAhead) return { type: 'giveRoundGoAhead', ...round };
      const { mix } = found.gates;
      const reopening = mix.status === 'closed' && mix.reopening ? 'mix' : 'master';
      return { type: 'giveReopeningGoAhead', song, gate: reopening };
    }
    case 'price change':
    case 'accept change': {
      const status = turn.step === 'price change' ? 'flagged' : 'priced';
      const number = found.lockBreaks.find((each) => each.status === status)?.number ?? 0;
      return status === 'flagged'
        ? { type: 'priceChange', song, number, hours: 1, words: 'recorded and edited' }
        : { type: 'acceptChange', song, number };
    }
    case 'write notes':
    case 'finished':
      throw new Error(`“${turn.step}” is nobody's turn.`);
  }
}
