import type { Gate } from './contract.ts';
import type { PersonId } from './person.ts';
import type { VersionId } from './version.ts';

/** A named person's approval of one exact file; a later one by the same person takes its place. */
export interface Signature {
  personId: PersonId;
  versionId: VersionId;
  sha256: string;
  at: string;
  statement: string;
}

/** A wish to reopen a closed gate that waits for the payer, since it costs. */
export interface Reopening {
  reason: string;
  by: PersonId;
  at: string;
  feeMinorUnits: number;
  feeClause: string;
}

export type GateState =
  | {
      status: 'open';
      signatures: Signature[];
      reopened: number;
      /** When it was last reopened; the days for notes begin anew then. */
      reopenedAt: string | null;
    }
  | {
      status: 'closed';
      signatures: Signature[];
      versionId: VersionId;
      sha256: string;
      closedAt: string;
      reopened: number;
      reopening: Reopening | null;
    };

/** The version that every required signer signed, if they all signed the same file. */
export function agreedVersion(
  signatures: readonly Signature[],
  signers: readonly PersonId[],
): Signature | null {
  const required = signers.map((id) => signatures.find((signature) => signature.personId === id));
  const first = required[0];
  if (!first) return null;
  return required.every(
    (signature) => signature?.sha256 === first.sha256 && signature.versionId === first.versionId,
  )
    ? first
    : null;
}

/** The gate before one, which must be closed first. */
export function gateBefore(gate: Gate): Gate | null {
  return gate === 'master' ? 'mix' : gate === 'mix' ? 'production' : null;
}
