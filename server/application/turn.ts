import type { Gate } from '../domain/contract.ts';
import { formatMoney } from '../domain/money.ts';
import type { GivenRole, Person, PersonId } from '../domain/person.ts';
import {
  awaitsVersion,
  currentGate,
  isOfSignedMix,
  newestVersion,
  notesDueAt,
  productionLock,
  type RecordState,
  roundStandings,
  type Song,
  standingRequests,
  unsettledContradictions,
} from '../domain/record.ts';
import { versionName } from '../domain/version.ts';

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

/** The people of a sentence, with the verb that goes with them: “Mara posts”, “you post”, “Mara and you post”. */
interface Subject {
  who: string;
  /** The verb in the form that the subject asks for; it is given in the form for “you”. */
  verb: (base: string) => string;
}

interface Step extends Pick<Turn, 'step' | 'people'> {
  say: (subject: Subject, named: (ids: readonly PersonId[]) => string) => string;
  dueAt?: string | null;
}

function subjectOf(record: RecordState, ids: readonly PersonId[], reader: PersonId): Subject {
  const others = ids.filter((id) => id !== reader).map((id) => record.people[id]?.name ?? 'somebody');
  const names = ids.includes(reader) ? [...others, 'you'] : others;
  const last = names.pop() ?? 'nobody';
  const plural = names.length > 0 || last === 'you';
  return {
    who: names.length ? `${names.join(', ')} and ${last}` : last,
    verb: (base) => (plural ? base : `${base}s`),
  };
}

const engineerRole: Record<Exclude<Gate, 'production'>, GivenRole> = {
  mix: 'mix engineer',
  master: 'mastering engineer',
};

const withRole = (record: RecordState, role: GivenRole): PersonId[] =>
  Object.values(record.people)
    .filter((person) => person.roles.includes(role))
    .map((person) => person.id);

/** Who posts a production: the producers, or without one whoever else may. */
function productionPosters(record: RecordState): PersonId[] {
  const found = [withRole(record, 'producer'), withRole(record, 'mix engineer')].find((ids) => ids.length);
  return (
    found ??
    Object.values(record.people)
      .filter((person) => person.owner)
      .map((person) => person.id)
  );
}

const counted = (count: number, one: string) => `${count} ${one}${count === 1 ? '' : 's'}`;
const missingSigners = (record: RecordState, song: Song, gate: Gate, versionId: string): PersonId[] =>
  (record.contract?.terms.signers[gate] ?? []).filter(
    (id) => !song.gates[gate].signatures.some((each) => each.personId === id && each.versionId === versionId),
  );

function productionStep(record: RecordState, song: Song): Step {
  const newest = newestVersion(song, 'production');
  if (!newest)
    return {
      step: 'post production',
      people: productionPosters(record),
      say: ({ who, verb }) =>
        `${who} ${verb('post')} the rough, the production's quick balance, for approval.`,
    };
  if (record.contract?.status !== 'agreed')
    return {
      step: 'write notes',
      people: [],
      say: () =>
        `${newest.name} is up to be heard. It can be signed once both sides have agreed to the contract.`,
    };
  return {
    step: 'sign production',
    people: missingSigners(record, song, 'production', newest.id),
    say: ({ who, verb }) =>
      `${newest.name} is up: ${who} ${verb('listen')}, then ${verb('write')} notes or ${verb('approve')} the production by signing it.`,
  };
}

/** The lock stands open for changes: the new production is delivered, then signed. */
function changeStep(record: RecordState, song: Song, changes: readonly number[]): Step {
  const words = `change ${changes.join(', ')}`;
  const delivered = song.versions
    .filter(
      (version) =>
        version.gate === 'production' && version.changes.some((number) => changes.includes(number)),
    )
    .at(-1);
  if (!delivered)
    return {
      step: 'deliver production',
      people: productionPosters(record),
      say: ({ who, verb }) =>
        `The production lock is open for ${words}: ${who} ${verb('deliver')} the new production.`,
    };
  return {
    step: 'sign production',
    people: missingSigners(record, song, 'production', delivered.id),
    say: ({ who, verb }) =>
      `${delivered.name} holds ${words}: ${who} ${verb('sign')} it, which locks the production again.`,
  };
}

/** The step at the mix or master gate: a round's, or the signatures. */
function roundStep(record: RecordState, song: Song, gate: Exclude<Gate, 'production'>): Step {
  const terms = record.contract?.terms;
  const engineers = withRole(record, engineerRole[gate]);
  const payer = terms ? [terms.payer] : [];
  const newest = newestVersion(song, gate);
  const standing = roundStandings(record, song, gate).at(-1);
  const round = standing?.round;
  if (!newest || !round)
    return {
      step: gate === 'mix' ? 'post mix' : 'post master',
      people: engineers,
      say: ({ who, verb }) =>
        `The ${gate === 'mix' ? 'production is locked' : 'mix is signed'}: ${who} ${verb('post')} ${versionName(gate, 1)}.`,
    };
  if (round.status === 'sent' && standing.waitsForGoAhead) {
    if (round.terms.fee.basis === 'hourly' && round.quotedHours === null)
      return {
        step: 'answer round',
        people: engineers,
        say: ({ who, verb }) =>
          `This round is beyond the contract and paid by the hour: ${who} ${verb('quote')} the hours, then it waits for the go-ahead.`,
      };
    const fee = formatMoney({ minorUnits: round.terms.feeMinorUnits, currency: terms?.currency ?? 'EUR' });
    return {
      step: 'go-ahead',
      people: payer,
      say: ({ who, verb }) =>
        `This round is beyond the contract, ${fee}: ${who} ${verb('give')} the go-ahead or ${verb('decline')}.`,
    };
  }
  if (round.status === 'sent' && awaitsVersion(song, round)) {
    const ids = new Set(round.requestIds);
    const wishes = song.requests.filter((request) => ids.has(request.id) && request.level !== 'none');
    const open = wishes.filter((request) => !request.answer && !request.parked && !request.lockBreak).length;
    const next = versionName(gate, newest.number + 1);
    const of = open < wishes.length ? `${open} of ` : '';
    return {
      step: 'answer round',
      people: engineers,
      say: ({ who, verb }) =>
        open
          ? `The round is sent, ${of}${counted(wishes.length, 'request')} open: ${who} ${verb('answer')} with ${next}.`
          : `The round is sent and every request has its answer: ${who} ${verb('post')} ${next}.`,
    };
  }
  if (gate === 'master' && !isOfSignedMix(song, newest))
    return {
      step: 'post master',
      people: engineers,
      say: ({ who, verb }) =>
        `${newest.name} is of a mix that was signed before: ${who} ${verb('post')} ${versionName(gate, newest.number + 1)}.`,
    };
  const dueAt = terms ? notesDueAt(song, gate, terms) : null;
  const wishes =
    round.status === 'open'
      ? standingRequests(song, round).filter((request) => request.level !== 'none').length
      : 0;
  if (round.status === 'open' && wishes > 0) {
    const pairs = unsettledContradictions(song, round).length;
    const holds = `The list holds ${counted(wishes, 'request')}`;
    return {
      step: 'send round',
      people: terms ? [terms.spokesperson] : [],
      dueAt,
      say: ({ who, verb }) => {
        if (round.declined)
          return `The go-ahead for this round was declined: ${who} ${verb('change')} the list and ${verb('send')} it again.`;
        if (!pairs) return `${holds} so far: ${who} ${verb('send')} the round when everybody has written.`;
        const contradict = pairs === 1 ? 'two of them contradict' : `${pairs} pairs of them contradict`;
        return `${holds}, and ${contradict} each other: ${who} ${verb('settle')} that, then ${verb('send')} the round.`;
      },
    };
  }
  const missing = missingSigners(record, song, gate, newest.id);
  if (!missing.length)
    return {
      step: 'sign',
      people: terms?.signers[gate] ?? [],
      say: ({ who, verb }) =>
        `${newest.name} has every signature that the amended contract asks for: ${who} ${verb('sign')} once more to close the gate.`,
    };
  const signed = (terms?.signers[gate] ?? []).filter((id) => !missing.includes(id));
  const others = song.gates[gate].signatures
    .filter(({ versionId }) => versionId !== newest.id)
    .map(({ personId, versionId }) => ({
      personId,
      name: song.versions.find((version) => version.id === versionId)?.name ?? 'another file',
    }));
  return {
    step: 'sign',
    people: missing,
    dueAt,
    say: ({ who, verb }, named) => {
      const clauses = [
        `${newest.name} is up`,
        ...(signed.length ? [`signed by ${named(signed)}`] : []),
        ...others.map(({ personId, name }) => `while ${named([personId])} signed ${name}`),
      ];
      return `${clauses.join(', ')}: ${who} ${verb('listen')}, then ${verb('write')} notes or ${verb('sign')} it.`;
    },
  };
}

/** What the song waits for at its gates, in the order in which it blocks the rest. */
function gateSteps(record: RecordState, song: Song): Step[] {
  const gate = currentGate(song);
  if (gate === null)
    return [
      {
        step: 'finished',
        people: [],
        say: () => 'Every gate is closed: production, mix and master are signed.',
      },
    ];
  if (gate === 'production') return [productionStep(record, song)];
  const lock = productionLock(song);
  const step = roundStep(record, song, gate);
  if (lock.status !== 'open for changes') return [step];
  const change = changeStep(record, song, lock.changes);
  return step.step === 'sign' ? [change] : [change, step];
}

/** What goes on beside the gates: lock breaks at the producer's or the payer's, and a reopening that costs. */
function sideSteps(record: RecordState, song: Song): Step[] {
  const terms = record.contract?.terms;
  if (!terms) return [];
  const money = (minorUnits: number) => formatMoney({ minorUnits, currency: terms.currency });
  const reopenings = (['mix', 'master'] as const).flatMap((gate): Step[] => {
    const state = song.gates[gate];
    if (state.status !== 'closed' || !state.reopening) return [];
    const { reason, feeMinorUnits } = state.reopening;
    return [
      {
        step: 'go-ahead',
        people: [terms.payer],
        say: ({ who, verb }) =>
          `Reopening the ${gate} gate costs ${money(feeMinorUnits)} (${reason}): ${who} ${verb('give')} the go-ahead or ${verb('decline')}.`,
      },
    ];
  });
  const changes = song.lockBreaks.flatMap((each): Step[] => {
    const wish = song.requests.find((request) => request.id === each.requestId)?.text ?? 'a request';
    if (each.status === 'flagged')
      return [
        {
          step: 'price change',
          people: withRole(record, 'producer'),
          say: ({ who, verb }) =>
            `Lock break ${each.number}, “${wish}”: ${who} ${verb('price')} or ${verb('decline')} it.`,
        },
      ];
    if (each.status === 'priced' && song.gates.mix.status === 'open')
      return [
        {
          step: 'accept change',
          people: [terms.payer],
          say: ({ who, verb }) =>
            `Change order ${each.number}, “${wish}”, is ${money(each.price.amountMinorUnits)}: ${who} ${verb('accept')} or ${verb('refuse')} it.`,
        },
      ];
    return [];
  });
  return [...reopenings, ...changes];
}

/**
 * The next step of a song, said to one reader: their own where they have one, else what the song waits for first.
 */
export function turnOf(record: RecordState, song: Song, reader: Person): Turn {
  const main = gateSteps(record, song);
  const own = [...sideSteps(record, song), ...main].find((each) => each.people.includes(reader.id));
  const shown = own ?? main[0];
  if (!shown) throw new Error('A song has no step at its gates.');
  const { step, people, say, dueAt = null } = shown;
  const subject = (ids: readonly PersonId[]) => subjectOf(record, ids, reader.id);
  const sentence = say(subject(people), (ids) => subject(ids).who);
  return {
    step,
    people,
    mine: people.includes(reader.id),
    sentence: sentence.charAt(0).toUpperCase() + sentence.slice(1),
    dueAt,
  };
}
