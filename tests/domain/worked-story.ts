import type { Command } from '../../server/domain/command.ts';
import type { ContractTerms } from '../../server/domain/contract.ts';
import { defaultTerms } from '../../server/domain/default-contract.ts';
import type { Person } from '../../server/domain/person.ts';
import { note, post, RecordUnderTest, sign, wish } from './record-under-test.ts';

/**
 * The worked story of the job, as plain data: a record with its people and contract, and sixteen steps of commands
 * that are given one after another. A step's commands are carried out, except for those that say which refusal they
 * meet.
 */
export interface StoryCommand {
  by: string;
  command: Command;
  refused?: string;
}

export interface StoryStep {
  number: number;
  words: string;
  /** Hours that pass before the step. */
  hours: number;
  commands: StoryCommand[];
}

export const storySong = 'lanterns';

export const storyPeople = {
  mixer: { id: 'mixer', name: 'Ivo', roles: ['mix engineer'], owner: true },
  artist: { id: 'artist', name: 'Mara', roles: ['artist'], owner: false },
  drummer: { id: 'drummer', name: 'Teo', roles: ['artist'], owner: false },
  producer: { id: 'producer', name: 'Nell', roles: ['producer'], owner: false },
  masterer: { id: 'masterer', name: 'Odd', roles: ['mastering engineer'], owner: false },
  label: { id: 'label', name: 'Ruth', roles: ['label'], owner: false },
  manager: { id: 'manager', name: 'Pia', roles: ['manager'], owner: false },
} as const satisfies Record<string, Omit<Person, 'roles'> & { roles: readonly Person['roles'][number][] }>;

export const storyPersons: Person[] = Object.values(storyPeople).map((person) => ({
  ...person,
  roles: [...person.roles],
}));

/** Two mix rounds, each further one € 80.00; production changes € 60.00 an hour; artist and label sign. */
export const storyTerms: ContractTerms = {
  ...defaultTerms(),
  parties: { engineer: 'Ivo’s mix room', client: 'Ruth’s label' },
  includedMixRounds: 2,
  roundFee: { basis: 'flat', amountMinorUnits: 8000 },
  productionRateMinorUnits: 6000,
  currency: 'EUR',
  spokesperson: 'artist',
  payer: 'label',
  signers: {
    production: ['artist', 'label'],
    mix: ['artist', 'label'],
    master: ['artist', 'label'],
  },
};

const song = storySong;
const by = (person: keyof typeof storyPeople, command: Command, refused?: string): StoryCommand => ({
  by: person,
  command,
  ...(refused ? { refused } : {}),
});
const write = (
  person: keyof typeof storyPeople,
  versionId: string,
  requests: Parameters<typeof note>[2],
  more: Parameters<typeof note>[3] = {},
) => by(person, note(song, versionId, requests, more));
const send = (agreedFeeMinorUnits: number | null = null): Command => ({
  type: 'sendRound',
  song,
  gate: 'mix',
  agreedFeeMinorUnits,
});

const vocal = { target: 'vocal', place: 'chorus 1', range: { startSeconds: 42, endSeconds: 63 } };

/** What stands before step 1, under a contract: the record, its people, the agreed contract and the song. */
export const agreedUnder = (terms: ContractTerms): StoryCommand[] => [
  by('mixer', {
    type: 'openRecord',
    recordId: 'record',
    title: 'Low Tide Letters',
    act: 'The Slow Ferries',
    owner: { ...storyPeople.mixer, roles: [...storyPeople.mixer.roles] },
  }),
  ...storyPersons
    .filter((person) => !person.owner)
    .map((person) => by('mixer', { type: 'addPerson', person })),
  by('mixer', { type: 'draftContract', terms }),
  { by: terms.payer, command: { type: 'agreeContract', how: 'on this page' } },
  by('mixer', { type: 'addSong', song, title: 'Lanterns' }),
];

/** What stands before step 1 of the story. */
export const storyBefore = agreedUnder(storyTerms);

export const storySteps: StoryStep[] = [
  {
    number: 1,
    words: 'the rough is posted at the production gate; artist and label sign it',
    hours: 1,
    commands: [
      by('producer', post(song, 'production', 'rough-1')),
      by('artist', sign(song, 'production', 'rough-1')),
      by('label', sign(song, 'production', 'rough-1')),
    ],
  },
  {
    number: 2,
    words: 'Mix v1 is posted',
    hours: 24,
    commands: [by('mixer', post(song, 'mix', 'mix-1'))],
  },
  {
    number: 3,
    words: 'artist and drummer write notes',
    hours: 24,
    commands: [
      write('artist', 'mix-1', [
        wish('vocal-up', 'mix', 'vocal up in chorus 1', { ...vocal, direction: 'up' }),
        wish('shaker', 'production', 'add a shaker in verse 2', { target: 'shaker', direction: 'add' }),
      ]),
      write('artist', 'mix-1', [wish('loudness', 'mastering', 'should be as loud as other records')]),
      write('artist', 'mix-1', [wish('bridge', 'none', 'love the bridge')]),
      write(
        'drummer',
        'mix-1',
        [wish('vocal-down', 'mix', 'vocal down in chorus 1', { ...vocal, direction: 'down' })],
        {
          contradictions: [
            { requestId: 'vocal-down', otherRequestId: 'vocal-up', why: 'the vocal up and down in chorus 1' },
          ],
        },
      ),
    ],
  },
  {
    number: 4,
    words: 'the artist tries to send, settles the contradiction, and sends',
    hours: 1,
    commands: [
      by('artist', send(), 'contradiction_unsettled'),
      by('artist', {
        type: 'settleContradiction',
        song,
        requestIds: ['vocal-up', 'vocal-down'],
        keep: 'vocal-up',
        reason: 'the words carry chorus 1',
      }),
      by('artist', send()),
    ],
  },
  { number: 5, words: 'the round is with the engineer', hours: 0, commands: [] },
  {
    number: 6,
    words: 'the producer prices 1.5 h',
    hours: 2,
    commands: [
      by('producer', {
        type: 'priceChange',
        song,
        number: 1,
        hours: 1.5,
        words: 'shaker recorded and edited in verse 2',
      }),
    ],
  },
  {
    number: 7,
    words: 'the label accepts; a new production is delivered and signed',
    hours: 4,
    commands: [
      by('label', { type: 'acceptChange', song, number: 1 }),
      by('producer', post(song, 'production', 'rough-2', [1])),
      by('artist', sign(song, 'production', 'rough-2')),
      by('label', sign(song, 'production', 'rough-2')),
    ],
  },
  {
    number: 8,
    words: 'Mix v2 answers round 1: vocal done',
    hours: 24,
    commands: [
      by('mixer', {
        type: 'answerRequest',
        song,
        requestId: 'vocal-up',
        answer: 'done',
        text: '1 dB up in chorus 1',
      }),
      by('mixer', post(song, 'mix', 'mix-2')),
    ],
  },
  {
    number: 9,
    words: 'a forgotten mute is sent; the engineer marks it as own mistake and answers with Mix v3',
    hours: 24,
    commands: [
      write('artist', 'mix-2', [
        wish('mute', 'mix', 'you forgot the mute at 1:20 that we agreed on', {
          kind: 'mute',
          range: { startSeconds: 80, endSeconds: null },
        }),
      ]),
      by('artist', send()),
      by('mixer', {
        type: 'markOwnMistake',
        song,
        requestId: 'mute',
        reason: 'agreed on the phone, and forgotten here',
      }),
      by('mixer', post(song, 'mix', 'mix-3')),
    ],
  },
  {
    number: 10,
    words: 'three mix requests; sent; Mix v4',
    hours: 24,
    commands: [
      write('artist', 'mix-3', [
        wish('bass', 'mix', 'bass a little down in verse 1'),
        wish('keys', 'mix', 'keys wider in the bridge'),
      ]),
      write('drummer', 'mix-3', [wish('snare', 'mix', 'snare brighter throughout')]),
      by('artist', send()),
      by('mixer', post(song, 'mix', 'mix-4')),
    ],
  },
  {
    number: 11,
    words: 'two more mix requests go beyond the contract and wait for the label',
    hours: 24,
    commands: [
      write('artist', 'mix-4', [
        wish('reverb', 'mix', 'less reverb on the voice in verse 1'),
        wish('guitar', 'mix', 'guitar left a touch down in chorus 2'),
      ]),
      by('artist', send(), 'round_beyond_contract'),
      by('artist', send(8000)),
      by('mixer', post(song, 'mix', 'mix-5'), 'round_waits_for_go_ahead'),
    ],
  },
  {
    number: 12,
    words: 'go-ahead; Mix v5',
    hours: 2,
    commands: [
      by('label', { type: 'giveRoundGoAhead', song, gate: 'mix', number: 4 }),
      by('mixer', post(song, 'mix', 'mix-5')),
    ],
  },
  {
    number: 13,
    words: 'the label signs Mix v5, the artist signs Mix v4',
    hours: 24,
    commands: [by('label', sign(song, 'mix', 'mix-5')), by('artist', sign(song, 'mix', 'mix-4'))],
  },
  {
    number: 14,
    words: 'the artist signs Mix v5',
    hours: 1,
    commands: [by('artist', sign(song, 'mix', 'mix-5'))],
  },
  {
    number: 15,
    words: 'a Mix v6 is posted; a note arrives',
    hours: 24,
    commands: [
      by('mixer', post(song, 'mix', 'mix-6'), 'gate_closed'),
      write('artist', 'mix-5', [wish('vocal-down-late', 'mix', 'vocal down', { target: 'vocal' })]),
    ],
  },
  { number: 16, words: 'the ledger is verified', hours: 0, commands: [] },
];

/** Gives commands in order; throws where one is refused that should not be, or not refused as it says. */
export function play(record: RecordUnderTest, commands: readonly StoryCommand[]): RecordUnderTest {
  for (const { by, command, refused } of commands) {
    const decision = record.give(by, command);
    const met = decision.ok ? undefined : decision.refusal.code;
    if (met !== refused)
      throw new Error(
        `${command.type} by ${by}: expected ${refused ?? 'it done'}, met ${met ?? 'no refusal'}`,
      );
  }
  return record;
}

/** Plays the story up to a step and with it; step 0 is what stands before. */
export function playTo(record: RecordUnderTest, step: number): RecordUnderTest {
  play(record, storyBefore);
  for (const each of storySteps.filter(({ number }) => number <= step)) playStep(record, each);
  return record;
}

/** A record at a step of the story, to go on from; what is done to it touches no other. */
export function storyAt(step: number): RecordUnderTest {
  const known = reached.get(step) ?? playTo(new RecordUnderTest(), step);
  reached.set(step, known);
  return known.fork();
}
const reached = new Map<number, RecordUnderTest>();

/** A record with the production locked and Mix v1 posted, under other terms than the story's. */
export function mixUnder(terms: Partial<ContractTerms>): RecordUnderTest {
  const record = play(new RecordUnderTest(), agreedUnder({ ...storyTerms, ...terms }));
  for (const step of storySteps.slice(0, 2)) playStep(record, step);
  return record;
}

export function playStep(record: RecordUnderTest, step: StoryStep): void {
  record.wait(step.hours);
  play(record, step.commands);
}
