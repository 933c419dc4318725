import type { Change } from '../measurement/change.ts';
import { bandsIn, bandWords } from './part-bands.ts';

/** What moved, as the middle of a sentence: `something is up`. */
export function moveWords({ kind, towards }: Pick<Change, 'kind' | 'towards'>): string {
  if (towards === 'left' || towards === 'right') return `something moved to the ${towards}`;
  if (towards) return `the image is ${towards}`;
  const words: Record<Change['kind'], string> = {
    up: 'something is up',
    down: 'something is down',
    added: 'something was added',
    removed: 'something was removed',
    replaced: 'something is not the same as before',
    'moved in the image': 'something moved in the image',
    wetter: 'something is wetter',
    drier: 'something is drier',
    dynamics: 'the dynamics of the whole mix differ',
    cut: 'a stretch was cut',
    inserted: 'a stretch was put in',
  };
  return words[kind];
}

/** The same with the bands that it shows in: `something is up, 50 to 200 Hz`. */
export function changeWords(change: Change): string {
  const { band } = change;
  const range = band ? `, ${bandWords(bandsIn(band.lowestHz, band.highestHz))}` : '';
  return `${moveWords(change)}${range}`;
}

/** What the part's own fader did, if one part moved; empty where that can't be told. */
export function partWords({ partGainDb }: Change): string {
  if (partGainDb === null) return '';
  const sign = partGainDb < 0 ? '−' : '+';
  return `, the part itself ${sign}${Math.abs(partGainDb).toFixed(1)} dB if one part moved`;
}
