import type { Gate, RoundGate } from './contract.ts';
import { agreedVersion } from './gate.ts';
import type { Fact } from './ledger-entry.ts';
import {
  awaitsVersion,
  isOfSignedMix,
  productionLock,
  type RecordState,
  roundStandings,
  type Song,
} from './record.ts';
import { agreedTerms, money, refuse, requireReason, requireRole, songOf, versionOf } from './refused.ts';
import { reopeningPrice } from './reopening-price.ts';
import type { Rules } from './rule.ts';
import type { Version } from './version.ts';

/** Closed on a signed file; the production's gate is signed again while its lock is open for a change. */
function isShut(song: Song, gate: Gate): boolean {
  return (
    song.gates[gate].status === 'closed' &&
    !(gate === 'production' && productionLock(song).status === 'open for changes')
  );
}

function requireFile(version: Version, gate: Gate, sha256: string): void {
  if (version.gate !== gate || version.file.sha256 !== sha256)
    refuse(
      'wrong_file',
      'The file that you are signing is not the one on the record under this version. Open the page again and compare the SHA-256.',
    );
}

/** A gate can be signed: it is open, the file is the one on the record, and nothing hangs. */
function requireSignable(
  record: RecordState,
  song: Song,
  version: Version,
  gate: Gate,
  sha256: string,
): void {
  const lock = productionLock(song);
  if (gate === 'production') {
    if (lock.status === 'locked')
      refuse('production_locked', 'The production is locked on a signed file already.');
    requireFile(version, gate, sha256);
    if (
      lock.status === 'open for changes' &&
      !version.changes.some((number) => lock.changes.includes(number))
    )
      refuse(
        'wrong_file',
        `${version.name} contains none of the changes that the lock is open for. Sign the new production.`,
      );
    return;
  }
  if (lock.status === 'open')
    refuse('production_not_locked', 'The production is not locked yet. Sign the production first.');
  if (gate === 'master' && song.gates.mix.status === 'open')
    refuse('mix_gate_open', 'The mix gate is open. Sign one mix version first.');
  if (song.gates[gate].status === 'closed')
    refuse('gate_closed', `The ${gate} gate is closed on a signed file already.`);
  requireFile(version, gate, sha256);
  if (gate === 'master' && !isOfSignedMix(song, version))
    refuse(
      'wrong_file',
      `${version.name} was made from a mix that was signed before the mix gate was reopened. Sign a master of the mix that is signed now.`,
    );
  if (lock.status === 'open for changes')
    refuse(
      'change_in_progress',
      `The production lock is open for change ${lock.changes.join(', ')}. The new production is delivered and signed first.`,
    );
  const standing = roundStandings(record, song, gate).at(-1);
  if (standing?.waitsForGoAhead)
    refuse(
      'round_waits_for_go_ahead',
      `Round ${standing.round.number} waits for the payer's go-ahead. Give it or decline it, then sign.`,
    );
  if (standing?.round.status === 'sent' && awaitsVersion(song, standing.round))
    refuse(
      'round_awaits_answer',
      `Round ${standing.round.number} was sent and is not answered: a new version is coming. Sign that one.`,
    );
}

function closed(song: Song, gate: Gate, version: Version): Fact[] {
  const { id: versionId, changes } = version;
  const { sha256 } = version.file;
  const gateClosed: Fact = { type: 'gateClosed', song: song.id, gate, versionId, sha256 };
  return gate === 'production'
    ? [gateClosed, { type: 'productionLocked', song: song.id, versionId, sha256, changes }]
    : [gateClosed];
}

function reopened(
  song: Song,
  gate: RoundGate,
  reason: string,
  feeMinorUnits: number,
  feeClause: string,
): Fact[] {
  const facts: Fact[] = [{ type: 'gateReopened', song: song.id, gate, reason, feeMinorUnits, feeClause }];
  const rounds = song.rounds.filter((round) => round.gate === gate);
  if (rounds.at(-1)?.status !== 'open')
    facts.push({ type: 'roundOpened', song: song.id, gate, number: rounds.length + 1 });
  if (gate === 'mix' && song.gates.master.status === 'closed')
    facts.push(...reopened(song, 'master', 'The mix gate was reopened.', 0, ''));
  return facts;
}

type GateCommand =
  | 'signOff'
  | 'withdrawSignature'
  | 'reopenGate'
  | 'giveReopeningGoAhead'
  | 'declineReopening';

/** Sign-off on one exact file, which closes a gate, and reopening it on the record. */
export const decideGate: Rules<GateCommand> = {
  signOff: ({ record, person, at, command: { song: songId, gate, versionId, sha256, statement } }) => {
    const song = songOf(record, songId);
    const version = versionOf(song, versionId);
    const terms = agreedTerms(record);
    if (!terms.signers[gate].includes(person.id))
      refuse('not_a_signer', `The contract does not ask for your signature at the ${gate} gate.`);
    const state = song.gates[gate];
    const signature = { personId: person.id, versionId, sha256, at, statement };
    const agreed = agreedVersion(
      [...state.signatures.filter((each) => each.personId !== person.id), signature],
      terms.signers[gate],
    );
    const known = state.signatures.find((each) => each.personId === person.id);
    const signedBefore = known?.versionId === versionId && known.sha256 === sha256;
    if (signedBefore && (!agreed || isShut(song, gate))) return [];
    requireSignable(record, song, version, gate, sha256);
    const signed: Fact = { type: 'signedOff', song: song.id, gate, versionId, sha256, statement };
    return [...(signedBefore ? [] : [signed]), ...(agreed ? closed(song, gate, version) : [])];
  },

  withdrawSignature: ({ record, person, command: { song: songId, gate, reason } }) => {
    const song = songOf(record, songId);
    if (isShut(song, gate))
      refuse(
        'gate_closed',
        'The gate is closed: the signature stands. The gate can be reopened on the record.',
      );
    if (!song.gates[gate].signatures.some((each) => each.personId === person.id)) return [];
    requireReason(reason, 'Withdrawing a signature');
    return [{ type: 'signatureWithdrawn', song: song.id, gate, reason }];
  },

  reopenGate: ({ record, person, command: { song: songId, gate, reason, agreedFeeMinorUnits } }) => {
    const song = songOf(record, songId);
    const isSigner = record.contract?.terms.signers[gate].includes(person.id) ?? false;
    if (!isSigner) requireRole(record, person, ['owner', 'payer'], 'Reopening a gate (like its signers)');
    const terms = agreedTerms(record);
    const state = song.gates[gate];
    if (state.status === 'open') refuse('gate_open', `The ${gate} gate is open.`);
    if (state.reopening) refuse('reopening_pending', 'A reopening waits for the payer already.');
    requireReason(reason, 'Reopening a gate');
    const price = reopeningPrice(record, song, gate);
    if (price.feeMinorUnits && agreedFeeMinorUnits !== price.feeMinorUnits)
      refuse(
        'reopening_beyond_contract',
        `Reopening the ${gate} gate costs ${money(terms, price.feeMinorUnits)} (${price.clause}). Go on knowing that.`,
        { feeMinorUnits: price.feeMinorUnits },
      );
    if (price.feeMinorUnits === 0 || terms.payer === person.id)
      return reopened(song, gate, reason, price.feeMinorUnits, price.clause);
    return [
      {
        type: 'reopeningAsked',
        song: song.id,
        gate,
        reason,
        feeMinorUnits: price.feeMinorUnits,
        feeClause: price.clause,
      },
    ];
  },

  giveReopeningGoAhead: ({ record, person, command: { song: songId, gate } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'The go-ahead');
    const state = song.gates[gate];
    const pending = state.status === 'closed' ? state.reopening : null;
    if (!pending) return refuse('not_pending', 'No reopening waits for a go-ahead.');
    return reopened(song, gate, pending.reason, pending.feeMinorUnits, pending.feeClause);
  },

  declineReopening: ({ record, person, command: { song: songId, gate, reason } }) => {
    const song = songOf(record, songId);
    requireRole(record, person, ['payer'], 'Declining the go-ahead');
    const state = song.gates[gate];
    if (state.status !== 'closed' || !state.reopening)
      refuse('not_pending', 'No reopening waits for a go-ahead.');
    requireReason(reason, 'Declining the go-ahead');
    return [{ type: 'reopeningDeclined', song: song.id, gate, reason }];
  },
};
