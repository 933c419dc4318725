import { alternates } from './contract.ts';
import type { PersonId } from './person.ts';
import type { VersionFile, VersionId } from './version.ts';

/**
 * What a stem holds of its version: a part or group of parts, which sums with the others to the print; or an alternate,
 * the whole song but for something.
 */
export const stemRoles = ['part', ...alternates.filter((each) => each !== 'stems')] as const;
export type StemRole = (typeof stemRoles)[number];

/** One stem of a version: the exact file, and what people call what sounds in it. */
export interface Stem {
  name: string;
  role: StemRole;
  file: VersionFile;
}

/** The stems of one version, as they were attached. The last ones attached hold; all stay on the record. */
export interface AttachedStems {
  versionId: VersionId;
  stems: Stem[];
  /** Why they replace those before them; empty for the first. */
  reason: string;
  at: string;
  by: PersonId;
}

/** More than any session is printed to; a song's parts are told apart by a regression that must stay solvable. */
export const mostStems = 64;
export const longestStemName = 60;
/** A stem starts with its print and ends with it, give or take a cut tail or an encoder's padding. *Common practice*. */
export const stemLengthToleranceSeconds = 0.5;

/** The stems of a version that hold: those attached last; `null` where it has none. */
export function stemsOf(
  { attachedStems }: { attachedStems: readonly AttachedStems[] },
  versionId: VersionId,
): AttachedStems | null {
  return attachedStems.findLast((each) => each.versionId === versionId) ?? null;
}
