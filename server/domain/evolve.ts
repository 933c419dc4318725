import type { LockBreak } from './change-order.ts';
import type { Gate } from './contract.ts';
import type { GateState } from './gate.ts';
import type { Fact, LedgerEntry } from './ledger-entry.ts';
import type { Note, Request } from './note.ts';
import { type RecordState, type Song, type SongId, standingFor } from './record.ts';
import type { Round } from './round.ts';

/** Thrown where an entry cannot follow the state before it: the ledger is damaged. */
export class LedgerDamage extends Error {
  override name = 'LedgerDamage';
}

type EntryOf<T extends Fact['type']> = Omit<LedgerEntry, 'fact'> & { fact: Extract<Fact, { type: T }> };
/** What an entry needs for the fold; hashes are the chain's business. */
export type UnchainedEntry = Omit<LedgerEntry, 'hash' | 'previousHash'>;

const damage = (message: string): never => {
  throw new LedgerDamage(message);
};

function changed<T>(items: readonly T[], matches: (item: T) => boolean, change: (item: T) => T): T[] {
  let hit = false;
  const next = items.map((item) => {
    if (!matches(item)) return item;
    hit = true;
    return change(item);
  });
  if (!hit) damage('An entry speaks of something that the ledger does not hold.');
  return next;
}

function withSong(record: RecordState, id: SongId, change: (song: Song) => Song): RecordState {
  const song = record.songs[id];
  if (!song) return damage(`An entry speaks of an unknown song.`);
  return { ...record, songs: { ...record.songs, [id]: change(song) } };
}

const withRequest = (song: Song, id: string, change: (request: Request) => Request): Song => ({
  ...song,
  requests: changed(song.requests, (request) => request.id === id, change),
});
const withNote = (song: Song, id: string, change: (note: Note) => Note): Song => ({
  ...song,
  notes: changed(song.notes, (note) => note.id === id, change),
});
const withRound = (
  song: Song,
  place: { gate: Gate; number: number },
  change: (round: Round) => Round,
): Song => ({
  ...song,
  rounds: changed(song.rounds, (round) => round.gate === place.gate && round.number === place.number, change),
});
const withLockBreak = (song: Song, number: number, change: (lockBreak: LockBreak) => LockBreak): Song => ({
  ...song,
  lockBreaks: changed(song.lockBreaks, (each) => each.number === number, change),
});
const withGate = (song: Song, gate: Gate, state: GateState): Song => ({
  ...song,
  gates: { ...song.gates, [gate]: state },
});

const samePair = (a: readonly [string, string], b: readonly [string, string]) =>
  (a[0] === b[0] && a[1] === b[1]) || (a[0] === b[1] && a[1] === b[0]);

/** A song before anything happened to it. */
function newSong(id: SongId, title: string): Song {
  const open = (): GateState => ({ status: 'open', signatures: [], reopened: 0, reopenedAt: null });
  return {
    id,
    title,
    sectionMap: { sections: [], tempoBpm: null, beatsPerBar: null, firstBarSeconds: 0, revision: 0 },
    parts: [],
    gates: { production: open(), mix: open(), master: open() },
    versions: [],
    attachedStems: [],
    explanations: [],
    notes: [],
    requests: [],
    contradictions: [],
    keptApart: [],
    rounds: [],
    lockBreaks: [],
    reopeningCharges: [],
    noteDaysUntil: {},
  };
}

/**
 * The state after one more entry. Pure; throws `LedgerDamage` on an entry that cannot follow, since the rules would
 * never have written it.
 */
export function evolve(record: RecordState | null, entry: UnchainedEntry): RecordState {
  const { fact } = entry;
  if (fact.type === 'recordOpened') {
    if (record) return damage('A record was opened twice.');
    if (entry.sequence !== 1) return damage('A ledger does not begin at entry 1.');
    return {
      id: fact.recordId,
      title: fact.title,
      act: fact.act,
      sequence: 1,
      people: {},
      contract: null,
      songs: {},
      songOrder: [],
      links: {},
      acted: [entry.by],
    };
  }
  if (!record) return damage('A ledger does not begin with the opening of its record.');
  if (entry.sequence !== record.sequence + 1) return damage(`Entry ${entry.sequence} is out of sequence.`);
  return {
    ...apply(record, entry as EntryOf<Exclude<Fact['type'], 'recordOpened'>>),
    sequence: entry.sequence,
    acted: record.acted.includes(entry.by) ? record.acted : [...record.acted, entry.by],
  };
}

function apply(record: RecordState, entry: EntryOf<Exclude<Fact['type'], 'recordOpened'>>): RecordState {
  const { fact, at, by } = entry;
  switch (fact.type) {
    case 'recordRenamed':
      return { ...record, title: fact.title, act: fact.act };
    case 'personAdded':
    case 'personChanged':
      return { ...record, people: { ...record.people, [fact.person.id]: fact.person } };
    case 'personRemoved': {
      const { [fact.personId]: _removed, ...people } = record.people;
      return { ...record, people };
    }
    case 'linkIssued':
    case 'linkRevoked': {
      const link = { personId: fact.personId, revoked: fact.type === 'linkRevoked' };
      return { ...record, links: { ...record.links, [fact.linkId]: link } };
    }
    case 'contractDrafted':
      return { ...record, contract: { status: 'drafted', terms: fact.terms } };
    case 'contractAgreed': {
      if (record.contract?.status !== 'drafted') return damage('A contract was agreed without a draft.');
      const { terms } = record.contract;
      return {
        ...record,
        contract: {
          status: 'agreed',
          terms,
          history: [{ number: 1, terms, agreedAt: at, agreedBy: by, how: fact.how }],
          amendment: null,
        },
      };
    }
    case 'amendmentProposed': {
      if (record.contract?.status !== 'agreed') return damage('An amendment has no contract.');
      const { number, terms, reason, side } = fact;
      return {
        ...record,
        contract: { ...record.contract, amendment: { number, terms, reason, proposedBy: by, side } },
      };
    }
    case 'amendmentAccepted': {
      const contract = record.contract;
      if (contract?.status !== 'agreed' || !contract.amendment) return damage('No amendment was proposed.');
      const { number, terms, reason } = contract.amendment;
      return {
        ...record,
        contract: {
          ...contract,
          terms,
          amendment: null,
          history: [...contract.history, { number, terms, agreedAt: at, agreedBy: by, how: reason }],
        },
      };
    }
    case 'amendmentDeclined': {
      if (record.contract?.status !== 'agreed') return damage('No amendment was proposed.');
      return { ...record, contract: { ...record.contract, amendment: null } };
    }
    case 'songAdded':
      return {
        ...record,
        songs: { ...record.songs, [fact.song]: newSong(fact.song, fact.title) },
        songOrder: [...record.songOrder, fact.song],
      };
    default:
      return withSong(record, fact.song, (song) => applyToSong(song, entry as SongEntry));
  }
}

type SongEntry = EntryOf<Extract<Fact, { song: SongId }>['type']>;

function applyToSong(song: Song, { fact, at, by }: SongEntry): Song {
  switch (fact.type) {
    case 'songAdded':
      return damage('A song was added twice.');
    case 'songRenamed':
      return { ...song, title: fact.title };
    case 'sectionsNamed': {
      const { sections, tempoBpm, beatsPerBar, firstBarSeconds, revision } = fact;
      return { ...song, sectionMap: { sections, tempoBpm, beatsPerBar, firstBarSeconds, revision } };
    }
    case 'partsNamed':
      return { ...song, parts: fact.parts };
    case 'partAnswered':
      return { ...song, parts: [...song.parts, fact.part] };
    case 'versionPosted':
      return { ...song, versions: [...song.versions, { ...fact.version, postedAt: at, postedBy: by }] };
    case 'stemsAttached': {
      const { versionId, stems, reason } = fact;
      if (!song.versions.some((version) => version.id === versionId))
        return damage('Stems were attached to no version.');
      return { ...song, attachedStems: [...song.attachedStems, { versionId, stems, reason, by, at }] };
    }
    case 'changeExplained': {
      const { olderVersionId, newerVersionId, place, text } = fact;
      return {
        ...song,
        explanations: [...song.explanations, { olderVersionId, newerVersionId, place, text, by, at }],
      };
    }
    case 'roundOpened':
      return {
        ...song,
        rounds: [...song.rounds, { gate: fact.gate, number: fact.number, status: 'open', declined: null }],
      };
    case 'roundAnswered':
      return withRound(song, fact, (round) =>
        round.status === 'sent'
          ? {
              ...round,
              status: 'answered',
              answeredBy: fact.versionId,
              answeredAt: at,
              stood: { counts: fact.counts, beyond: fact.beyond },
            }
          : damage('A round was answered that was not sent.'),
      );
    case 'noteWritten': {
      const { noteId, versionId, range, text, heardOn, gate, round, afterApproval, protections } = fact;
      const note: Note = {
        id: noteId,
        versionId,
        range,
        text,
        heardOn,
        by,
        at,
        gate,
        round,
        afterApproval,
        withdrawn: false,
        replies: [],
        protections,
      };
      const requests = fact.requests.map(({ proposedLevel, level, ...words }): Request => {
        const proposed = { level: proposedLevel, kind: words.kind, by, at, reason: null };
        return {
          ...words,
          noteId,
          level,
          decisions: [
            { ...proposed, how: 'proposed' },
            ...(level === proposedLevel ? [] : [{ ...proposed, level, how: 'author' as const }]),
          ],
          leftOut: null,
          mergedInto: null,
          ownMistake: null,
          answer: null,
          parked: false,
          lockBreak: null,
        };
      });
      return { ...song, notes: [...song.notes, note], requests: [...song.requests, ...requests] };
    }
    case 'noteWithdrawn':
      return withNote(song, fact.noteId, (note) => ({ ...note, withdrawn: true }));
    case 'noteReplied':
      return withNote(song, fact.noteId, (note) => ({
        ...note,
        replies: [...note.replies, { by, at, text: fact.text }],
      }));
    case 'contradictionFound':
      return {
        ...song,
        contradictions: [
          ...song.contradictions,
          { requestIds: fact.requestIds, why: fact.why, settled: null },
        ],
      };
    case 'contradictionSettled': {
      const { requestIds, kept, reason, leftOut } = fact;
      const settled: Song = {
        ...song,
        contradictions: changed(
          song.contradictions,
          (each) => samePair(each.requestIds, requestIds),
          (each) => ({ ...each, settled: { by, at, kept, reason } }),
        ),
      };
      return leftOut
        ? withRequest(settled, leftOut, (request) => ({ ...request, leftOut: { by, at, reason } }))
        : settled;
    }
    case 'requestLeftOut':
      return withRequest(song, fact.requestId, (request) => ({
        ...request,
        leftOut: { by, at, reason: fact.reason },
      }));
    case 'requestTakenBackIn':
      return {
        ...withRequest(song, fact.requestId, (request) => ({ ...request, leftOut: null })),
        contradictions: song.contradictions.map((each) =>
          each.settled?.kept &&
          each.settled.kept !== fact.requestId &&
          each.requestIds.includes(fact.requestId)
            ? { ...each, settled: null }
            : each,
        ),
      };
    case 'requestsMerged': {
      const merged = fact.others.reduce(
        (each, id) => withRequest(each, id, (request) => ({ ...request, mergedInto: fact.into })),
        song,
      );
      return {
        ...merged,
        keptApart: merged.keptApart.filter(
          ({ requestIds: [one, other] }) => standingFor(merged, one) !== standingFor(merged, other),
        ),
      };
    }
    case 'requestsUnmerged':
      return {
        ...song,
        requests: changed(
          song.requests,
          (request) => request.mergedInto === fact.into,
          (request) => ({ ...request, mergedInto: null }),
        ),
      };
    case 'requestsKeptApart': {
      const pairs = fact.requestIds.flatMap((one, index) =>
        fact.requestIds.slice(index + 1).map((other) => ({ requestIds: [one, other] as [string, string] })),
      );
      const known = ({ requestIds }: { requestIds: [string, string] }) =>
        song.keptApart.some((each) => samePair(each.requestIds, requestIds));
      return {
        ...song,
        keptApart: [
          ...song.keptApart,
          ...pairs.filter((pair) => !known(pair)).map((pair) => ({ ...pair, by, at })),
        ],
      };
    }
    case 'levelChosen':
      return withRequest(song, fact.requestId, (request) => ({
        ...request,
        level: fact.level,
        decisions: [
          ...request.decisions,
          { level: fact.level, kind: request.kind, how: 'author', by, at, reason: null },
        ],
      }));
    case 'requestResorted': {
      const { level, kind, reason } = fact;
      return withRequest(song, fact.requestId, (request) => ({
        ...request,
        level,
        kind,
        decisions: [...request.decisions, { level, kind, how: 'engineer', by, at, reason }],
      }));
    }
    case 'roundSent': {
      const { versionId, requestIds, terms } = fact;
      return withRound(song, fact, ({ gate, number }) => ({
        gate,
        number,
        status: 'sent',
        versionId,
        requestIds,
        terms,
        sentAt: at,
        sentBy: by,
        quotedHours: null,
        goAhead: null,
      }));
    }
    case 'roundQuoted':
      return withRound(song, fact, (round) =>
        round.status === 'sent'
          ? {
              ...round,
              quotedHours: fact.hours,
              terms: { ...round.terms, feeMinorUnits: fact.feeMinorUnits },
            }
          : damage('A round was quoted that was not sent.'),
      );
    case 'roundGoAheadGiven':
      return withRound(song, fact, (round) =>
        round.status === 'sent'
          ? { ...round, goAhead: { by, at, feeMinorUnits: fact.feeMinorUnits } }
          : damage('A go-ahead was given to a round that was not sent.'),
      );
    case 'roundDeclined':
      return withRound(song, fact, (round) =>
        round.status === 'sent'
          ? {
              gate: round.gate,
              number: round.number,
              status: 'open',
              declined: { by, at, reason: fact.reason },
            }
          : damage('A round was declined that was not sent.'),
      );
    case 'noteDaysExtended':
      return { ...song, noteDaysUntil: { ...song.noteDaysUntil, [fact.gate]: fact.until } };
    case 'requestParked':
      return withRequest(song, fact.requestId, (request) => ({ ...request, parked: true }));
    case 'requestUnparked':
      return withRequest(song, fact.requestId, (request) => ({ ...request, parked: false }));
    case 'requestAnswered':
      return withRequest(song, fact.requestId, (request) => ({
        ...request,
        answer: { kind: fact.answer, text: fact.text, by, at },
      }));
    case 'ownMistakeMarked':
      return withRequest(song, fact.requestId, (request) => ({
        ...request,
        ownMistake: { by, at, reason: fact.reason },
      }));
    case 'lockBroken': {
      const { number, requestId } = fact;
      const flagged: LockBreak = { number, requestId, flaggedAt: at, status: 'flagged' };
      return withRequest({ ...song, lockBreaks: [...song.lockBreaks, flagged] }, requestId, (request) => ({
        ...request,
        lockBreak: number,
      }));
    }
    case 'lockBreakWithdrawn': {
      const withdrawn = withLockBreak(song, fact.number, ({ number, requestId, flaggedAt }) => ({
        number,
        requestId,
        flaggedAt,
        status: 'withdrawn',
      }));
      return {
        ...withdrawn,
        requests: withdrawn.requests.map((request) =>
          request.lockBreak === fact.number ? { ...request, lockBreak: null } : request,
        ),
      };
    }
    case 'changeDeclined':
      return withLockBreak(song, fact.number, ({ number, requestId, flaggedAt }) => ({
        number,
        requestId,
        flaggedAt,
        status: 'declined',
        reason: fact.reason,
        by,
      }));
    case 'changePriced':
      return withLockBreak(song, fact.number, ({ number, requestId, flaggedAt }) => ({
        number,
        requestId,
        flaggedAt,
        status: 'priced',
        price: { ...fact.price, by, at },
      }));
    case 'changeAccepted':
      return withLockBreak(song, fact.number, (each) =>
        each.status === 'priced'
          ? { ...each, status: 'accepted', acceptedBy: by, acceptedAt: at }
          : damage('A change was accepted that was not priced.'),
      );
    case 'changeRefused':
      return withLockBreak(song, fact.number, (each) =>
        each.status === 'priced'
          ? { ...each, status: 'refused', reason: fact.reason, by }
          : damage('A change was refused that was not priced.'),
      );
    case 'lockOpened': {
      const gate = song.gates.production;
      if (gate.status !== 'closed') return damage('A lock was opened that was not closed.');
      return withGate(song, 'production', { ...gate, signatures: [] });
    }
    case 'signedOff': {
      const gate = song.gates[fact.gate];
      const { versionId, sha256, statement } = fact;
      const signature = { personId: by, versionId, sha256, at, statement };
      return withGate(song, fact.gate, {
        ...gate,
        signatures: [...gate.signatures.filter((each) => each.personId !== by), signature],
      });
    }
    case 'signatureWithdrawn': {
      const gate = song.gates[fact.gate];
      return withGate(song, fact.gate, {
        ...gate,
        signatures: gate.signatures.filter((each) => each.personId !== by),
      });
    }
    case 'gateClosed': {
      const { signatures, reopened } = song.gates[fact.gate];
      const { versionId, sha256 } = fact;
      return withGate(song, fact.gate, {
        status: 'closed',
        signatures,
        versionId,
        sha256,
        closedAt: at,
        reopened,
        reopening: null,
      });
    }
    case 'productionLocked': {
      const contained = new Set(fact.changes);
      return {
        ...song,
        lockBreaks: song.lockBreaks.map((each) =>
          each.status === 'accepted' && contained.has(each.number)
            ? { ...each, status: 'delivered', sha256: fact.sha256 }
            : each,
        ),
      };
    }
    case 'reopeningAsked': {
      const gate = song.gates[fact.gate];
      if (gate.status !== 'closed') return damage('A gate was asked to be reopened that was open.');
      const { reason, feeMinorUnits, feeClause } = fact;
      return withGate(song, fact.gate, { ...gate, reopening: { reason, by, at, feeMinorUnits, feeClause } });
    }
    case 'reopeningDeclined': {
      const gate = song.gates[fact.gate];
      if (gate.status !== 'closed') return damage('A reopening was declined at an open gate.');
      return withGate(song, fact.gate, { ...gate, reopening: null });
    }
    case 'gateReopened': {
      const gate = song.gates[fact.gate];
      if (gate.status !== 'closed') return damage('A gate was reopened that was open.');
      const open = withGate(song, fact.gate, {
        status: 'open',
        signatures: [],
        reopened: gate.reopened + 1,
        reopenedAt: at,
      });
      const nextRound =
        song.rounds.filter((round) => round.gate === fact.gate && round.status !== 'open').length + 1;
      return {
        ...open,
        notes: song.notes.map((note) =>
          note.afterApproval && note.gate === fact.gate && !note.round && !note.withdrawn
            ? { ...note, round: { gate: fact.gate, number: nextRound } }
            : note,
        ),
        reopeningCharges: fact.feeMinorUnits
          ? [
              ...song.reopeningCharges,
              {
                kind: 'reopening',
                words: `${fact.gate === 'mix' ? 'Mix' : 'Master'} gate reopened`,
                clause: fact.feeClause,
                amountMinorUnits: fact.feeMinorUnits,
                agreedBy: by,
                agreedAt: at,
              },
            ]
          : song.reopeningCharges,
      };
    }
  }
}

/** The state that a ledger's entries add up to; `null` for none. */
export function fold(entries: Iterable<UnchainedEntry>): RecordState | null {
  let record: RecordState | null = null;
  for (const entry of entries) record = evolve(record, entry);
  return record;
}
