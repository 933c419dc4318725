import { findTargets, languages, lexiconOf } from '../triage/lexicon.ts';
import { wordsOf } from '../triage/token.ts';

const plain = (name: string) => name.trim().toLowerCase();
const known = new Map<string, string | null>();

/**
 * The part that a name says, in the lexicon's word for it: `Ld Vox` and `vocals` both say `lead vocal`.
 *
 * @returns `null` where the name says none that the lexicon knows, or several, as `Kick and bass` does.
 */
export function targetNamed(name: string): string | null {
  const key = plain(name);
  const found = known.get(key);
  if (found !== undefined) return found;
  const words = wordsOf(key);
  const hits = languages
    .map((language) => findTargets(words, lexiconOf(language)).filter(({ implied }) => !implied))
    .find((each) => each.length > 0);
  const targets = new Set(hits?.map(({ target }) => target.name));
  const [target = null] = targets.size === 1 ? targets : [];
  known.set(key, target);
  return target;
}

/** Whether a request that names a target means the very part that a stem is named after. */
export function isStemOf(stem: string, target: string | null): boolean {
  if (target === null) return false;
  if (plain(stem) === plain(target)) return true;
  const named = targetNamed(target);
  return named !== null && named === targetNamed(stem);
}
