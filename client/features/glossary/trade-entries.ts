import type { GlossaryEntry } from './glossary-entry.ts';

const word = (name: string, ...sentences: [string, string]) =>
  ({ name, sentences, unit: null, standard: null }) satisfies GlossaryEntry;

/** The words of the trade as these pages use them, in the order in which a song meets them. */
export const tradeEntries = {
  record: word(
    'Record',
    'An album, EP or single: the songs of one contract.',
    'People, rounds and money are agreed for all of its songs together.',
  ),
  gate: word(
    'Gate',
    'A stage that a song passes: production, mix, then master.',
    'It closes when the people named in the contract have signed one exact file.',
  ),
  version: word(
    'Version',
    'One numbered bounce of a song at a gate, such as Mix v3.',
    'It is never overwritten, so what you heard and wrote about stays there.',
  ),
  stem: word(
    'Stem',
    'One part of a version, or a group of parts, as a file of its own.',
    'All of them played together make the version; the engineers and the producer alone have them.',
  ),
  rough: word(
    'Rough',
    'The quick balance that goes with the production.',
    'Once the production is approved it is the reference that everybody has in their ears.',
  ),
  'print-notes': word(
    'Print notes',
    'What the engineer changed, in their own words.',
    'They are posted with a version and stay with it.',
  ),
  'change-alone': word(
    'The change alone',
    'What is left of the newer version when the older one is laid over it, matched, and taken away.',
    'It is silent where nothing changed and always quieter than the mix; how far it was turned up or down stands beside it.',
  ),
  section: word(
    'Section',
    'A named stretch of a song, such as verse 1 or chorus 2.',
    'Each section gets figures of its own, from exactly its stretch of the file.',
  ),
  note: word(
    'Note',
    'What one person wrote, at a moment, over a stretch, or about the whole song.',
    'It may hold several requests, or none.',
  ),
  request: word(
    'Request',
    'One wish inside a note.',
    'It has a level and, once it was sent in a round, gets an answer.',
  ),
  level: word(
    'Level',
    'What kind of work a request asks for: mix, production or mastering.',
    'It decides who does it and whether it costs extra, and it has nothing to do with loudness.',
  ),
  'scope-sheet': word(
    'Scope sheet',
    'The list in the contract that says which kind of request has which level.',
    'It settles beforehand what a mix round includes and what it does not.',
  ),
  round: word(
    'Round',
    'One list of requests that the spokesperson sends on one version.',
    'The contract includes a number of them, and a further one needs the go-ahead of whoever pays.',
  ),
  queue: word(
    'Queue',
    'The requests of a round as the engineer works through them.',
    'Each one is answered as done, or as not done with the reason.',
  ),
  'production-lock': word(
    'Production lock',
    'The approved production is frozen: what was recorded and arranged stays as it is.',
    'A request that would change it breaks the lock, so it is priced or declined on its own.',
  ),
  'change-order': word(
    'Change order',
    'A request that breaks the production lock, with its price.',
    'Whoever pays accepts or declines it before any work is done.',
  ),
  parked: word(
    'Parked',
    'A mastering-level request that is kept for the master gate.',
    'Nothing is lost: it waits in the brief for the mastering engineer.',
  ),
  'go-ahead': word(
    'Go-ahead',
    'The yes of whoever pays to a round or change beyond the contract.',
    'Until it is given, that work waits.',
  ),
  'sign-off': word(
    'Sign-off',
    'The approval of one exact file by a named person.',
    'The file is known by its SHA-256, a fingerprint that any change would change.',
  ),
  ledger: word(
    'Ledger',
    'The record of everything that was said, sent, answered and signed, in order.',
    'It is only ever added to, and each line seals the ones before it.',
  ),
} as const;

export type TradeWord = keyof typeof tradeEntries;
