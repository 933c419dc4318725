import FFT from 'fft.js';
import { kaiserWindow } from './kaiser.ts';
import { type BandBins, bandBins, thirdOctaveBands } from './third-octave.ts';

/**
 * Power in the third-octave bands, of consecutive stretches of frames that together are the whole signal.
 *
 * Two transforms share the work. The short one takes about 50 ms, cut so that each belongs to one tenth of a second, and
 * gives the upper bands and the series over time. The long one takes two thirds of a second of the signal at a reduced
 * rate, and gives the lower bands, which are a few hertz wide: at least four bins in the 25 Hz band and three in the
 * 20 Hz band, at every sample rate. Between 400 and 562 Hz the one takes over from the other bin by bin, so that a tone
 * there is counted once. Neighbouring windows overlap so that their squares sum to one: every frame of the signal counts
 * exactly once, and the bands sum to the signal's power.
 *
 * At a boundary between two sections the windows cross-fade over a few hundredths of a second, since a harder cut would
 * spread the bass over all bands; at the file's ends they don't.
 */
const crossover = { fromHz: 400, toHz: 562 } as const;

/** What the long transform counts for at a frequency; the short one counts for the rest. */
function longShare(frequencyHz: number): number {
  const place = (frequencyHz - crossover.fromHz) / (crossover.toHz - crossover.fromHz);
  return place <= 0 ? 1 : place >= 1 ? 0 : 0.5 + 0.5 * Math.cos(Math.PI * place);
}

/** Energies by band, in squares of samples summed over all channels. */
export interface BandEnergies {
  /** Per band, all channels. */
  total: Float64Array;
  /** Per band, left times right. */
  cross: Float64Array;
  /** Per band, left less right. */
  difference: Float64Array;
}

export function emptyBandEnergies(): BandEnergies {
  const bands = thirdOctaveBands.length;
  return {
    total: new Float64Array(bands),
    cross: new Float64Array(bands),
    difference: new Float64Array(bands),
  };
}

export function addBandEnergies(sum: BandEnergies, term: BandEnergies): void {
  for (let band = 0; band < sum.total.length; band++) {
    sum.total[band]! += term.total[band]!;
    sum.cross[band]! += term.cross[band]!;
    sum.difference[band]! += term.difference[band]!;
  }
}

/** A power-complementary slope: its square and that of its mirror image sum to one. */
function slope(frames: number): Float64Array {
  return Float64Array.from({ length: frames }, (_, frame) => {
    const rise = Math.sin((Math.PI / 2) * ((frame + 0.5) / frames));
    return Math.sin((Math.PI / 2) * rise ** 2);
  });
}

/** The bands' energies of one windowed frame after another, by one transform length. */
class FrameAnalyser {
  readonly transformFrames: number;
  private readonly fft: FFT;
  private readonly input: Float64Array;
  private readonly spectrum: Float64Array;
  private readonly slopes = new Map<number, Float64Array>();
  private readonly lower: readonly BandBins[];
  private readonly upper: readonly BandBins[];

  constructor(transformFrames: number, sampleRateHz: number) {
    this.transformFrames = transformFrames;
    this.fft = new FFT(transformFrames);
    this.input = new Float64Array(2 * transformFrames);
    this.spectrum = new Float64Array(2 * transformFrames);
    const binHz = sampleRateHz / transformFrames;
    const weighted = (weightAt: (frequencyHz: number) => number) =>
      thirdOctaveBands.map((band) => {
        const { firstBin, shares } = bandBins(band, transformFrames, sampleRateHz);
        return {
          firstBin,
          shares: shares.map((share, index) => share * weightAt((firstBin + index) * binHz)),
        };
      });
    this.lower = weighted(longShare).filter(({ shares }) => shares.some((share) => share > 0));
    this.upper = weighted((frequencyHz) => 1 - longShare(frequencyHz));
  }

  /**
   * Adds the energies of the frames between two boundaries, `from` and `end`, to `energies`. The window rises over
   * `rise` frames around the first and falls over `fall` frames around the second.
   *
   * @param scale what a square of this signal counts for in one of the full-rate signal
   * @param lower takes what the long transform counts for
   * @param upper takes what the short one counts for; `null` where that isn't wanted
   */
  add(
    channels: readonly Float32Array[],
    from: number,
    end: number,
    rise: number,
    fall: number,
    scale: number,
    lower: BandEnergies,
    upper: BandEnergies | null,
  ): void {
    const stereo = channels.length === 2;
    for (let pair = 0; pair < channels.length; pair += 2) {
      this.load(channels[pair]!, 0, from, end, rise, fall);
      const second = channels[pair + 1];
      if (second) this.load(second, 1, from, end, rise, fall);
      else for (let frame = 1; frame < this.input.length; frame += 2) this.input[frame] = 0;
      this.fft.transform(this.spectrum, this.input);
      this.sum(this.lower, scale / this.transformFrames, stereo, lower);
      if (upper) this.sum(this.upper, scale / this.transformFrames, stereo, upper);
    }
  }

  private load(
    channel: Float32Array,
    offset: 0 | 1,
    from: number,
    end: number,
    rise: number,
    fall: number,
  ): void {
    const { input } = this;
    const rising = this.slopeOf(rise);
    const falling = this.slopeOf(fall);
    const first = from - rise / 2;
    const last = end + fall / 2;
    let at = offset;
    for (let frame = 0; frame < rise; frame++, at += 2) input[at] = channel[first + frame]! * rising[frame]!;
    for (let frame = first + rise; frame < last - fall; frame++, at += 2) input[at] = channel[frame]!;
    for (let frame = 0; frame < fall; frame++, at += 2) {
      input[at] = channel[last - fall + frame]! * falling[fall - 1 - frame]!;
    }
    for (; at < input.length; at += 2) input[at] = 0;
  }

  private slopeOf(frames: number): Float64Array {
    const known = this.slopes.get(frames);
    if (known) return known;
    if (this.slopes.size > 64) this.slopes.clear();
    const made = slope(frames);
    this.slopes.set(frames, made);
    return made;
  }

  /**
   * Two real channels went in as one complex signal: bins `k` and `N − k` hold both. With Z and W for these two, the
   * powers of the channels sum to (|Z|² + |W|²) / 2, differ by Re(Z·W), and their product has the real part Im(Z·W) / 2.
   */
  private sum(bands: readonly BandBins[], scale: number, stereo: boolean, energies: BandEnergies): void {
    const { spectrum, transformFrames } = this;
    const mask = transformFrames - 1;
    for (let band = 0; band < bands.length; band++) {
      const { firstBin, shares } = bands[band]!;
      let total = 0;
      let cross = 0;
      let difference = 0;
      for (let index = 0; index < shares.length; index++) {
        const share = shares[index]!;
        const bin = firstBin + index;
        const low = 2 * bin;
        const high = 2 * ((transformFrames - bin) & mask);
        const zr = spectrum[low]!;
        const zi = spectrum[low + 1]!;
        const wr = spectrum[high]!;
        const wi = spectrum[high + 1]!;
        total += share * (zr * zr + zi * zi + wr * wr + wi * wi);
        cross += share * (zr * wi + zi * wr);
        difference += share * (zr * wr - zi * wi);
      }
      energies.total[band]! += total * scale;
      if (stereo) {
        energies.cross[band]! += cross * scale;
        energies.difference[band]! += 2 * difference * scale;
      }
    }
  }
}

const seconds = { shortFrame: 0.05, longTransform: 0.65, sectionFade: 0.1 } as const;

/** The short frames: given the whole signal with some of it before and after, a tenth of a second at a time. */
export class ShortSpectrum {
  /** The widest fade; so much of the signal must lie before and behind what is added. */
  readonly fadeFrames: number;
  private readonly analyser: FrameAnalyser;
  private rise = 0;

  constructor(sampleRateHz: number) {
    const frames = Math.ceil(sampleRateHz * seconds.shortFrame) + 1;
    const transformFrames = 2 ** Math.ceil(Math.log2(frames * 1.4));
    this.fadeFrames = Math.min(transformFrames - frames, frames - 2) & ~1;
    this.analyser = new FrameAnalyser(transformFrames, sampleRateHz);
  }

  /**
   * Adds frames `from` to `end`, which follow those added before, in two halves.
   *
   * @param framesAfter length of what will be added next, 0 at the end of the file; it may turn out shorter, but not
   *   than half a fade
   */
  add(
    channels: readonly Float32Array[],
    from: number,
    end: number,
    framesAfter: number,
    lower: BandEnergies,
    upper: BandEnergies,
  ): void {
    const frames = end - from;
    const half = frames >> 1;
    const rise = this.rise;
    const fall = Math.min(this.fadeFrames, frames - half, framesAfter >> 1) & ~1;
    this.rise = fall;
    if (half < rise / 2) {
      this.analyser.add(channels, from, end, rise, fall, 1, lower, upper);
      return;
    }
    const within = Math.min(this.fadeFrames, half, frames - half, 2 * half - rise) & ~1;
    this.analyser.add(channels, from, from + half, rise, within, 1, lower, upper);
    this.analyser.add(channels, from + half, end, within, fall, 1, lower, upper);
  }
}

/** Attenuation of the filter before the reduced rate, dB, and the band edges it must keep. */
const reduction = {
  stopBandDb: 80,
  passEdgeHz: crossover.toHz,
  slowestRateHz: 2700,
};

/** The long frames, for the lower bands, on the signal at a reduced rate. */
export class LongSpectrum {
  /** The reducing filter reaches so many frames to either side. */
  readonly reachFrames: number;
  private readonly factor: number;
  private readonly taps: Float64Array;
  private readonly analyser: FrameAnalyser;
  private readonly fadeFrames: number;
  /** The reduced signal from `firstReduced` on, one array a channel. */
  private reduced: Float32Array[];
  private firstReduced: number;
  private filled: number;
  private from = 0;
  private rise = 0;

  constructor(sampleRateHz: number, channelCount: number) {
    this.factor = 2 ** Math.max(0, Math.floor(Math.log2(sampleRateHz / reduction.slowestRateHz)));
    const reducedRateHz = sampleRateHz / this.factor;
    this.taps = reducingFilter(sampleRateHz, reducedRateHz);
    this.reachFrames = (this.taps.length - 1) / 2;
    const transformFrames = 2 ** Math.ceil(Math.log2(reducedRateHz * seconds.longTransform));
    this.analyser = new FrameAnalyser(transformFrames, reducedRateHz);
    this.fadeFrames = Math.round(reducedRateHz * seconds.sectionFade) & ~1;
    // Room for a window, its fades, and a push of several tenths of a second behind it.
    this.firstReduced = -transformFrames;
    this.filled = transformFrames;
    this.reduced = Array.from({ length: channelCount }, () => new Float32Array(6 * transformFrames));
  }

  private get step(): number {
    return this.analyser.transformFrames / 2;
  }

  /**
   * Takes frames up to the absolute frame `end`; those before were taken already.
   *
   * @param offset place of absolute frame 0 in `channels`
   */
  push(channels: readonly Float32Array[], offset: number, end: number): void {
    const reach = this.reachFrames;
    const { taps, factor } = this;
    for (let next = this.firstReduced + this.filled; next * factor < end; next++) {
      if (this.filled === this.reduced[0]!.length) this.forget();
      const centre = next * factor + offset;
      for (let index = 0; index < channels.length; index++) {
        const channel = channels[index]!;
        let value = taps[reach]! * channel[centre]!;
        for (let tap = 1; tap <= reach; tap++) {
          value += taps[reach + tap]! * (channel[centre - tap]! + channel[centre + tap]!);
        }
        this.reduced[index]![this.filled] = value;
      }
      this.filled++;
    }
  }

  /** Drops what lies more than a window before the next one. */
  private forget(): void {
    const keepFrom = this.from - this.analyser.transformFrames - this.firstReduced;
    for (const channel of this.reduced) {
      channel.copyWithin(0, keepFrom, this.filled);
      channel.fill(0, this.filled - keepFrom);
    }
    this.firstReduced += keepFrom;
    this.filled -= keepFrom;
  }

  /** Adds every window that is complete before `segmentEnd`, the next boundary of a section. */
  addComplete(segmentEnd: number, energies: BandEnergies): void {
    const end = Math.round(segmentEnd / this.factor);
    while (this.from + 2 * this.step <= end && this.from + 2 * this.step <= this.firstReduced + this.filled) {
      this.window(this.from + this.step, this.step, energies);
    }
  }

  /** Adds what is left before a section's boundary; `framesAfter` is the length of what follows, 0 at the end. */
  addRest(segmentEnd: number, framesAfter: number, energies: BandEnergies): void {
    const end = Math.round(segmentEnd / this.factor);
    const left = end - this.from;
    if (left <= 0) return;
    const after = Math.round(framesAfter / this.factor);
    if (left > this.step)
      this.window(this.from + this.step, Math.min(this.step, left - this.step) & ~1, energies);
    this.window(end, Math.min(this.fadeFrames, end - this.from, after) & ~1, energies);
  }

  private window(end: number, fall: number, energies: BandEnergies): void {
    const offset = -this.firstReduced;
    this.analyser.add(
      this.reduced,
      this.from + offset,
      end + offset,
      this.rise,
      fall,
      this.factor,
      energies,
      null,
    );
    this.from = end;
    this.rise = fall;
  }
}

/** A low-pass of odd length, by Kaiser's formulas, that keeps what lies under the crossover free of aliases. */
function reducingFilter(sampleRateHz: number, reducedRateHz: number): Float64Array {
  const stopEdgeHz = reducedRateHz - reduction.passEdgeHz;
  const width = (2 * Math.PI * (stopEdgeHz - reduction.passEdgeHz)) / sampleRateHz;
  const half = Math.ceil((reduction.stopBandDb - 8) / (2.285 * width) / 2);
  const shape = 0.1102 * (reduction.stopBandDb - 8.7);
  const cutoff = reducedRateHz / 2 / sampleRateHz;
  const taps = Float64Array.from({ length: 2 * half + 1 }, (_, tap) => {
    const place = tap - half;
    const sinc = place === 0 ? 2 * cutoff : Math.sin(2 * Math.PI * cutoff * place) / (Math.PI * place);
    return sinc * kaiserWindow(place / (half + 1), shape);
  });
  const gain = taps.reduce((total, tap) => total + tap, 0);
  return taps.map((tap) => tap / gain);
}
