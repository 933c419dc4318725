import type { SongLine } from '../../api/types.ts';
import { gateWord, versionWord } from '../../elements/gate-words.ts';
import { songAddress } from '../../route.ts';

/** Where the next step of a song is done, and what its button says. */
export interface NextStep {
  address: string;
  words: string;
}

/** The reader's own next step on a song; `null` where it is somebody else's turn, or a go-ahead, which has its list. */
export function nextStep(recordId: string, line: SongLine): NextStep | null {
  if (!line.turn.mine) return null;
  const at = (page: Parameters<typeof songAddress>[2], query: Record<string, string> = {}) =>
    songAddress(recordId, line.id, page, query);
  const newest = line.newest?.name ?? 'the newest version';
  switch (line.turn.step) {
    case 'post production':
      return { address: at('post-version', { gate: 'production' }), words: 'Post the rough…' };
    case 'deliver production':
      return { address: at('post-version', { gate: 'production' }), words: 'Deliver the new production…' };
    case 'post mix':
    case 'post master': {
      const gate = line.turn.step === 'post mix' ? 'mix' : 'master';
      return { address: at('post-version', { gate }), words: `Post ${versionWord[gate]} v1…` };
    }
    case 'sign production':
      return {
        address: at('sign-off', { gate: 'production' }),
        words: line.gate === 'production' ? `Sign ${newest}…` : 'Sign the new production…',
      };
    case 'sign':
      return { address: at('sign-off'), words: `Sign ${newest}…` };
    case 'write notes':
      return { address: at('listen'), words: `Listen to ${newest}` };
    case 'send round':
      return { address: at('listen'), words: 'Send the round…' };
    case 'answer round':
      return { address: at('queue'), words: 'Open the queue' };
    case 'price change':
      return { address: at('scope'), words: 'Price or decline…' };
    case 'go-ahead':
    case 'accept change':
    case 'finished':
      return null;
  }
}

/** Rounds against the contract: `2 of 3`, or `4, beyond 3`. */
export function roundWords(line: SongLine): string {
  if (!line.counted || line.gate === 'production') return '–';
  const { rounds, included } = line.counted;
  return rounds > included ? `${rounds}, beyond ${included}` : `${rounds} of ${included}`;
}

/** What the newest version is, or what the song waits for before there is one. */
export function versionWords(line: SongLine): string | null {
  if (line.newest) return line.newest.name;
  return line.gate ? `no ${gateWord[line.gate].toLowerCase()} yet` : null;
}

const dayMilliseconds = 86_400_000;

/** How long there is: `6 days left`, `last day`, `overdue`; `null` without a date. */
export function daysLeft(dueAt: string | null, now: number): { words: string; overdue: boolean } | null {
  if (!dueAt) return null;
  const days = Math.ceil((Date.parse(dueAt) - now) / dayMilliseconds);
  if (days <= 0) return { words: 'overdue', overdue: true };
  return { words: days === 1 ? 'last day' : `${days} days left`, overdue: false };
}
