import { type Alignment, spreadWindows } from './alignment.ts';
import { type CrossSpectrum, crossBands } from './cross-spectrum.ts';
import { densestValue } from './densest-value.ts';

/** How many places of the song are asked. */
const windowCount = 400;
/** Windows of agreement, in dB, narrowest first: a digital recall agrees within a hundredth. */
const agreementDb = [0.01, 0.03, 0.1, 0.3, 1] as const;
/** The share of votes that must agree before a window of agreement decides. */
const agreementShare = 0.12;
/** A place where so many of its bands agree within so much did not change but for its level. */
const wholeShare = 0.9;
const wholeDb = 0.02;
/** The least share of such places that decides by itself, and the one that speaks for no gain at all. */
const leastWhole = 0.12;
const unityShare = 0.25;

/** Another gain this far away that this share of the first one's votes agree on makes the answer doubtful. */
const rivalDb = 0.15;
const rivalShare = 0.5;

export interface GainMatch {
  /** What B is louder than A by where nothing else changed. */
  gainDb: number;
  /** Share of the places that agree on it. */
  agreement: number;
  /** False where several gains are as likely: the balance of the parts changed throughout. */
  decided: boolean;
}

/**
 * The one gain that makes cancel what did not change. A place where all bands are the same but for one level votes
 * first: it did not change. Where there are too few of those, each band of each place votes by itself; a part that was
 * changed votes only where it sounds alone, and is outvoted. Least squares would follow the changed part, and so would
 * the difference in loudness.
 *
 * @param a Stereo, at B's sample rate, with the fraction of a frame already taken out.
 * @returns 0 dB, undecided, with an agreement of 0 where nothing can be told.
 */
export function matchGain(
  a: readonly Float32Array[],
  b: readonly Float32Array[],
  { polarity, pieces }: Alignment,
  spectrum: CrossSpectrum,
): GainMatch {
  // A window's bands under about −90 dBFS are dither or nothing.
  const floor = spectrum.windowFrames ** 2 * 1e-10;
  const votes: number[] = [];
  const wholePlaces: number[] = [];
  let places = 0;
  for (const { startA, startB } of spreadWindows(pieces, spectrum.windowFrames, windowCount)) {
    const sums = spectrum.measure(a, startA, b, startB);
    const first = votes.length;
    let bands = 0;
    for (let band = 0; band < crossBands.length; band++) {
      if (crossBands[band]!.nominalHz < 80) continue;
      bands += vote(
        votes,
        polarity * sums.realLeft[band]!,
        sums.powerLeftA[band]!,
        sums.powerLeftB[band]!,
        floor,
      );
      bands += vote(
        votes,
        polarity * sums.realRight[band]!,
        sums.powerRightA[band]!,
        sums.powerRightB[band]!,
        floor,
      );
    }
    if (bands < 6) continue;
    places++;
    const here = densestValue(Float64Array.from(votes.slice(first)), [wholeDb], wholeShare);
    if (here && here.share * (votes.length - first) >= wholeShare * bands) wholePlaces.push(here.value);
  }
  if (wholePlaces.length > leastWhole * places) {
    const atUnity = wholePlaces.filter((gainDb) => Math.abs(gainDb) < wholeDb / 2);
    const agreeing = atUnity.length > unityShare * places ? atUnity : wholePlaces;
    const densest = densestValue(Float64Array.from(agreeing), agreementDb, agreementShare)!;
    const agreement = (densest.share * agreeing.length) / places;
    return { gainDb: densest.value, agreement, decided: true };
  }
  const densest = densestValue(Float64Array.from(votes), agreementDb, agreementShare);
  if (!densest) return { gainDb: 0, agreement: 0, decided: false };
  const others = votes.filter((gainDb) => Math.abs(gainDb - densest.value) > rivalDb + densest.width);
  const rival = densestValue(Float64Array.from(others), [densest.width], 0);
  const rivalVotes = rival ? rival.share * others.length : 0;
  const decided = rivalVotes < rivalShare * densest.share * votes.length;
  return { gainDb: densest.value, agreement: densest.share, decided };
}

/** Adds the gain of one band of one channel where it has one. @returns 1 where the band holds sound, else 0. */
function vote(votes: number[], real: number, powerA: number, powerB: number, floor: number): 0 | 1 {
  if (powerA < floor && powerB < floor) return 0;
  if (real > 0 && real * real >= 0.99 * powerA * powerB) votes.push(20 * Math.log10(real / powerA));
  return 1;
}
