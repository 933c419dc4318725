import {
  type Level,
  masteringKinds,
  mixKinds,
  productionKinds,
  type RequestKind,
  talkKinds,
} from './request-kind.ts';

/** One line of a scope sheet: the level that a kind of request has in this contract. */
export interface ScopeLine {
  level: Level;
  /** Parties read this kind differently; the contract's line settles it, and the page says so. */
  grey: boolean;
}

/** The contract's list: which kind of request has which level. */
export type ScopeSheet = Record<RequestKind, ScopeLine>;

const greyKinds: ReadonlySet<RequestKind> = new Set([
  'mute',
  'effect',
  'tuning',
  'cleanup',
  'replace-sound',
  'fade-gap',
]);

/**
 * The trade's default scope sheet (*common practice*): new or replaced audio, tuning, timing and clean-up are
 * production; balance, tone, space and the like are mix; the whole finished song is mastering.
 */
export function defaultScopeSheet(): ScopeSheet {
  const lines = (kinds: readonly RequestKind[], level: Level) =>
    kinds.map((kind): [RequestKind, ScopeLine] => [kind, { level, grey: greyKinds.has(kind) }]);
  return Object.fromEntries([
    ...lines(mixKinds, 'mix'),
    ...lines(productionKinds, 'production'),
    ...lines(masteringKinds, 'mastering'),
    ...lines(talkKinds, 'none'),
  ]) as ScopeSheet;
}
