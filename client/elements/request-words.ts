import type { Direction, RequestKind, RequestView } from '../api/types.ts';

/** Kinds of request in the trade's words. */
export const kindWord: Record<RequestKind, string> = {
  balance: 'balance',
  tone: 'tone',
  dynamics: 'dynamics',
  space: 'reverb and space',
  pan: 'panning',
  automation: 'automation and rides',
  mute: 'mute or un-mute',
  effect: 'effect or throw',
  'new-part': 'new part',
  're-record': 're-recording',
  arrangement: 'arrangement',
  tuning: 'tuning',
  timing: 'timing',
  comp: 'another take',
  cleanup: 'clean-up',
  'replace-sound': 'replaced sound',
  'tempo-key': 'tempo or key',
  lyric: 'lyric',
  'overall-loudness': 'loudness of the song',
  'overall-tone': 'tone of the whole mix',
  'fade-gap': 'fade or gap',
  metadata: 'metadata',
  format: 'format',
  'reference-match-overall': 'like another record',
  praise: 'praise',
  question: 'question',
  chat: 'talk',
};

const directionWord: Record<Direction, string> = {
  up: 'up',
  down: 'down',
  add: 'add',
  remove: 'out',
  change: 'change',
};

/** What a request wishes, in short: `lead vocal, up`, or its kind where no part is named. */
export function wishWords({ target, direction, kind }: RequestView): string {
  const words = [target, direction && directionWord[direction]].filter(Boolean).join(', ');
  return target ? words : [kindWord[kind], direction && directionWord[direction]].filter(Boolean).join(', ');
}
