import type { Request } from '../domain/note.ts';
import type { RequestKind } from '../domain/request-kind.ts';
import type { ImageMove } from '../measurement/change.ts';
import { type BandSet, bandsIn } from './part-bands.ts';

/**
 * What would have to be seen between two mixes if a request was met.
 * - `level`: the part's bands up (1) or down (−1).
 * - `gone`, `new`: something removed from them, or added.
 * - `tone`: a named range up or down.
 * - `image`: moved; `towards` is `null` where the words don't say where to.
 * - `room`: wetter (1) or drier (−1).
 * - `loudness`: the whole song louder or quieter.
 * - `form`: a stretch cut or put in; `silence` the same at head or tail.
 * - `untellable`: nothing that two mixes could show; why, as the end of a sentence.
 */
export type Wish =
  | { what: 'level' | 'room' | 'loudness'; sign: 1 | -1 }
  | { what: 'gone' | 'new' }
  | { what: 'tone'; sign: 1 | -1; bands: BandSet }
  | { what: 'image'; towards: ImageMove | null }
  | { what: 'form' | 'silence'; sign: 1 | -1 }
  | { what: 'untellable'; why: string };

/**
 * Words for a tone, with the range that they are said of and whether they wish for more of it or complain of it.
 * *Common practice*; the borders are soft.
 */
const toneWords: readonly { words: RegExp; lowestHz: number; highestHz: number; more: boolean }[] = [
  { words: /\bboom/i, lowestHz: 63, highestHz: 200, more: false },
  { words: /\bmud|\bmurk/i, lowestHz: 160, highestHz: 500, more: false },
  { words: /\bbox|\bcardboard/i, lowestHz: 250, highestHz: 630, more: false },
  { words: /\bnasal|\bhonk/i, lowestHz: 800, highestHz: 1600, more: false },
  { words: /\bharsh|\bpiercing|\bshrill/i, lowestHz: 2000, highestHz: 6300, more: false },
  { words: /\bsibilan|\bess(?:es|y)\b|\bde-?ess/i, lowestHz: 5000, highestHz: 10_000, more: false },
  { words: /\btoo bright/i, lowestHz: 4000, highestHz: 16_000, more: false },
  { words: /\btoo (?:dark|dull)|\bmuffled|\bdull\b/i, lowestHz: 4000, highestHz: 16_000, more: true },
  { words: /\bdarker|\bless (?:bright|top|treble)/i, lowestHz: 4000, highestHz: 16_000, more: false },
  { words: /\bbright|\bcrisp|\btreble/i, lowestHz: 4000, highestHz: 16_000, more: true },
  { words: /\bair(?:y|ier)?\b/i, lowestHz: 10_000, highestHz: 20_000, more: true },
  { words: /\bpresen/i, lowestHz: 2500, highestHz: 6300, more: true },
  { words: /\bthin\b|\bthinner/i, lowestHz: 100, highestHz: 315, more: true },
  { words: /\bwarm|\bfuller|\bbody\b/i, lowestHz: 160, highestHz: 500, more: true },
  { words: /\blow[ -]?end|\bsub\b/i, lowestHz: 20, highestHz: 125, more: true },
];
const lessWords = /\bless\b|\btoo (?:much|airy|warm|present)|\bcut\b|\btame|\breduce|\btake out/i;

const sides: readonly (readonly [RegExp, ImageMove])[] = [
  [/\b(?:left|links|izquierda|gauche)\b/i, 'left'],
  [/\b(?:right|rechts|derecha|droite)\b/i, 'right'],
  [/\b(?:wide|wider|spread|breit\w*|ancho|large)\b/i, 'wider'],
  [/\b(?:narrow\w*|centre\w*|center\w*|middle|mono|mitte|centro)\b/i, 'narrower'],
];

const untellable = (why: string): Wish => ({ what: 'untellable', why });
const noDirection = untellable('the words don’t say which way');

/** Kinds that two mixes say nothing about, even where they differ. */
const untellableKinds: Partial<Record<RequestKind, string>> = {
  dynamics: 'how a part is held from moment to moment can’t be read from two mixes',
  tuning: 'pitch can’t be read from two mixes',
  timing: 'timing inside a mix can’t be read from two mixes',
  comp: 'which take sounds can’t be read from two mixes',
  're-record': 'who plays it, and how, can’t be read from two mixes',
  'replace-sound': 'which sound it is can’t be read from two mixes',
  cleanup: 'a small noise can’t be told from the rest of what moved',
  lyric: 'words can’t be read from two mixes',
  'tempo-key': 'tempo and key are not compared',
  'reference-match-overall': 'how close it comes to another record is for the ear',
  metadata: 'it is about the names and codes of the file, not its sound',
  format: 'it is about the kind of file, not its sound',
};

function toneWish({ text, direction }: Pick<Request, 'text' | 'direction'>): Wish {
  const word = toneWords.find(({ words }) => words.test(text));
  if (!word) return untellable('the words name no range of the tone');
  // A complaint asks for less of it, whatever the sorting read as its direction.
  const more = word.more ? direction !== 'down' && direction !== 'remove' && !lessWords.test(text) : false;
  return { what: 'tone', sign: more ? 1 : -1, bands: bandsIn(word.lowestHz, word.highestHz) };
}

/**
 * What must be seen for a request, from its kind and direction, and for tone and panning from its words.
 *
 * @source what shows which wish: reading of a null test by bands, *common practice*
 */
export function wishOf({
  kind,
  direction,
  text,
  target,
}: Pick<Request, 'kind' | 'direction' | 'text' | 'target'>): Wish {
  const why = untellableKinds[kind];
  if (why) return untellable(why);
  const sign = direction === 'up' || direction === 'add' ? 1 : -1;
  const oneWay = direction !== null && direction !== 'change';
  switch (kind) {
    case 'balance':
    case 'automation':
      if (direction === 'remove') return { what: 'gone' };
      return oneWay ? { what: 'level', sign } : noDirection;
    case 'mute':
      return oneWay ? { what: sign === 1 ? 'new' : 'gone' } : noDirection;
    case 'new-part':
      return { what: 'new' };
    case 'effect':
      return oneWay ? { what: sign === 1 ? 'new' : 'gone' } : noDirection;
    case 'tone':
    case 'overall-tone':
      return toneWish({ text, direction });
    case 'space':
      return oneWay ? { what: 'room', sign } : noDirection;
    case 'pan': {
      return { what: 'image', towards: sides.find(([words]) => words.test(text))?.[1] ?? null };
    }
    case 'overall-loudness':
      return oneWay ? { what: 'loudness', sign } : noDirection;
    case 'arrangement':
      if (!oneWay) return noDirection;
      if (target && target !== 'song structure') return { what: sign === 1 ? 'new' : 'gone' };
      return { what: 'form', sign };
    case 'fade-gap':
      if (target === 'fade-out') return untellable('a fade can’t be told from other moves of the end');
      return oneWay ? { what: 'silence', sign } : noDirection;
    default:
      return untellable('it asks for nothing that can be measured');
  }
}
