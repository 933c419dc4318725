import fc from 'fast-check';
import { openChanges } from '../../server/domain/change-order.ts';
import type { Command } from '../../server/domain/command.ts';
import type { ContractTerms } from '../../server/domain/contract.ts';
import { levels } from '../../server/domain/request-kind.ts';
import { fileOf, hour, note, post, RecordUnderTest, sign, wish } from './record-under-test.ts';
import { turnCommand, turns } from './turn-taker.ts';
import { agreedUnder, mixUnder, play, storyAt, storyPersons, storySong, storyTerms } from './worked-story.ts';

const song = storySong;
type Given = [by: string, command: Command];

/** One thing that somebody tries, made into a command by the state that it meets. */
interface Attempt {
  kind: (typeof kinds)[number];
  /** Now and then somebody tries who may not. */
  stranger: number | null;
  which: number;
  other: number;
}
const kinds = [
  ...Array.from({ length: 10 }, () => 'turn' as const),
  'wait',
  'write',
  'write',
  'write',
  'send',
  'send',
  'send',
  'post mix',
  'post mix',
  'post production',
  'post master',
  'sign production',
  'sign mix',
  'sign master',
  'withdraw signature',
  'withdraw note',
  'choose level',
  're-sort',
  'answer',
  'own mistake',
  'settle',
  'leave out',
  'leave out',
  'take back in',
  'take back in',
  'quote',
  'go-ahead',
  'go-ahead',
  'say no',
  'say no',
  'say no',
  'say no',
  'price',
  'decline change',
  'accept',
  'reopen',
  'reopen',
  'reopening go-ahead',
  'amend',
  'accept amendment',
  'decline amendment',
  'more days',
  'explain',
  'attach stems',
  'make one',
  'make one',
  'take apart',
  'keep apart',
  'take apart',
  'answer part',
] as const;

export const attempts = fc.array(
  fc.record<Attempt>({
    kind: fc.constantFrom(...kinds),
    stranger: fc.oneof(
      { weight: 15, arbitrary: fc.constant(null) },
      { weight: 1, arbitrary: fc.nat(storyPersons.length - 1) },
    ),
    which: fc.nat(20),
    other: fc.nat(20),
  }),
  { minLength: 20, maxLength: 70, size: 'max' },
);

/** The steps of the story that random histories go on from. */
export const starts = fc.constantFrom(0, 2, 5);

/** A record to go on from; before step 5 of the story it stands under terms of its own. */
export function startUnder(terms: Partial<ContractTerms>, step: number): RecordUnderTest {
  if (step === 0) return play(new RecordUnderTest(), agreedUnder({ ...storyTerms, ...terms }));
  return step === 2 ? mixUnder(terms) : storyAt(step);
}

export const contracts = fc.record<Partial<ContractTerms>>({
  includedMixRounds: fc.nat(1),
  includedMasterRounds: fc.nat(1),
  pointsCap: fc.constantFrom(null, null, 2),
  noteDays: fc.constantFrom(2, 30),
  roundFee: fc.constantFrom<ContractTerms['roundFee']>(
    { basis: 'flat', amountMinorUnits: 8000 },
    { basis: 'hourly', rateMinorUnits: 7000, minimumHours: 1 },
  ),
  payer: fc.constantFrom('label', 'label', 'artist'),
  afterApprovalMinorUnits: fc.constantFrom(0, 8000),
});

/** An item of a list, or what stands for one that is not there. */
const pick = <T>(items: readonly T[], index: number): T | undefined =>
  items[index % Math.max(1, items.length)];

/** What somebody tries, at a place in the history that makes its ids; now and then by somebody who may not. */
export function commandOf(record: RecordUnderTest, attempt: Attempt, step: number): Given {
  const [by, command] = entitledCommand(record, attempt, step);
  return [attempt.stranger === null ? by : (storyPersons[attempt.stranger]?.id ?? by), command];
}

function entitledCommand(record: RecordUnderTest, { kind, which, other }: Attempt, step: number): Given {
  const state = record.record;
  const { requests, notes, versions, rounds, contradictions, gates, lockBreaks } = record.song(song);
  const terms = state.contract?.terms ?? storyTerms;
  const gate = gates.mix.status === 'closed' && which % 3 ? 'master' : 'mix';
  const recent = requests.slice(-5);
  const requestId = pick(recent, which)?.id ?? 'none';
  const newest = (name: string) => versions.filter((version) => version.gate === name);
  const sent = rounds.filter((each) => each.gate === gate && each.status !== 'open').length;
  const round = { song, gate, number: Math.max(1, sent - (which % 7 ? 0 : 1)) } as const;
  const change = { song, number: (which % Math.max(1, lockBreaks.length)) + 1 };
  const reason = 'so it was agreed';
  const signing = (name: 'production' | 'mix' | 'master'): Given => [
    other % 2 ? 'artist' : 'label',
    sign(song, name, pick(newest(name).slice(-2).reverse(), which % 4 ? 0 : 1)?.id ?? 'none'),
  ];
  const feeOf = (command: Command): number | null => {
    const decision = record.decide(terms.payer, command);
    return decision.ok ? null : (decision.refusal.feeMinorUnits ?? null);
  };
  switch (kind) {
    case 'turn': {
      const taken = pick(turns(record), other);
      return taken
        ? [taken.person.id, turnCommand(record, taken.person, taken.turn, `${step}t`)]
        : ['mixer', { type: 'renameSong', song, title: `Lanterns ${step}` }];
    }
    case 'wait':
      record.wait(which * 3);
      return ['mixer', { type: 'renameSong', song, title: `Lanterns ${step}` }];
    case 'write': {
      const author = pick(['artist', 'drummer', 'label', 'producer'], other) ?? 'artist';
      const version = pick([...versions].reverse(), which % 5 ? 0 : 1)?.id ?? 'none';
      const level = pick(['mix' as const, 'mix' as const, ...levels], which) ?? 'mix';
      const id = `wish-${step}`;
      const against = which % 5 === 0 ? pick(recent, other)?.id : undefined;
      return [
        author,
        note(song, version, [wish(id, level), wish(`${id}-mix`, 'mix')], {
          contradictions: against ? [{ requestId: id, otherRequestId: against, why: 'both ways' }] : [],
        }),
      ];
    }
    case 'send': {
      const command: Command = { type: 'sendRound', song, gate, agreedFeeMinorUnits: null };
      const decision = record.decide(terms.spokesperson, command);
      const fee = decision.ok ? null : (decision.refusal.feeMinorUnits ?? null);
      return [terms.spokesperson, which % 6 ? { ...command, agreedFeeMinorUnits: fee } : command];
    }
    case 'post mix':
      return ['mixer', post(song, 'mix', `mix-${step}x`)];
    case 'post master':
      return ['masterer', post(song, 'master', `master-${step}x`)];
    case 'post production': {
      const open = openChanges(lockBreaks);
      return ['producer', post(song, 'production', `rough-${step}x`, which % 2 ? open : open.slice(0, 1))];
    }
    case 'sign production':
      return signing('production');
    case 'sign mix':
      return signing('mix');
    case 'sign master':
      return signing('master');
    case 'withdraw signature':
      return ['artist', { type: 'withdrawSignature', song, gate, reason }];
    case 'withdraw note': {
      const found = pick(notes.slice(-3), which);
      return [found?.by ?? 'artist', { type: 'withdrawNote', song, noteId: found?.id ?? 'none' }];
    }
    case 'choose level': {
      const author = notes.find((each) => each.id === pick(recent, which)?.noteId)?.by;
      const level = pick(levels, other) ?? 'mix';
      return [author ?? 'artist', { type: 'chooseLevel', song, requestId, level }];
    }
    case 're-sort':
      return [
        'mixer',
        {
          type: 'resortRequest',
          song,
          requestId,
          level: pick(levels, other) ?? 'mix',
          kind: null,
          reason: 'heard again',
        },
      ];
    case 'answer': {
      const answer = pick(['done', 'not done', 'question'] as const, other) ?? 'done';
      return ['mixer', { type: 'answerRequest', song, requestId, answer, text: reason }];
    }
    case 'own mistake':
      return ['mixer', { type: 'markOwnMistake', song, requestId, reason }];
    case 'settle': {
      const requestIds =
        pick(contradictions.slice(-2), which)?.requestIds ?? (['none', 'neither'] as [string, string]);
      const keep = other % 3 ? (pick(requestIds, other) ?? null) : null;
      return [terms.spokesperson, { type: 'settleContradiction', song, requestIds, keep, reason }];
    }
    case 'leave out':
      return [terms.spokesperson, { type: 'leaveOutRequest', song, requestId, reason }];
    case 'take back in':
      return [
        terms.spokesperson,
        {
          type: 'takeRequestBackIn',
          song,
          requestId: requests.findLast((each) => each.leftOut)?.id ?? requestId,
        },
      ];
    case 'quote':
      return [
        gate === 'mix' ? 'mixer' : 'masterer',
        { type: 'quoteRound', ...round, hours: 0.5 + (other % 4) },
      ];
    case 'go-ahead':
      return [terms.payer, { type: 'giveRoundGoAhead', ...round }];
    case 'say no': {
      if (gates.mix.status === 'closed' && gates.mix.reopening)
        return [terms.payer, { type: 'declineReopening', song, gate: 'mix', reason }];
      const priced = lockBreaks.find((each) => each.status === 'priced');
      return priced && which % 2
        ? [terms.payer, { type: 'refuseChange', song, number: priced.number, reason }]
        : [terms.payer, { type: 'declineRound', ...round, reason }];
    }
    case 'price':
      return ['producer', { type: 'priceChange', ...change, hours: 0.5 + (other % 3), words: 'recorded' }];
    case 'decline change':
      return ['producer', { type: 'declineChange', ...change, reason }];
    case 'accept':
      return [terms.payer, { type: 'acceptChange', ...change }];
    case 'reopen': {
      const command: Command = { type: 'reopenGate', song, gate, reason, agreedFeeMinorUnits: null };
      return [other % 2 ? 'artist' : terms.payer, { ...command, agreedFeeMinorUnits: feeOf(command) }];
    }
    case 'reopening go-ahead':
      return [terms.payer, { type: 'giveReopeningGoAhead', song, gate }];
    case 'amend': {
      const mix = which % 2 ? ['label'] : ['artist', 'label'];
      const amended = { ...terms, includedMixRounds: other % 4, signers: { ...terms.signers, mix } };
      return [other % 2 ? 'mixer' : terms.payer, { type: 'proposeAmendment', terms: amended, reason }];
    }
    case 'accept amendment':
    case 'decline amendment': {
      const pending = state.contract?.status === 'agreed' ? state.contract.amendment : null;
      const number = pending?.number ?? 2;
      return kind === 'accept amendment'
        ? [pending?.side === 'engineer' ? terms.payer : 'mixer', { type: 'acceptAmendment', number }]
        : ['mixer', { type: 'declineAmendment', number, reason }];
    }
    case 'attach stems': {
      const versionId = pick(versions, which)?.id ?? 'none';
      const file = { ...fileOf(`stem-${other}`), durationSeconds: other % 5 ? 210 : 30 };
      const stems = [{ name: `stem ${other}`, role: 'part' as const, file }];
      return ['mixer', { type: 'attachStems', song, versionId, stems, reason }];
    }
    case 'explain': {
      const older = pick(versions, which)?.id ?? 'none';
      const newer = versions.at(-1)?.id ?? 'none';
      const place = other % 3 ? { startSeconds: other, endSeconds: other + 8 } : null;
      return [
        'mixer',
        { type: 'explainChange', song, olderVersionId: older, newerVersionId: newer, place, text: reason },
      ];
    }
    case 'make one': {
      const into = pick(recent, other)?.id ?? 'none';
      return [terms.spokesperson, { type: 'mergeRequests', song, into, others: [requestId] }];
    }
    case 'take apart': {
      const into = requests.findLast((each) => each.mergedInto !== null)?.mergedInto ?? requestId;
      return [terms.spokesperson, { type: 'unmergeRequests', song, into }];
    }
    case 'keep apart': {
      const second = pick(recent, other)?.id ?? 'none';
      return [terms.spokesperson, { type: 'keepRequestsApart', song, requestIds: [requestId, second] }];
    }
    case 'answer part':
      return [
        'drummer',
        { type: 'answerPartQuestion', song, part: `part ${which}`, delivered: other % 2 > 0 },
      ];
    case 'more days':
      return ['mixer', { type: 'extendNoteDays', song, gate, until: hour(24 * 10 * which + other), reason }];
  }
}
