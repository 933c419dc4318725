import type { Gate } from './contract.ts';
import type { PersonId } from './person.ts';

export type VersionId = string;

/** Said of a posted file that is taken but differs from what one would expect. */
export const versionWarnings = [
  'mono',
  'sample_rate_differs',
  'length_differs',
  'bit_depth_differs',
  'clipped',
] as const;
export type VersionWarning = (typeof versionWarnings)[number];

/** The exact file behind a version. */
export interface VersionFile {
  sha256: string;
  fileName: string;
  byteLength: number;
  sampleRateHz: number;
  channelCount: number;
  bitDepth: number | null;
  durationSeconds: number;
}

/** One numbered bounce of a song at a gate; never overwritten. */
export interface Version {
  id: VersionId;
  gate: Gate;
  number: number;
  name: string;
  file: VersionFile;
  printNotes: string;
  warnings: VersionWarning[];
  postedAt: string;
  postedBy: PersonId;
  /** The round of its gate that it answers, if one was sent. */
  answersRound: number | null;
  /** For a production delivered under an open lock: the lock breaks that it contains. */
  changes: number[];
}

const gateWord: Record<Gate, string> = { production: 'Rough', mix: 'Mix', master: 'Master' };

/** A version's name in the trade: `Mix v3`. */
export function versionName(gate: Gate, number: number): string {
  return `${gateWord[gate]} v${number}`;
}
