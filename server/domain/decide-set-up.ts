import { sameValue } from './canonical-json.ts';
import type { CommandOf } from './command.ts';
import type { ContractTerms } from './contract.ts';
import { gates } from './contract.ts';
import type { Fact } from './ledger-entry.ts';
import { isEngineerSide, type Person, type PersonId } from './person.ts';
import { mostParts, type RecordState } from './record.ts';
import { agreedTerms, refuse, requireReason, requireRole, songOf } from './refused.ts';
import type { Rules } from './rule.ts';
import { sectionFault } from './section.ts';

export function openRecord(
  record: RecordState | null,
  { recordId, title, act, owner }: CommandOf<'openRecord'>,
  by: PersonId,
): Fact[] {
  if (!title.trim()) refuse('malformed', 'A record needs a title.');
  if (owner.id !== by || !owner.owner) refuse('malformed', 'A record is opened by its owner.');
  if (record) refuse('already_exists', 'This record exists already.');
  return [
    { type: 'recordOpened', recordId, title, act },
    { type: 'personAdded', person: owner },
  ];
}

/** The people whom the contract gives a part: they can't leave the record while it does. */
function namedIn(terms: ContractTerms): Set<PersonId> {
  return new Set([terms.spokesperson, terms.payer, ...gates.flatMap((gate) => terms.signers[gate])]);
}

function checkPerson(person: Person): void {
  if (!person.name.trim()) refuse('malformed', 'A person needs a name.');
  if (!person.roles.length && !person.owner) refuse('malformed', 'A person needs a role.');
}

function checkNamed(record: RecordState, terms: ContractTerms): void {
  for (const id of namedIn(terms))
    if (!record.people[id]) refuse('person_unknown', 'The contract names somebody who is not on the record.');
}

function checkTerms(terms: ContractTerms): void {
  const counts = [
    terms.includedMixRounds,
    terms.includedMasterRounds,
    terms.productionRateMinorUnits,
    terms.newMixSurchargeMinorUnits,
    terms.afterApprovalMinorUnits,
    terms.retentionDays,
    ...(terms.pointsCap === null ? [] : [terms.pointsCap]),
    ...(terms.roundFee.basis === 'flat'
      ? [terms.roundFee.amountMinorUnits]
      : [terms.roundFee.rateMinorUnits]),
  ];
  if (counts.some((count) => !Number.isSafeInteger(count) || count < 0))
    refuse('malformed', 'Amounts, counts and days in a contract are whole numbers, zero or more.');
  if (!Number.isFinite(terms.noteDays) || terms.noteDays <= 0)
    refuse('malformed', 'The days for notes are more than none: without any, every round would be late.');
  if (
    terms.roundFee.basis === 'hourly' &&
    !(terms.roundFee.minimumHours >= 0 && terms.roundFee.minimumHours < 1000)
  )
    refuse('malformed', 'The least hours of a further round are zero or more.');
  if (!/^[A-Z]{3}$/.test(terms.currency))
    refuse('malformed', 'The currency is a three-letter code such as EUR.');
  for (const gate of gates)
    if (!terms.signers[gate].length) refuse('malformed', `Somebody must sign at the ${gate} gate.`);
}

const sides = (record: RecordState, person: Person) => ({
  client: record.contract?.terms.payer === person.id,
  engineer: isEngineerSide(person) && (person.owner || person.roles.includes('mix engineer')),
});

type SetUpCommand =
  | 'renameRecord'
  | 'addPerson'
  | 'changePerson'
  | 'removePerson'
  | 'issueLink'
  | 'revokeLink'
  | 'draftContract'
  | 'agreeContract'
  | 'proposeAmendment'
  | 'acceptAmendment'
  | 'declineAmendment'
  | 'addSong'
  | 'renameSong'
  | 'nameSections'
  | 'nameParts'
  | 'answerPartQuestion';

/** Record, people, links, contract, songs, sections and parts. */
export const decideSetUp: Rules<SetUpCommand> = {
  renameRecord: ({ record, person, command: { title, act } }) => {
    requireRole(record, person, ['owner'], 'Renaming the record');
    if (!title.trim()) refuse('malformed', 'A record needs a title.');
    return title === record.title && act === record.act ? [] : [{ type: 'recordRenamed', title, act }];
  },

  addPerson: ({ record, person, command }) => {
    requireRole(record, person, ['owner'], 'Adding people');
    checkPerson(command.person);
    const known = record.people[command.person.id];
    if (!known) return [{ type: 'personAdded', person: command.person }];
    return sameValue(known, command.person)
      ? []
      : refuse('already_exists', 'Somebody else is on the record under this id.');
  },

  changePerson: ({ record, person, command }) => {
    const known = record.people[command.person.id];
    if (!known) refuse('person_unknown', 'There is no such person on this record.');
    requireRole(record, person, ['owner'], 'Changing people');
    checkPerson(command.person);
    if (known.owner !== command.person.owner) refuse('malformed', 'A record keeps its owner.');
    return sameValue(known, command.person) ? [] : [{ type: 'personChanged', person: command.person }];
  },

  removePerson: ({ record, person, command: { personId } }) => {
    const leaving = record.people[personId];
    if (!leaving) refuse('person_unknown', 'There is no such person on this record.');
    requireRole(record, person, ['owner'], 'Removing people');
    if (leaving.owner) refuse('malformed', 'A record keeps its owner.');
    const { contract } = record;
    const pending = contract?.status === 'agreed' ? contract.amendment : null;
    if ([contract, pending].some((each) => each && namedIn(each.terms).has(personId)))
      refuse(
        'person_in_contract',
        `The contract gives ${leaving.name} a part. Name somebody else in the contract first.`,
      );
    if (record.acted.includes(personId))
      refuse(
        'person_in_contract',
        `What ${leaving.name} did stays on the record under that name. Revoke the link instead.`,
      );
    return [{ type: 'personRemoved', personId }];
  },

  issueLink: ({ record, person, command: { personId, linkId } }) => {
    if (!record.people[personId]) refuse('person_unknown', 'There is no such person on this record.');
    requireRole(record, person, ['owner'], 'Making personal links');
    const known = record.links[linkId];
    if (known)
      return known.personId === personId && !known.revoked
        ? []
        : refuse('already_exists', 'Another link is on the record under this id.');
    return [{ type: 'linkIssued', personId, linkId }];
  },

  revokeLink: ({ record, person, command: { personId, linkId } }) => {
    const link = record.links[linkId];
    if (link?.personId !== personId) refuse('person_unknown', 'Nobody on this record has such a link.');
    requireRole(record, person, ['owner'], 'Revoking personal links');
    if (link.revoked) return [];
    return [{ type: 'linkRevoked', personId, linkId }];
  },

  draftContract: ({ record, person, command: { terms } }) => {
    checkNamed(record, terms);
    requireRole(record, person, ['owner'], 'Writing the contract');
    checkTerms(terms);
    if (record.contract?.status === 'agreed')
      refuse(
        'contract_agreed',
        'The contract is agreed and is changed by an amendment that both sides accept.',
      );
    if (sameValue(record.contract?.terms, terms)) return [];
    return [{ type: 'contractDrafted', terms }];
  },

  agreeContract: ({ record, person, command: { how } }) => {
    requireRole(record, person, ['owner', 'payer'], 'Agreeing to the contract');
    if (!record.contract)
      refuse('contract_missing', 'There is no contract yet. The owner writes it on the set-up page.');
    if (record.contract.status === 'agreed') return [];
    requireReason(how, 'How it was agreed');
    return [{ type: 'contractAgreed', how }];
  },

  proposeAmendment: ({ record, person, command: { terms, reason } }) => {
    const side = sides(record, person);
    checkNamed(record, terms);
    requireRole(record, person, ['owner', 'mix engineer', 'payer'], 'Proposing an amendment');
    checkTerms(terms);
    agreedTerms(record);
    const contract = record.contract;
    if (contract?.status !== 'agreed') return [];
    if (contract.amendment)
      refuse(
        'amendment_pending',
        `Amendment ${contract.amendment.number} waits for an answer. Settle that one first.`,
      );
    requireReason(reason, 'An amendment');
    return [
      {
        type: 'amendmentProposed',
        number: contract.history.length + 1,
        terms,
        reason,
        side: side.engineer ? 'engineer' : 'client',
      },
    ];
  },

  acceptAmendment: ({ record, person, command: { number } }) => {
    requireRole(record, person, ['owner', 'mix engineer', 'payer'], 'Accepting an amendment');
    const amendment = record.contract?.status === 'agreed' ? record.contract.amendment : null;
    if (amendment?.number !== number)
      refuse('no_amendment_pending', `Amendment ${number} is not waiting for an answer.`);
    const otherSide = amendment.side === 'engineer' ? 'client' : 'engineer';
    if (!sides(record, person)[otherSide])
      refuse('own_side', 'An amendment is accepted by the other side of the contract.');
    return [{ type: 'amendmentAccepted', number }];
  },

  declineAmendment: ({ record, person, command: { number, reason } }) => {
    requireRole(record, person, ['owner', 'mix engineer', 'payer'], 'Declining an amendment');
    const amendment = record.contract?.status === 'agreed' ? record.contract.amendment : null;
    if (amendment?.number !== number)
      refuse('no_amendment_pending', `Amendment ${number} is not waiting for an answer.`);
    requireReason(reason, 'Declining an amendment');
    return [{ type: 'amendmentDeclined', number, reason }];
  },

  addSong: ({ record, person, command: { song, title } }) => {
    requireRole(record, person, ['owner'], 'Adding songs');
    if (!title.trim()) refuse('malformed', 'A song needs a title.');
    const known = record.songs[song];
    if (!known) return [{ type: 'songAdded', song, title }];
    return known.title === title
      ? []
      : refuse('already_exists', 'Another song is on the record under this id.');
  },

  renameSong: ({ record, person, command: { song, title } }) => {
    const known = songOf(record, song);
    requireRole(record, person, ['owner'], 'Renaming songs');
    if (!title.trim()) refuse('malformed', 'A song needs a title.');
    return known.title === title ? [] : [{ type: 'songRenamed', song, title }];
  },

  nameSections: ({ record, person, command }) => {
    const { sectionMap } = songOf(record, command.song);
    requireRole(
      record,
      person,
      ['owner', 'mix engineer', 'producer', 'mastering engineer'],
      'Naming the sections',
    );
    const { song, sections, tempoBpm, beatsPerBar, firstBarSeconds } = command;
    const fault = sectionFault(sections);
    if (fault) refuse('malformed', fault);
    if (tempoBpm !== null && !(tempoBpm >= 20 && tempoBpm <= 400))
      refuse('malformed', 'A tempo lies between 20 and 400 beats a minute.');
    if (command.basedOnRevision !== sectionMap.revision)
      refuse(
        'sections_changed_meanwhile',
        'Somebody else changed the sections meanwhile. Your edit is kept on this page; look at theirs and save again.',
      );
    return [
      {
        type: 'sectionsNamed',
        song,
        sections,
        tempoBpm,
        beatsPerBar,
        firstBarSeconds,
        revision: sectionMap.revision + 1,
      },
    ];
  },

  nameParts: ({ record, person, command: { song, parts } }) => {
    const known = songOf(record, song);
    requireRole(record, person, ['owner', 'mix engineer', 'producer'], 'Listing the parts');
    if (sameValue(known.parts, parts)) return [];
    return [{ type: 'partsNamed', song, parts }];
  },

  // Anybody on the record can tell what they hear; what is on the list already was said by somebody else, and stays.
  answerPartQuestion: ({ record, command: { song, part, delivered } }) => {
    const { parts } = songOf(record, song);
    const name = part.trim();
    if (!name) refuse('malformed', 'The part that the answer is about has no name.');
    if (parts.some((each) => each.name.trim().toLowerCase() === name.toLowerCase())) return [];
    if (parts.length >= mostParts)
      refuse(
        'malformed',
        `The list of parts is full: it holds ${mostParts}. Ask the engineer to shorten it.`,
      );
    return [{ type: 'partAnswered', song, part: { name, delivered } }];
  },
};
