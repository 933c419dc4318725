import { index, integer, primaryKey, sqliteTable, text, uniqueIndex } from 'drizzle-orm/sqlite-core';
import { levels, requestKinds } from '../domain/request-kind.ts';

/** The ledger: history is only added to. Everything that the domain shows is folded from these rows. */
export const ledgerEntries = sqliteTable(
  'ledger_entries',
  {
    recordId: text('record_id').notNull(),
    sequence: integer('sequence').notNull(),
    at: text('at').notNull(),
    by: text('by').notNull(),
    fact: text('fact').notNull(),
    previousHash: text('previous_hash').notNull(),
    hash: text('hash').notNull(),
  },
  (table) => [primaryKey({ columns: [table.recordId, table.sequence] })],
);

/** Commands that were carried out, under the caller's Idempotency-Key, so that sending again is harmless. */
export const executedCommands = sqliteTable(
  'executed_commands',
  {
    key: text('key').notNull(),
    personId: text('person_id').notNull(),
    recordId: text('record_id').notNull(),
    bodyHash: text('body_hash').notNull(),
    response: text('response').notNull(),
    at: text('at').notNull(),
  },
  (table) => [primaryKey({ columns: [table.personId, table.key] })],
);

/** Personal links. Only the SHA-256 of a secret is kept; `record_id` is null for the server's owner. */
export const links = sqliteTable(
  'links',
  {
    id: text('id').primaryKey(),
    recordId: text('record_id'),
    personId: text('person_id').notNull(),
    secretHash: text('secret_hash').notNull(),
    createdAt: text('created_at').notNull(),
    lastUsedAt: text('last_used_at'),
    revokedAt: text('revoked_at'),
  },
  (table) => [
    uniqueIndex('links_secret_hash').on(table.secretHash),
    index('links_record').on(table.recordId),
  ],
);

/** A browser that was let in; the cookie's secret is kept as a hash. */
export const sessions = sqliteTable('sessions', {
  secretHash: text('secret_hash').primaryKey(),
  createdAt: text('created_at').notNull(),
});

/** The links that a session was opened with: one browser can hold several records. */
export const sessionLinks = sqliteTable(
  'session_links',
  {
    sessionHash: text('session_hash').notNull(),
    linkId: text('link_id').notNull(),
  },
  (table) => [primaryKey({ columns: [table.sessionHash, table.linkId] })],
);

/** Files on their way to becoming versions or stems; kept until they are posted or thrown away. */
export const uploads = sqliteTable('uploads', {
  id: text('id').primaryKey(),
  recordId: text('record_id').notNull(),
  songId: text('song_id').notNull(),
  gate: text('gate').notNull(),
  purpose: text('purpose', { enum: ['version', 'stem'] })
    .notNull()
    .default('version'),
  personId: text('person_id').notNull(),
  fileName: text('file_name').notNull(),
  byteLength: integer('byte_length').notNull(),
  state: text('state', { enum: ['receiving', 'checking', 'ready', 'refused'] }).notNull(),
  inspection: text('inspection'),
  createdAt: text('created_at').notNull(),
});

/** Audio files in the store, under their SHA-256, with what their headers say and how they are listened to. */
export const audioFiles = sqliteTable('audio_files', {
  sha256: text('sha256').primaryKey(),
  fileName: text('file_name').notNull(),
  byteLength: integer('byte_length').notNull(),
  format: text('format').notNull(),
  /** `original`, or the description of the listening copy. */
  listening: text('listening').notNull(),
  addedAt: text('added_at').notNull(),
});

/** Work for the analysis workers and its results; `key` says what was measured with which engine. */
export const analyses = sqliteTable(
  'analyses',
  {
    key: text('key').primaryKey(),
    kind: text('kind', {
      enum: [
        'measurement',
        'comparison',
        'sections',
        'change sound',
        'change map',
        'stem sum',
        'stem comparison',
      ],
    }).notNull(),
    input: text('input').notNull(),
    state: text('state', { enum: ['waiting', 'running', 'ready', 'failed'] }).notNull(),
    attempts: integer('attempts').notNull(),
    result: text('result'),
    message: text('message'),
    queuedAt: text('queued_at').notNull(),
  },
  (table) => [index('analyses_state').on(table.state)],
);

/** What re-sortings taught the sorting of notes, one example a request; the newest re-sorting holds. */
export const studioExamples = sqliteTable(
  'studio_examples',
  {
    recordId: text('record_id').notNull(),
    requestId: text('request_id').notNull(),
    songId: text('song_id').notNull(),
    text: text('text').notNull(),
    kind: text('kind', { enum: requestKinds }).notNull(),
    level: text('level', { enum: levels }).notNull(),
    /** The level is the one that the contract's scope sheet gave the kind then; elsewhere that contract's own holds. */
    byScopeSheet: integer('by_scope_sheet', { mode: 'boolean' }).notNull(),
    reason: text('reason').notNull(),
    by: text('by').notNull(),
    at: text('at').notNull(),
    /** Taken out, and kept a while so that it can be put back. */
    removedAt: text('removed_at'),
  },
  (table) => [primaryKey({ columns: [table.recordId, table.requestId] })],
);

/** What the server knows of itself: its owner, whether the demo record was made. */
export const serverFacts = sqliteTable('server_facts', {
  name: text('name').primaryKey(),
  value: text('value').notNull(),
});
