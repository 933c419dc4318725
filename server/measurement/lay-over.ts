import { type AlignedPiece, align, fractionalDelayFrames } from './alignment.ts';
import { createCrossSpectrum } from './cross-spectrum.ts';
import { KernelMemory } from './kernel-memory.ts';
import { resample } from './rate-conversion.ts';

/** A sound brought to another one's sample rate, polarity and frames, so that the two can be summed. */
export interface LaidOver {
  /** Stereo, at the reference's rate: polarity and fraction of a frame are taken out. */
  channels: readonly Float32Array[];
  /** Which frames belong to which: A is the reference, B is `channels`. */
  pieces: AlignedPiece[];
  /** How much later the sound starts than the reference, in frames of the reference and fractions of one. */
  offsetFrames: number;
  /** −1 where it is the reference turned upside down. */
  polarity: 1 | -1;
  converted: boolean;
  /** Brings another sound that runs along with the laid one, such as a stem of it, to the reference likewise. */
  place(sound: readonly Float32Array[]): readonly Float32Array[];
}

/**
 * Lays a sound over a reference: converted to its rate, found in time to a fraction of a frame, turned over where it
 * is upside down.
 *
 * @param reference Stereo.
 * @param sound Mono or stereo; mono plays on both speakers.
 * @throws ComparisonError `different_songs` where the two share too little.
 */
export function layOver(
  reference: readonly Float32Array[],
  referenceRateHz: number,
  sound: readonly Float32Array[],
  soundRateHz: number,
): LaidOver {
  const converted = soundRateHz !== referenceRateHz;
  const ratio = referenceRateHz / soundRateHz;
  const atReferenceRate = ([left, right]: readonly Float32Array[]): readonly Float32Array[] => {
    const stereo = [left!, right ?? left!];
    return converted ? resample(stereo, ratio, Math.round(left!.length * ratio)) : stereo;
  };
  let channels = atReferenceRate(sound);
  const alignment = align(reference, channels, referenceRateHz);
  const memory = new KernelMemory();
  let fraction = 0;
  try {
    const spectrum = createCrossSpectrum(memory, referenceRateHz);
    fraction = fractionalDelayFrames(reference, channels, alignment, spectrum, referenceRateHz);
  } finally {
    memory.free();
  }
  // Under a few thousandths of a frame the delay is none, and the sound's own samples are kept.
  if (Math.abs(fraction) < 0.004) fraction = 0;
  const { polarity, pieces } = alignment;
  const settled = (placed: readonly Float32Array[]): readonly Float32Array[] => {
    const inTime = fraction === 0 ? placed : resample(placed, 1, placed[0]!.length, fraction);
    return polarity === 1 ? inTime : inTime.map((channel) => channel.map((value) => -value));
  };
  channels = settled(channels);
  const first = pieces[0]!;
  return {
    channels,
    place: (other) => settled(atReferenceRate(other)),
    pieces,
    offsetFrames: first.startFrameB - first.startFrameA + fraction,
    polarity,
    converted,
  };
}
