import type { CommandType } from '../domain/command.ts';
import { type Gate, gates } from '../domain/contract.ts';
import { posters } from '../domain/decide-version.ts';
import type { Person } from '../domain/person.ts';
import { type RecordState, rolesOf } from '../domain/record.ts';

/** Whether a person may post at a gate, and so explain what changed there and attach stems to what was posted. */
export function postsAt(record: RecordState, person: Person, gate: Gate): boolean {
  const held = rolesOf(record, person);
  return posters[gate].some((role) => (role === 'owner' ? person.owner : held.includes(role)));
}

/**
 * The commands that a person could give on a record if its state allowed them, so that a page offers what its reader
 * may do. The rules themselves decide again, and their word counts.
 */
export function entitlements(record: RecordState, person: Person): CommandType[] {
  const held = new Set<string>(rolesOf(record, person));
  const terms = record.contract?.terms;
  if (person.owner) held.add('owner');
  if (terms?.payer === person.id) held.add('payer');
  const signs = gates.some((gate) => terms?.signers[gate].includes(person.id));
  if (signs) held.add('signer');
  const any = (...names: string[]) => names.some((name) => held.has(name));
  const found: CommandType[] = [
    'writeNote',
    'withdrawNote',
    'replyToNote',
    'chooseLevel',
    'answerPartQuestion',
  ];
  const add = (entitled: boolean, ...commands: CommandType[]) => {
    if (entitled) found.push(...commands);
  };
  add(
    any('owner'),
    'renameRecord',
    'addPerson',
    'changePerson',
    'removePerson',
    'issueLink',
    'revokeLink',
    'draftContract',
    'addSong',
    'renameSong',
  );
  add(any('owner', 'payer'), 'agreeContract');
  add(any('owner', 'mix engineer', 'payer'), 'proposeAmendment', 'acceptAmendment', 'declineAmendment');
  add(any('owner', 'mix engineer', 'producer', 'mastering engineer'), 'nameSections');
  add(any('owner', 'mix engineer', 'producer'), 'nameParts');
  add(
    any('owner', 'mix engineer', 'producer', 'mastering engineer'),
    'postVersion',
    'attachStems',
    'explainChange',
  );
  add(any('mix engineer', 'producer', 'mastering engineer'), 'resortRequest', 'answerRequest');
  add(any('mix engineer', 'mastering engineer'), 'markOwnMistake', 'quoteRound');
  add(any('mix engineer', 'mastering engineer', 'owner'), 'extendNoteDays');
  add(
    any('spokesperson'),
    'settleContradiction',
    'leaveOutRequest',
    'takeRequestBackIn',
    'mergeRequests',
    'unmergeRequests',
    'keepRequestsApart',
    'sendRound',
  );
  add(any('producer'), 'declineChange', 'priceChange');
  add(
    any('payer'),
    'acceptChange',
    'refuseChange',
    'giveRoundGoAhead',
    'declineRound',
    'giveReopeningGoAhead',
    'declineReopening',
  );
  add(any('signer'), 'signOff', 'withdrawSignature');
  add(any('owner', 'payer', 'signer'), 'reopenGate');
  return found;
}
