import { kWeighting } from './k-weighting.ts';

/** Filter states smaller than this are set to zero: no sound, and numbers this small slow the processor down. */
const smallestState = 1e-30;

/** K-weighted energies of one stretch of frames. */
export interface WeightedEnergy {
  /** Sum of squares over the channels, each by its weight. */
  energy: number;
  /** The same when both speakers play (L + R) / 2; zero unless there are two channels. */
  foldDownEnergy: number;
}

/**
 * K-weighting that keeps its state from one stretch to the next, so that the energies of consecutive stretches add up to
 * that of the whole.
 *
 * @param weights what each channel's power counts for; channels of weight 0 are left out
 */
export function createEnergyMeter(sampleRateHz: number, weights: readonly number[]) {
  const { shelf, highPass } = kWeighting(sampleRateHz);
  const states = weights.map(() => new Float64Array(4));
  const stereo = weights.length === 2;
  let folded = new Float64Array(0);

  const filterChannel = (
    channel: Float32Array,
    state: Float64Array,
    from: number,
    end: number,
    fold: boolean,
  ) => {
    const { b0, b1, b2, a1, a2 } = shelf;
    const { b0: g0, b1: g1, b2: g2, a1: c1, a2: c2 } = highPass;
    let s0 = state[0]!;
    let s1 = state[1]!;
    let s2 = state[2]!;
    let s3 = state[3]!;
    let energy = 0;
    for (let frame = from; frame < end; frame++) {
      const x = channel[frame]!;
      const y = b0 * x + s0;
      s0 = b1 * x - a1 * y + s1;
      s1 = b2 * x - a2 * y;
      const z = g0 * y + s2;
      s2 = g1 * y - c1 * z + s3;
      s3 = g2 * y - c2 * z;
      energy += z * z;
      if (fold) folded[frame - from]! += z;
    }
    state[0] = settle(s0);
    state[1] = settle(s1);
    state[2] = settle(s2);
    state[3] = settle(s3);
    return energy;
  };

  return (channels: readonly Float32Array[], from: number, end: number): WeightedEnergy => {
    if (stereo) {
      if (folded.length < end - from) folded = new Float64Array(end - from);
      folded.fill(0, 0, end - from);
    }
    let energy = 0;
    for (let channel = 0; channel < weights.length; channel++) {
      const weight = weights[channel]!;
      if (weight > 0)
        energy += weight * filterChannel(channels[channel]!, states[channel]!, from, end, stereo);
    }
    let foldDownEnergy = 0;
    if (stereo) for (let frame = 0; frame < end - from; frame++) foldDownEnergy += folded[frame]! ** 2;
    // Each of the two speakers plays half the sum: 2 · (½)² of its square.
    return { energy, foldDownEnergy: foldDownEnergy / 2 };
  };
}

function settle(state: number): number {
  return Math.abs(state) < smallestState ? 0 : state;
}
