import { describe, expect, it } from 'vitest';
import { agreedVersion } from '../../server/domain/gate.ts';
import { beyondContractMinorUnits, currentGate } from '../../server/domain/record.ts';
import { note, post, type RecordUnderTest, sha256Of, sign, wish } from './record-under-test.ts';
import { storyAt, storySong, storyTerms } from './worked-story.ts';

/**
 * Proves that gates are passed in order and closed by the required people's sign-off on one exact file, never by
 * habit, and that a closed gate is reopened only on the record, with a reason and its price.
 */
const song = storySong;
const reopen = (
  gate: 'mix' | 'master',
  agreedFeeMinorUnits: number | null,
  reason = 'the wrong word in verse 2',
) => ({ type: 'reopenGate', song, gate, reason, agreedFeeMinorUnits }) as const;
const codeOf = (record: RecordUnderTest, ...given: Parameters<RecordUnderTest['decide']>) => {
  const decision = record.decide(...given);
  return decision.ok ? null : decision.refusal.code;
};
const gate = (record: RecordUnderTest, name: 'production' | 'mix' | 'master') =>
  record.song(song).gates[name];
const owed = (record: RecordUnderTest) => beyondContractMinorUnits(record.record, record.song(song));
const signBoth = (record: RecordUnderTest, name: 'mix' | 'master', versionId: string) => {
  record.done('artist', sign(song, name, versionId));
  return record.done('label', sign(song, name, versionId));
};

/** The story's mix is signed, Master v1 is posted and signed by both. */
function mastered() {
  const record = storyAt(14);
  record.wait(1).done('masterer', post(song, 'master', 'master-1'));
  signBoth(record, 'master', 'master-1');
  return record;
}

describe('the order of gates', () => {
  it('is production, mix, master', () => {
    const before = storyAt(0);
    expect(codeOf(before, 'mixer', post(song, 'mix', 'mix-1'))).toBe('production_not_locked');
    expect(codeOf(before, 'masterer', post(song, 'master', 'master-1'))).toBe('production_not_locked');
    expect(codeOf(storyAt(13), 'masterer', post(song, 'master', 'master-1'))).toBe('mix_gate_open');
    expect([0, 2, 14].map((step) => currentGate(storyAt(step).song(song)))).toEqual([
      'production',
      'mix',
      'master',
    ]);
    expect(currentGate(mastered().song(song))).toBeNull();
  });

  it('asks each version of whoever makes it', () => {
    const record = storyAt(14);
    expect(codeOf(record, 'mixer', post(song, 'master', 'master-1'))).toBe('not_entitled');
    expect(record.done('masterer', post(song, 'master', 'master-1'))).toEqual([
      'versionPosted',
      'roundOpened',
    ]);
    expect(record.song(song).versions.at(-1)?.name).toBe('Master v1');
  });

  it('counts versions for each gate, and overwrites none', () => {
    const record = storyAt(2);
    expect(record.done('mixer', post(song, 'mix', 'mix-1'))).toEqual([]);
    record.done('mixer', post(song, 'mix', 'mix-2'));
    expect(record.song(song).versions.map(({ name }) => name)).toEqual(['Rough v1', 'Mix v1', 'Mix v2']);
  });
});

describe('a signature', () => {
  it('is given on the file that is on the record, by those whom the contract asks', () => {
    const record = storyAt(2);
    expect(codeOf(record, 'drummer', sign(song, 'mix', 'mix-1'))).toBe('not_a_signer');
    expect(
      codeOf(record, 'artist', {
        ...sign(song, 'mix', 'mix-1'),
        gate: 'mix',
        sha256: sha256Of('x'),
      } as never),
    ).toBe('wrong_file');
    expect(record.done('artist', sign(song, 'mix', 'mix-1'))).toEqual(['signedOff']);
    expect(record.done('artist', sign(song, 'mix', 'mix-1'))).toEqual([]);
    expect(record.done('label', sign(song, 'mix', 'mix-1'))).toEqual(['signedOff', 'gateClosed']);
    expect(record.done('label', sign(song, 'mix', 'mix-1'))).toEqual([]);
    expect(codeOf(record, 'label', { type: 'withdrawSignature', song, gate: 'mix', reason: 'r' })).toBe(
      'gate_closed',
    );
  });

  it('is withdrawn with a reason while the gate is open', () => {
    const record = storyAt(2);
    record.done('artist', sign(song, 'mix', 'mix-1'));
    const withdraw = { type: 'withdrawSignature', song, gate: 'mix', reason: 'a click at 1:02' } as const;
    expect(codeOf(record, 'artist', { ...withdraw, reason: '' })).toBe('reason_missing');
    expect(record.done('artist', withdraw)).toEqual(['signatureWithdrawn']);
    expect(record.done('artist', withdraw)).toEqual([]);
    expect(record.done('label', sign(song, 'mix', 'mix-1'))).toEqual(['signedOff']);
  });

  it('of two people on two files closes nothing', () => {
    const at = '2026-01-01T00:00:00.000Z';
    const signature = (personId: string, versionId: string) => ({
      personId,
      versionId,
      sha256: sha256Of(versionId),
      at,
      statement: '',
    });
    expect(agreedVersion([signature('a', 'v1'), signature('b', 'v2')], ['a', 'b'])).toBeNull();
    expect(agreedVersion([signature('a', 'v1')], ['a', 'b'])).toBeNull();
    expect(agreedVersion([signature('a', 'v2'), signature('b', 'v2')], ['a', 'b'])?.versionId).toBe('v2');
    expect(agreedVersion([signature('c', 'v2')], [])).toBeNull();
  });
});

describe('reopening', () => {
  it('is for the owner, the payer and the signers, with a reason', () => {
    const record = storyAt(14);
    for (const by of ['drummer', 'producer', 'masterer', 'manager'])
      expect(codeOf(record, by, reopen('mix', 8000))).toBe('not_entitled');
    expect(codeOf(record, 'artist', reopen('mix', 8000, ' '))).toBe('reason_missing');
    expect(codeOf(storyAt(2), 'artist', reopen('mix', 8000))).toBe('gate_open');
  });

  it('says its price first and waits for the payer, who gives the go-ahead or declines', () => {
    const record = storyAt(14);
    expect(record.decide('artist', reopen('mix', null))).toMatchObject({
      refusal: { code: 'reopening_beyond_contract', feeMinorUnits: 8000 },
    });
    expect(record.done('artist', reopen('mix', 8000))).toEqual(['reopeningAsked']);
    expect(gate(record, 'mix').status).toBe('closed');
    expect(codeOf(record, 'mixer', post(song, 'mix', 'mix-6'))).toBe('gate_closed');
    expect(codeOf(record, 'mixer', reopen('mix', 8000))).toBe('reopening_pending');
    record.done('label', { type: 'declineReopening', song, gate: 'mix', reason: 'it is out next week' });
    expect([gate(record, 'mix').status, owed(record)]).toEqual(['closed', 17_000]);
    record.done('artist', reopen('mix', 8000));
    record.done('label', { type: 'giveReopeningGoAhead', song, gate: 'mix' });
    expect([gate(record, 'mix').status, owed(record)]).toEqual(['open', 25_000]);
    expect(codeOf(record, 'label', { type: 'giveReopeningGoAhead', song, gate: 'mix' })).toBe('not_pending');
  });

  it('by the payer needs no go-ahead; the notes after approval join the open list', () => {
    const record = storyAt(15);
    expect(record.done('label', reopen('mix', 8000))).toEqual(['gateReopened']);
    expect(record.song(song).notes.at(-1)).toMatchObject({
      afterApproval: true,
      round: { gate: 'mix', number: 5 },
    });
    expect(gate(record, 'mix').signatures).toEqual([]);
    expect(
      codeOf(record, 'artist', { type: 'sendRound', song, gate: 'mix', agreedFeeMinorUnits: null }),
    ).toBe('round_beyond_contract');
    expect(record.done('mixer', post(song, 'mix', 'mix-6'))).toEqual(['versionPosted']);
  });

  it('that costs nothing by the contract happens at once', () => {
    const record = storyAt(14);
    record.done('mixer', {
      type: 'proposeAmendment',
      terms: { ...storyTerms, afterApprovalMinorUnits: 0 },
      reason: 'a courtesy',
    });
    record.done('label', { type: 'acceptAmendment', number: 2 });
    expect(record.done('artist', reopen('mix', null))).toEqual(['gateReopened']);
  });

  it('the mix once mastering has begun adds the surcharge, and reopens a signed master with it', () => {
    const record = mastered();
    const fee = storyTerms.afterApprovalMinorUnits + storyTerms.newMixSurchargeMinorUnits;
    expect(record.decide('label', reopen('mix', null))).toMatchObject({ refusal: { feeMinorUnits: fee } });
    record.wait(1);
    expect(record.done('label', reopen('mix', fee))).toEqual(['gateReopened', 'gateReopened']);
    expect(owed(record)).toBe(17_000 + fee);
    expect(['mix', 'master'].map((name) => gate(record, name as 'mix').status)).toEqual(['open', 'open']);
    expect(codeOf(record, 'masterer', post(song, 'master', 'master-2'))).toBe('mix_gate_open');
  });

  it('makes masters of the mix before unfit to sign', () => {
    const record = mastered();
    record.wait(1).done('label', reopen('mix', 8000 + storyTerms.newMixSurchargeMinorUnits));
    record.done('mixer', post(song, 'mix', 'mix-6'));
    record.wait(1);
    signBoth(record, 'mix', 'mix-6');
    expect(codeOf(record, 'artist', sign(song, 'master', 'master-1'))).toBe('wrong_file');
    record.done('masterer', post(song, 'master', 'master-2'));
    expect(signBoth(record, 'master', 'master-2')).toContain('gateClosed');
  });

  it('the master alone is the charge after approval', () => {
    const record = mastered();
    expect(record.done('label', reopen('master', 8000))).toEqual(['gateReopened']);
    expect([gate(record, 'mix').status, gate(record, 'master').status]).toEqual(['closed', 'open']);
    record.done('masterer', post(song, 'master', 'master-2'));
    expect(codeOf(record, 'label', sign(song, 'master', 'master-2'))).toBeNull();
  });
});

describe('rounds at the master gate', () => {
  it('count mastering-level requests against the included master rounds', () => {
    const record = storyAt(14);
    record.done('masterer', post(song, 'master', 'master-1'));
    record.done('artist', note(song, 'master-1', [wish('brighter', 'mastering'), wish('voice', 'mix')]));
    expect(
      record.done('artist', { type: 'sendRound', song, gate: 'master', agreedFeeMinorUnits: null }),
    ).toEqual(['roundSent']);
    expect(record.done('masterer', post(song, 'master', 'master-2'))).toContain('roundAnswered');
    record.done('artist', note(song, 'master-2', [wish('louder', 'mastering')]));
    expect(
      codeOf(record, 'artist', { type: 'sendRound', song, gate: 'master', agreedFeeMinorUnits: null }),
    ).toBe('round_beyond_contract');
  });
});
