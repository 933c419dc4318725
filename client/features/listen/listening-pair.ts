import type { SongSheet, VersionView } from '../../api/types.ts';

/** The two versions at one playhead; `older` is `null` for a song's only version. */
export interface ListeningPair {
  newer: VersionView;
  older: VersionView | null;
}

/** In the order in which they were posted. */
const posted = (sheet: Pick<SongSheet, 'versions'>) =>
  [...sheet.versions].sort((one, other) => one.postedAt.localeCompare(other.postedAt));

/**
 * What is heard when nothing was chosen: the newest version at the open gate (or the newest of all), beside the one
 * before it at its gate, or else the last of the gate before.
 *
 * @param newerId, olderId What the address asks for; ids that name nothing are left aside. Whichever of the two was posted
 * later is the newer one.
 */
export function listeningPair(
  sheet: Pick<SongSheet, 'versions' | 'gate'>,
  newerId: string | null,
  olderId: string | null,
): ListeningPair | null {
  const versions = posted(sheet);
  const find = (id: string | null) => versions.find((version) => version.id === id) ?? null;
  const newest = versions.findLast((version) => version.gate === sheet.gate) ?? versions.at(-1);
  const chosen = find(newerId) ?? newest;
  if (!chosen) return null;
  const asked = find(olderId);
  if (asked && asked !== chosen) {
    const [older, newer] =
      versions.indexOf(asked) < versions.indexOf(chosen) ? [asked, chosen] : [chosen, asked];
    return { newer: newer!, older: older! };
  }
  const before = versions.slice(0, versions.indexOf(chosen));
  const older = before.findLast((version) => version.gate === chosen.gate) ?? before.at(-1) ?? null;
  return { newer: chosen, older };
}

/** The pair after a press on a version: one of the two stays as it is; another takes its place beside the other. */
export function pairWith(pair: ListeningPair, pressed: VersionView): ListeningPair {
  if (pressed.id === pair.newer.id || pressed.id === pair.older?.id) return pair;
  return pressed.postedAt < pair.newer.postedAt
    ? { newer: pair.newer, older: pressed }
    : { newer: pressed, older: pair.newer };
}
