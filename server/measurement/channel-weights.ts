/** @source ITU-R BS.1770-5, Annex 1, Table 3: 1.41 for the surrounds, as printed, not +1.5 dB. */
const surroundWeight = 1.41;
const frontWeight = 1;
/** The low-frequency effects channel is left out of the measurement. */
const excluded = 0;

/** Speaker bits of WAVE_FORMAT_EXTENSIBLE that don't weigh 1. */
const lowFrequency = 0x8;
const backLeft = 0x10;
const backRight = 0x20;
const sideLeft = 0x200;
const sideRight = 0x400;

/** Speaker positions by channel count where a file names none: mono, stereo, L R C, quad, 5.0, 5.1, 6.1, 7.1. */
const defaultMasks: Record<number, number> = {
  1: 0x4,
  2: 0x3,
  3: 0x7,
  4: 0x33,
  5: 0x37,
  6: 0x3f,
  7: 0x70f,
  8: 0x63f,
};

/**
 * What each channel's power counts for in loudness. The surrounds of 5.1 (60° to 120°) weigh 1.41 whether the file calls
 * them side or back; where it has both, the back pair stands behind 120° and weighs 1. Channels without a named place
 * weigh 1.
 *
 * @param channelMask Speaker bits in channel order, as in WAVE_FORMAT_EXTENSIBLE; `null` for the usual places.
 * @source ITU-R BS.1770-5, Annex 1, Tables 3 and 4
 */
export function channelWeights(channelCount: number, channelMask: number | null = null): number[] {
  const named = channelMask ?? defaultMasks[channelCount] ?? 0;
  const bits = Array.from({ length: 32 }, (_, bit) => 2 ** bit).filter(
    (bit) => Math.floor(named / bit) % 2 === 1,
  );
  const hasSides = bits.includes(sideLeft) || bits.includes(sideRight);
  return Array.from({ length: channelCount }, (_, channel) => {
    const bit = bits[channel];
    if (bit === lowFrequency) return excluded;
    if (bit === sideLeft || bit === sideRight) return surroundWeight;
    if ((bit === backLeft || bit === backRight) && !hasSides) return surroundWeight;
    return frontWeight;
  });
}
