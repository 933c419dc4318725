import type { Gate } from '../domain/contract.ts';
import { formatMoney } from '../domain/money.ts';
import type { Person, PersonId } from '../domain/person.ts';
import {
  currentGate,
  newestVersion,
  notesDueAt,
  productionLock,
  type RecordState,
  roundStandings,
  type Song,
  standingRequests,
  unsettledContradictions,
} from '../domain/record.ts';

/** Whose turn it is on a song and what the next step is. */
export interface Turn {
  step:
    | 'post production'
    | 'sign production'
    | 'post mix'
    | 'write notes'
    | 'send round'
    | 'go-ahead'
    | 'price change'
    | 'accept change'
    | 'deliver production'
    | 'answer round'
    | 'sign'
    | 'post master'
    | 'finished';
  /** The people whose turn it is. */
  people: PersonId[];
  mine: boolean;
  /** One sentence for the reader: what is new, and is it my turn. */
  sentence: string;
  dueAt: string | null;
}

const withRole = (record: RecordState, ...roles: string[]): PersonId[] =>
  Object.values(record.people)
    .filter((person) => person.roles.some((role) => roles.includes(role)))
    .map((person) => person.id);

const gateVersion: Record<Gate, string> = { production: 'a rough', mix: 'a mix', master: 'a master' };

function listNames(record: RecordState, ids: readonly PersonId[], reader: PersonId): string {
  const names = ids.map((id) => (id === reader ? 'you' : (record.people[id]?.name ?? 'somebody')));
  const last = names.pop() ?? 'nobody';
  const all = names.length ? `${names.join(', ')} and ${last}` : last;
  return all.charAt(0).toUpperCase() + all.slice(1);
}

type Step = Pick<Turn, 'step' | 'people' | 'dueAt'> & { say: (who: string, plural: boolean) => string };

/** The first thing that the song waits for, in the order in which it blocks the others. */
function nextStep(record: RecordState, song: Song): Step {
  const gate = currentGate(song);
  const terms = record.contract?.terms;
  const payer = terms ? [terms.payer] : [];
  const lock = productionLock(song);
  const step = (
    name: Turn['step'],
    people: PersonId[],
    say: Step['say'],
    dueAt: string | null = null,
  ): Step => ({ step: name, people, say, dueAt });
  const s = (plural: boolean) => (plural ? '' : 's');

  if (gate === null)
    return step('finished', [], () => 'Every gate is closed: production, mix and master are signed.');
  if (lock.status === 'open for changes') {
    const delivered = song.versions.find(
      (version) =>
        version.gate === 'production' && version.changes.some((number) => lock.changes.includes(number)),
    );
    const words = `change ${lock.changes.join(', ')}`;
    return delivered
      ? step(
          'sign production',
          terms?.signers.production.filter(
            (id) => !song.gates.production.signatures.some((each) => each.personId === id),
          ) ?? [],
          (who, plural) =>
            `${delivered.name} holds ${words}: ${who} sign${s(plural)} it to lock the production again.`,
        )
      : step(
          'deliver production',
          withRole(record, 'producer'),
          (who, plural) => `The lock is open for ${words}: ${who} deliver${s(plural)} the new production.`,
        );
  }
  const newest = newestVersion(song, gate);
  if (gate === 'production') {
    if (!newest)
      return step(
        'post production',
        withRole(record, 'producer'),
        (who, plural) => `${who} post${s(plural)} the rough, the production's quick balance, to be approved.`,
      );
    return step(
      'sign production',
      terms?.signers.production.filter(
        (id) => !song.gates.production.signatures.some((each) => each.personId === id),
      ) ?? [],
      (who, plural) =>
        `${newest.name} is up: ${who} approve${s(plural)} the production by signing it, or write notes.`,
    );
  }
  const standing = roundStandings(record, song, gate).at(-1);
  if (standing?.waitsForGoAhead && standing.round.status === 'sent') {
    const fee = formatMoney({
      minorUnits: standing.round.terms.feeMinorUnits,
      currency: terms?.currency ?? 'EUR',
    });
    return step(
      'go-ahead',
      payer,
      (who, plural) =>
        `Round ${standing.round.number} is beyond the contract, ${fee}: ${who} give${s(plural)} the go-ahead, or decline${s(plural)}.`,
    );
  }
  if (standing?.round.status === 'sent') {
    const { number, requestIds } = standing.round;
    const ids = new Set(requestIds);
    const wishes = song.requests.filter((request) => ids.has(request.id) && request.level !== 'none');
    const open = wishes.filter((request) => !request.answer && !request.parked && !request.lockBreak).length;
    return step(
      'answer round',
      withRole(record, gate === 'mix' ? 'mix engineer' : 'mastering engineer'),
      (who, plural) =>
        `Round ${number} is sent, ${open} of ${wishes.length} request${wishes.length === 1 ? '' : 's'} open: ${who} answer${s(plural)} with the next version.`,
    );
  }
  if (!newest)
    return step(
      gate === 'mix' ? 'post mix' : 'post master',
      withRole(record, gate === 'mix' ? 'mix engineer' : 'mastering engineer'),
      (who, plural) => `The ${gate} gate is open: ${who} post${s(plural)} ${gateVersion[gate]}.`,
    );
  const due = terms ? notesDueAt(song, gate, terms) : null;
  const wishes = standing
    ? standingRequests(song, standing.round).filter((request) => request.level !== 'none').length
    : 0;
  if (standing && wishes > 0) {
    const pairs = unsettledContradictions(song, standing.round).length;
    const count = `${wishes} request${wishes === 1 ? '' : 's'} on ${newest.name}`;
    return step(
      'send round',
      terms ? [terms.spokesperson] : [],
      (who, plural) =>
        pairs
          ? `${count}, and ${pairs === 1 ? 'two of them contradict' : `${pairs} pairs contradict`} each other: ${who} settle${s(plural)} that and send${s(plural)} the round.`
          : `${count}: ${who} send${s(plural)} the round when everybody has written.`,
      due,
    );
  }
  const missing =
    terms?.signers[gate].filter(
      (id) =>
        !song.gates[gate].signatures.some((each) => each.personId === id && each.versionId === newest.id),
    ) ?? [];
  return step(
    'sign',
    missing,
    (who, plural) =>
      `${newest.name} is up: ${who} listen${s(plural)}, then write${s(plural)} notes or sign${s(plural)} it.`,
    due,
  );
}

/** The next step of a song, said to one reader. */
export function turnOf(record: RecordState, song: Song, reader: Person, _at: string): Turn {
  const { step, people, say, dueAt } = nextStep(record, song);
  const you = people.length === 1 && people[0] === reader.id;
  const who = listNames(record, people, reader.id);
  const sentence = say(who, people.length !== 1 || you);
  return {
    step,
    people,
    mine: people.includes(reader.id),
    sentence: sentence.replace(/: ([A-Z])(ou|\w+)/, (match, first: string, rest: string) =>
      rest === 'ou' ? `: ${first.toLowerCase()}${rest}` : match,
    ),
    dueAt,
  };
}
