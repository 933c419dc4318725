/**
 * The kinds of request that the trade tells apart, and the levels they can have. The kind says what is wished for;
 * the contract's scope sheet says which level that kind has (see `scope-sheet.ts`).
 */
export const levels = ['mix', 'production', 'mastering', 'none'] as const;
/** A request's level; `none` is praise, a question or talk: answered, counted nowhere. */
export type Level = (typeof levels)[number];

export const mixKinds = [
  'balance',
  'tone',
  'dynamics',
  'space',
  'pan',
  'automation',
  'mute',
  'effect',
] as const;
export const productionKinds = [
  'new-part',
  're-record',
  'arrangement',
  'tuning',
  'timing',
  'comp',
  'cleanup',
  'replace-sound',
  'tempo-key',
  'lyric',
] as const;
export const masteringKinds = [
  'overall-loudness',
  'overall-tone',
  'fade-gap',
  'metadata',
  'format',
  'reference-match-overall',
] as const;
export const talkKinds = ['praise', 'question', 'chat'] as const;

export const requestKinds = [...mixKinds, ...productionKinds, ...masteringKinds, ...talkKinds] as const;
export type RequestKind = (typeof requestKinds)[number];

export const directions = ['up', 'down', 'add', 'remove', 'change'] as const;
/** Which way the wish goes; `null` where a request names none. */
export type Direction = (typeof directions)[number];
