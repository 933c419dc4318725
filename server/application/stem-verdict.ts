import type { StemChange, StemSection } from '../measurement/stem-gain.ts';
import type { Verdict } from './request-verdict.ts';
import type { Wish } from './request-wish.ts';
import { stemFigure, stemTowards } from './stem-words.ts';

const rises: Partial<Record<StemChange['reading'], 1 | -1>> = { up: 1, added: 1, down: -1, removed: -1 };

/** A section as a sentence names it: `chorus 2`, `the bridge`. */
function inSentence(name: string): string {
  const lower = name.charAt(0).toLowerCase() + name.slice(1);
  return /^\p{L}{4,}$/u.test(name) ? `the ${lower}` : lower;
}

/**
 * What the stem of the very part that a request names says of the request in one section; `null` where it doesn't decide,
 * so that the bands of the mixes are asked.
 */
export function stemVerdict(
  wish: Wish,
  change: StemChange,
  { name, doubt }: Pick<StemSection, 'name' | 'doubt'>,
): Verdict | null {
  const { reading } = change;
  const figure = `${stemFigure(change)} in ${inSentence(name)}, from the stems.`;
  const seen = (right: boolean): Verdict => ({
    verdict: right ? 'seen in the measurement' : 'opposite',
    figure,
  });
  const short = (why: string): Verdict => ({
    verdict: 'cannot be told this way',
    figure: `${figure.slice(0, -1)}: ${why}.`,
  });
  const still = reading === 'no change measured';
  const rise = rises[reading];
  switch (wish.what) {
    case 'level':
      if (still) return { verdict: 'no change measured', figure };
      return rise === undefined ? null : seen(rise === wish.sign);
    case 'gone':
      if (still) return { verdict: 'no change measured', figure };
      if (reading === 'down') return short('down, but not gone');
      return rise === undefined ? null : seen(reading === 'removed');
    case 'new':
      if (still) return { verdict: 'no change measured', figure };
      if (reading === 'up') return short('it was there before');
      return rise === undefined ? null : seen(reading === 'added');
    case 'image':
      if (still && doubt === null) return { verdict: 'no change measured', figure };
      if (reading !== 'moved in the image' || wish.towards === 'wider' || wish.towards === 'narrower')
        return null;
      return seen(wish.towards === null || wish.towards === stemTowards(change));
    case 'tone':
      return still && doubt === null ? { verdict: 'no change measured', figure } : null;
    default:
      return null;
  }
}
