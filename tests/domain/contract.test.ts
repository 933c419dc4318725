import { describe, expect, it } from 'vitest';
import type { ContractTerms } from '../../server/domain/contract.ts';
import { roundFeeClause, roundFeeMinorUnits } from '../../server/domain/contract.ts';
import { defaultTerms } from '../../server/domain/default-contract.ts';
import type { Person } from '../../server/domain/person.ts';
import { RecordUnderTest } from './record-under-test.ts';
import { play, storyAt, storyBefore, storyPeople, storyTerms } from './worked-story.ts';

/**
 * Proves the rules of setting a record up: who opens it, who is on it and may leave it, and that a contract is
 * drafted, agreed once, and changed afterwards only by an amendment that the other side accepts.
 */
const owner: Person = { ...storyPeople.mixer, roles: ['mix engineer'] };
const codeOf = (record: RecordUnderTest, ...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = record.decide(...given);
  return decision.ok ? null : decision.refusal.code;
};
const factsOf = (record: RecordUnderTest, ...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = record.decide(...given);
  if (!decision.ok) throw new Error(decision.refusal.message);
  return decision.facts.map((fact) => fact.type);
};

describe('a record', () => {
  it('is opened by its owner, once', () => {
    const record = new RecordUnderTest();
    const open = { type: 'openRecord', recordId: 'r', title: 'T', act: 'A', owner } as const;
    expect(codeOf(record, 'artist', open)).toBe('malformed');
    expect(codeOf(record, 'mixer', { ...open, owner: { ...owner, owner: false } })).toBe('malformed');
    expect(codeOf(record, 'mixer', { ...open, title: ' ' })).toBe('malformed');
    expect(record.done('mixer', open)).toEqual(['recordOpened', 'personAdded']);
    expect(codeOf(record, 'mixer', open)).toBe('already_exists');
  });

  it('is given nothing before it is opened', () => {
    const record = new RecordUnderTest();
    expect(codeOf(record, 'mixer', { type: 'addSong', song: 's', title: 'S' })).toBe('not_on_record');
  });

  it('has songs under their ids and titles', () => {
    const record = storyAt(0);
    const add = { type: 'addSong', song: 'tide', title: 'Tide' } as const;
    expect(record.done('mixer', add)).toEqual(['songAdded']);
    expect(record.done('mixer', add)).toEqual([]);
    expect(codeOf(record, 'mixer', { ...add, title: 'Ebb' })).toBe('already_exists');
    expect(record.done('mixer', { type: 'renameSong', song: 'tide', title: 'Ebb' })).toEqual(['songRenamed']);
    expect(record.song('tide').title).toBe('Ebb');
    expect(record.record.songOrder).toEqual(['lanterns', 'tide']);
  });
});

describe('people', () => {
  it('need a name and a role', () => {
    const record = storyAt(0);
    const person: Person = { id: 'singer', name: 'Uma', roles: ['artist'], owner: false };
    expect(codeOf(record, 'mixer', { type: 'addPerson', person: { ...person, name: '' } })).toBe('malformed');
    expect(codeOf(record, 'mixer', { type: 'addPerson', person: { ...person, roles: [] } })).toBe(
      'malformed',
    );
    expect(factsOf(record, 'mixer', { type: 'addPerson', person })).toEqual(['personAdded']);
  });

  it('keep the owner', () => {
    const record = storyAt(0);
    expect(codeOf(record, 'mixer', { type: 'removePerson', personId: 'mixer' })).toBe('malformed');
    expect(codeOf(record, 'mixer', { type: 'changePerson', person: { ...owner, owner: false } })).toBe(
      'malformed',
    );
  });

  it('may leave until the contract, a pending amendment or the ledger names them', () => {
    const record = storyAt(0);
    expect(codeOf(record, 'mixer', { type: 'removePerson', personId: 'artist' })).toBe('person_in_contract');
    expect(factsOf(record, 'mixer', { type: 'removePerson', personId: 'drummer' })).toEqual([
      'personRemoved',
    ]);
    record.done('mixer', {
      type: 'proposeAmendment',
      terms: { ...storyTerms, payer: 'manager' },
      reason: 'the manager pays from now on',
    });
    expect(codeOf(record, 'mixer', { type: 'removePerson', personId: 'manager' })).toBe('person_in_contract');
    const later = storyAt(3);
    expect(codeOf(later, 'mixer', { type: 'removePerson', personId: 'drummer' })).toBe('person_in_contract');
    expect(codeOf(later, 'mixer', { type: 'removePerson', personId: 'producer' })).toBe('person_in_contract');
    expect(later.done('mixer', { type: 'removePerson', personId: 'manager' })).toEqual(['personRemoved']);
    expect(codeOf(later, 'manager', { type: 'renameSong', song: 'lanterns', title: 'L' })).toBe(
      'not_on_record',
    );
  });

  it('have links that are issued and revoked once', () => {
    const record = storyAt(0);
    const issue = { type: 'issueLink', personId: 'artist', linkId: 'link-1' } as const;
    const revoke = { ...issue, type: 'revokeLink' } as const;
    expect(codeOf(record, 'mixer', revoke)).toBe('person_unknown');
    expect(record.done('mixer', issue)).toEqual(['linkIssued']);
    expect(record.done('mixer', issue)).toEqual([]);
    expect(codeOf(record, 'mixer', { ...issue, personId: 'label' })).toBe('already_exists');
    expect(record.done('mixer', revoke)).toEqual(['linkRevoked']);
    expect(record.done('mixer', revoke)).toEqual([]);
    expect(codeOf(record, 'mixer', issue)).toBe('already_exists');
  });
});

describe('a contract', () => {
  const withDraft = () => play(new RecordUnderTest(), storyBefore.slice(0, -2));

  it('is drafted as often as needed, and agreed once, in words', () => {
    const record = withDraft();
    expect(factsOf(record, 'mixer', { type: 'draftContract', terms: storyTerms })).toEqual([]);
    const terms = { ...storyTerms, includedMixRounds: 4 };
    expect(record.done('mixer', { type: 'draftContract', terms })).toEqual(['contractDrafted']);
    expect(codeOf(record, 'artist', { type: 'agreeContract', how: 'yes' })).toBe('not_entitled');
    expect(codeOf(record, 'label', { type: 'agreeContract', how: ' ' })).toBe('reason_missing');
    expect(record.done('label', { type: 'agreeContract', how: 'on this page' })).toEqual(['contractAgreed']);
    expect(record.done('label', { type: 'agreeContract', how: 'again' })).toEqual([]);
    expect(record.record.contract).toMatchObject({
      status: 'agreed',
      history: [{ number: 1, terms, agreedBy: 'label', how: 'on this page' }],
    });
  });

  const unfit: [string, Partial<ContractTerms>][] = [
    ['fewer rounds than none', { includedMixRounds: -1 }],
    ['half a round', { includedMixRounds: 2.5 }],
    ['a part of a cent', { roundFee: { basis: 'flat', amountMinorUnits: 80.5 } }],
    ['no number for an amount', { productionRateMinorUnits: Number.NaN }],
    ['fewer hours than none', { roundFee: { basis: 'hourly', rateMinorUnits: 6000, minimumHours: -1 } }],
    ['no days for notes, which would make every round late', { noteDays: 0 }],
    ['a currency that is no code', { currency: 'euro' }],
    ['nobody who signs the mix', { signers: { ...storyTerms.signers, mix: [] } }],
  ];
  for (const [words, change] of unfit)
    it(`is not drafted with ${words}`, () => {
      const terms = { ...storyTerms, ...change };
      expect(codeOf(withDraft(), 'mixer', { type: 'draftContract', terms })).toBe('malformed');
    });

  it('has a fee by the hour that never falls below its minimum', () => {
    // Common practice: hourly overage with a one-hour minimum.
    const fee = { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 1 } as const;
    expect(roundFeeMinorUnits(fee)).toBe(7000);
    expect(roundFeeMinorUnits(fee, 0.5)).toBe(7000);
    expect(roundFeeMinorUnits(fee, 1.5)).toBe(10_500);
    expect(roundFeeClause({ ...storyTerms, roundFee: fee })).toBe(
      'each further round € 70.00 an hour, at least 1 h',
    );
    expect(roundFeeMinorUnits(storyTerms.roundFee, 5)).toBe(8000);
  });

  it('starts from the trade’s defaults', () => {
    // JOB.md, “Rounds and the contract”: three mix rounds and one master round.
    expect(defaultTerms()).toMatchObject({ includedMixRounds: 3, includedMasterRounds: 1 });
  });
});

describe('an amendment', () => {
  const terms = { ...storyTerms, includedMixRounds: 3 };
  const propose = { type: 'proposeAmendment', terms, reason: 'one more round as a courtesy' } as const;

  for (const [mine, theirs] of [
    ['mixer', 'label'],
    ['label', 'mixer'],
  ] as const)
    it(`that the ${mine} proposes is accepted by the ${theirs}, and the old terms stay readable`, () => {
      const record = storyAt(2);
      record.done(mine, propose);
      expect(record.record.contract?.terms.includedMixRounds).toBe(2);
      expect(codeOf(record, mine, { type: 'acceptAmendment', number: 2 })).toBe('own_side');
      expect(codeOf(record, 'artist', { type: 'acceptAmendment', number: 2 })).toBe('not_entitled');
      expect(record.done(theirs, { type: 'acceptAmendment', number: 2 })).toEqual(['amendmentAccepted']);
      expect(record.record.contract).toMatchObject({
        terms: { includedMixRounds: 3 },
        history: [
          { number: 1, terms: { includedMixRounds: 2 } },
          { number: 2, terms: { includedMixRounds: 3 }, agreedBy: theirs },
        ],
        amendment: null,
      });
      expect(codeOf(record, theirs, { type: 'acceptAmendment', number: 2 })).toBe('no_amendment_pending');
    });

  it('that is declined changes nothing, and another one can follow', () => {
    const record = storyAt(2);
    record.done('label', propose);
    record.done('mixer', { type: 'declineAmendment', number: 2, reason: 'two were agreed' });
    expect(record.record.contract?.terms).toEqual(storyTerms);
    expect(record.done('mixer', propose)).toEqual(['amendmentProposed']);
  });

  it('does not touch what was said about money when a round was sent', () => {
    const record = storyAt(11);
    record.done('mixer', {
      ...propose,
      terms: { ...storyTerms, roundFee: { basis: 'flat', amountMinorUnits: 12_000 } },
    });
    record.done('label', { type: 'acceptAmendment', number: 2 });
    record.done('label', { type: 'giveRoundGoAhead', song: 'lanterns', gate: 'mix', number: 4 });
    expect(record.song('lanterns').rounds.at(-1)).toMatchObject({ goAhead: { feeMinorUnits: 8000 } });
  });

  it('that takes a signer off lets the one who signed already close the gate', () => {
    const record = storyAt(13);
    record.done('mixer', {
      ...propose,
      terms: { ...storyTerms, signers: { ...storyTerms.signers, mix: ['label'] } },
    });
    record.done('label', { type: 'acceptAmendment', number: 2 });
    expect(record.song('lanterns').gates.mix.status).toBe('open');
    const again = storyAt(13).record.songs.lanterns?.versions.find((version) => version.id === 'mix-5');
    expect(
      record.done('label', {
        type: 'signOff',
        song: 'lanterns',
        gate: 'mix',
        versionId: 'mix-5',
        sha256: again?.file.sha256 ?? '',
        statement: 'This is the file that I approve.',
      }),
    ).toEqual(['gateClosed']);
  });
});

describe('sections and parts', () => {
  const name = (basedOnRevision: number, ...spans: [string, number, number][]) =>
    ({
      type: 'nameSections',
      song: 'lanterns',
      sections: spans.map(([id, startSeconds, endSeconds]) => ({ id, name: id, startSeconds, endSeconds })),
      tempoBpm: 96,
      beatsPerBar: 4,
      firstBarSeconds: 0.5,
      basedOnRevision,
    }) as const;

  it('are kept when a new version comes, and count up with each naming', () => {
    const record = storyAt(2);
    record.done('mixer', name(0, ['intro', 0, 12], ['verse 1', 12, 42]));
    expect(record.song('lanterns').sectionMap.revision).toBe(1);
    expect(codeOf(record, 'producer', name(0, ['intro', 0, 12]))).toBe('sections_changed_meanwhile');
    record.done('mixer', {
      type: 'nameParts',
      song: 'lanterns',
      parts: [{ name: 'vocal', delivered: true }],
    });
    const { sectionMap, parts } = record.song('lanterns');
    expect(sectionMap.sections.map((section) => section.name)).toEqual(['intro', 'verse 1']);
    expect(parts).toEqual([{ name: 'vocal', delivered: true }]);
  });

  it('are refused where they overlap, end before they start, have no name or no possible tempo', () => {
    const record = storyAt(2);
    for (const command of [
      name(0, ['intro', 0, 20], ['verse 1', 12, 42]),
      name(0, ['intro', 12, 12]),
      name(0, ['intro', -1, 12]),
      name(0, ['', 0, 12]),
      { ...name(0, ['intro', 0, 12]), tempoBpm: 0 },
    ])
      expect(codeOf(record, 'mixer', command)).toBe('malformed');
    expect(codeOf(record, 'artist', name(0, ['intro', 0, 12]))).toBe('not_entitled');
  });
});
