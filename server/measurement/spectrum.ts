import FFT from 'fft.js';
import { kaiserWindow } from './kaiser.ts';
import { type BandBins, bandBins, thirdOctaveBands } from './third-octave.ts';

/**
 * Power in the third-octave bands, of a whole signal and of its sections.
 *
 * Two transforms share the work. The short one takes frames of about 50 ms and gives the upper bands and the series over
 * time. The long one takes two thirds of a second of the signal at a reduced rate and gives the lower bands, which are a
 * few hertz wide: at least four bins in the 25 Hz band and three in the 20 Hz band, at every sample rate. Between 400 and
 * 562 Hz the one takes over from the other bin by bin, so that a tone there is counted once.
 *
 * Neighbouring windows overlap so that their squares sum to one: every frame of the signal counts exactly once, and the
 * bands sum to the signal's power. A section is made of windows that lie within it, so that nothing outside changes its
 * figures: around its boundaries stands a short window of its own, which counts for the whole file alone. The section's
 * energies are scaled up by the little that is missing at its ends.
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

function scaleBandEnergies(energies: BandEnergies, factor: number): BandEnergies {
  const scale = (values: Float64Array) => values.map((value) => value * factor);
  return {
    total: scale(energies.total),
    cross: scale(energies.cross),
    difference: scale(energies.difference),
  };
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

/** Where a section begins or ends, and over how many frames the windows beside it fade. */
interface Boundary {
  frame: number;
  fade: number;
}

/** The boundaries of all sections but the start of the file, with fades that leave room for one another. */
function fadedBoundaries(frames: readonly number[], widest: number): Boundary[] {
  return frames.map((frame, index) => {
    const before = frame - (frames[index - 1] ?? 0);
    const after = (frames[index + 1] ?? Infinity) - frame;
    return { frame, fade: Math.min(widest, before / 2, after / 2) & ~1 };
  });
}

/** What a stretch between two boundaries has in the bands, and how many frames' worth was counted. */
export interface StretchEnergies {
  energies: BandEnergies;
  countedFrames: number;
}

/**
 * Cuts a signal into windowed frames, adds up their energies by the segments that the sections' boundaries make, and
 * hands each frame's energies on.
 *
 * Segments alternate: what lies between two boundaries, then the short piece around the next boundary.
 */
class FramedSpectrum {
  private readonly analyser: FrameAnalyser;
  private readonly boundaries: Boundary[];
  private readonly cuts: { frame: number; fade: number }[];
  private readonly widestFade: number;
  private readonly stepAfter: (frame: number) => number;
  private readonly segments: { lower: BandEnergies; upper: BandEnergies; frames: number }[];
  private segment = 0;
  private start = 0;
  private rise = 0;

  /**
   * @param boundaryFrames boundaries of sections in order, without 0
   * @param stepAfter the end of the frame that begins at a place where no cut is near
   */
  constructor(
    analyser: FrameAnalyser,
    boundaryFrames: readonly number[],
    fades: { within: number; atBoundary: number },
    stepAfter: (frame: number) => number,
  ) {
    this.analyser = analyser;
    this.boundaries = fadedBoundaries(boundaryFrames, fades.atBoundary);
    this.cuts = this.boundaries.flatMap(({ frame, fade }) =>
      [frame - fade / 2, frame + fade / 2].map((cut) => ({ frame: cut, fade })),
    );
    this.widestFade = fades.within;
    this.stepAfter = stepAfter;
    this.segments = Array.from({ length: this.cuts.length + 1 }, () => ({
      lower: emptyBandEnergies(),
      upper: emptyBandEnergies(),
      frames: 0,
    }));
  }

  /** The first frame that is still needed. */
  get neededFrom(): number {
    return this.start - this.rise / 2;
  }

  /** The end of the frame that begins at `start`, and the fade there; `cut` is the next cut's place in the list. */
  private frameEnd(start: number, cut: number, end: number): { frame: number; fade: number; isCut: boolean } {
    const next = this.cuts[cut];
    const step = this.stepAfter(start);
    // A frame that would end next to a boundary ends with the segment; the fades on both sides then have room.
    if (next && next.frame - next.fade <= step)
      return { ...next, frame: Math.min(next.frame, end), isCut: true };
    return { frame: Math.min(step, end), fade: this.widestFade, isCut: false };
  }

  /**
   * Adds every frame that is complete, together with the one after it, before the frame `available`.
   *
   * @param offset place of absolute frame 0 in `channels`
   * @param end the end of the file, `Infinity` until it is known; behind it the channels hold silence
   * @param scale what a square of this signal counts for in one of the full-rate signal
   */
  advance(
    channels: readonly Float32Array[],
    offset: number,
    available: number,
    end: number,
    scale: number,
    onFrame: ((middle: number, lower: BandEnergies, upper: BandEnergies) => void) | null,
  ): void {
    while (this.start < end) {
      const first = this.frameEnd(this.start, this.segment, end);
      const nextCut = first.isCut ? this.segment + 1 : this.segment;
      const second = first.frame < end ? this.frameEnd(first.frame, nextCut, end) : first;
      if (second.frame > available && end === Infinity) return;
      const fall = Math.min(first.fade, first.frame - this.start, second.frame - first.frame) & ~1;
      if (first.frame > this.start) {
        const lower = emptyBandEnergies();
        const upper = emptyBandEnergies();
        this.analyser.add(
          channels,
          this.start + offset,
          first.frame + offset,
          this.rise,
          fall,
          scale,
          lower,
          onFrame ? upper : null,
        );
        const segment = this.segments[this.segment]!;
        addBandEnergies(segment.lower, lower);
        addBandEnergies(segment.upper, upper);
        segment.frames += first.frame - this.start;
        onFrame?.((this.start + first.frame) / 2, lower, upper);
      }
      this.start = first.frame;
      this.rise = fall;
      this.segment = nextCut;
    }
  }

  /** The lower or upper bands between two boundaries, 0 and the end of the file among them. */
  between(part: 'lower' | 'upper', startFrame: number, endFrame: number): StretchEnergies {
    const first = startFrame === 0 ? 0 : 2 * (this.placeOf(startFrame) + 1);
    const last = endFrame === Infinity ? this.segments.length - 1 : 2 * this.placeOf(endFrame);
    const energies = emptyBandEnergies();
    let countedFrames = 0;
    for (const segment of this.segments.slice(first, last + 1)) {
      addBandEnergies(energies, segment[part]);
      countedFrames += segment.frames;
    }
    return { energies, countedFrames };
  }

  private placeOf(frame: number): number {
    return this.boundaries.findIndex((boundary) => boundary.frame === frame);
  }
}

const seconds = { shortFrame: 0.05, longTransform: 0.65, shortFade: 0.01, longFade: 0.05 } as const;

/** Attenuation of the filter before the reduced rate, dB; the highest frequency it must keep; the least reduced rate. */
const reduction = { stopBandDb: 80, passEdgeHz: crossover.toHz, slowestRateHz: 2700 } as const;

/** The spectrum of one signal, taken block by block. */
export class Spectrum {
  /** So many frames before and behind what is taken must be there. */
  readonly reachFrames: number;
  private readonly factor: number;
  private readonly taps: Float64Array;
  private readonly short: FramedSpectrum;
  private readonly long: FramedSpectrum;
  /** The same with the sections' boundaries; `null` without sections. */
  private readonly longBySection: FramedSpectrum | null;
  /** The reduced signal from `firstReduced` on. */
  private readonly reduced: Float32Array[];
  private firstReduced = 0;
  private filled = 0;

  /** @param boundaryFrames where sections begin and end, in order, without 0 */
  constructor(sampleRateHz: number, channelCount: number, boundaryFrames: readonly number[]) {
    const step = Math.ceil(sampleRateHz * seconds.shortFrame) + 1;
    const shortFrames = 2 ** Math.ceil(Math.log2(step * 1.7));
    const stepsPerSecond = Math.round(1 / seconds.shortFrame);
    this.short = new FramedSpectrum(
      new FrameAnalyser(shortFrames, sampleRateHz),
      boundaryFrames,
      {
        within: Math.min(shortFrames - step, step - 2) & ~1,
        atBoundary: Math.round(sampleRateHz * seconds.shortFade) & ~1,
      },
      (frame) => {
        const grid = Math.floor((frame * stepsPerSecond) / sampleRateHz) + 1;
        const end = Math.round((grid * sampleRateHz) / stepsPerSecond);
        // From a cut next to the grid to the point after.
        return end - frame < step / 4 ? Math.round(((grid + 1) * sampleRateHz) / stepsPerSecond) : end;
      },
    );
    this.factor = 2 ** Math.max(0, Math.floor(Math.log2(sampleRateHz / reduction.slowestRateHz)));
    const reducedRateHz = sampleRateHz / this.factor;
    this.taps = reducingFilter(sampleRateHz, reducedRateHz);
    this.reachFrames = (this.taps.length - 1) / 2;
    const longFrames = 2 ** Math.ceil(Math.log2(reducedRateHz * seconds.longTransform));
    const longAnalyser = new FrameAnalyser(longFrames, reducedRateHz);
    const longSpectrum = (boundaries: readonly number[]) =>
      new FramedSpectrum(
        longAnalyser,
        boundaries,
        { within: longFrames / 2, atBoundary: Math.round(reducedRateHz * seconds.longFade) & ~1 },
        (frame) => frame + longFrames / 2,
      );
    this.long = longSpectrum([]);
    this.longBySection =
      boundaryFrames.length > 0
        ? longSpectrum([...new Set(boundaryFrames.map((frame) => this.reduce(frame)))])
        : null;
    this.reduced = Array.from({ length: channelCount }, () => new Float32Array(5 * longFrames));
  }

  private reduce(frame: number): number {
    return Math.round(frame / this.factor);
  }

  /** The first frame that is still needed. */
  get neededFrom(): number {
    return (
      Math.min(this.short.neededFrom, (this.firstReduced + this.filled) * this.factor) - this.reachFrames
    );
  }

  /**
   * Takes what is new before the frame `available`.
   *
   * @param offset place of absolute frame 0 in `channels`
   * @param end the end of the file, `Infinity` until it is known; behind it the channels hold silence
   * @param onFrame told the energies of each short frame, and its middle
   */
  advance(
    channels: readonly Float32Array[],
    offset: number,
    available: number,
    end: number,
    onFrame: (middle: number, lower: BandEnergies, upper: BandEnergies) => void,
  ): void {
    this.short.advance(channels, offset, available, end, 1, onFrame);
    const reducedEnd = end === Infinity ? Infinity : Math.ceil(end / this.factor);
    const until = Math.min(available - this.reachFrames, end);
    while ((this.firstReduced + this.filled) * this.factor < until) {
      this.fill(channels, offset, until);
      const reducedAvailable = this.firstReduced + this.filled;
      for (const spectrum of [this.long, this.longBySection]) {
        spectrum?.advance(this.reduced, -this.firstReduced, reducedAvailable, Infinity, this.factor, null);
      }
    }
    if (end === Infinity) return;
    this.makeRoom();
    for (const channel of this.reduced) channel.fill(0, this.filled);
    for (const spectrum of [this.long, this.longBySection]) {
      spectrum?.advance(this.reduced, -this.firstReduced, Infinity, reducedEnd, this.factor, null);
    }
  }

  private makeRoom(): void {
    const needed = Math.min(this.long.neededFrom, this.longBySection?.neededFrom ?? Infinity);
    const drop = Math.max(0, Math.min(needed - this.firstReduced, this.filled));
    for (const channel of this.reduced) channel.copyWithin(0, drop, this.filled);
    this.firstReduced += drop;
    this.filled -= drop;
  }

  /** Reduces the signal until the buffer is full or the frame `until` is reached. */
  private fill(channels: readonly Float32Array[], offset: number, until: number): void {
    const { taps, factor, reachFrames } = this;
    if (this.filled === this.reduced[0]!.length) this.makeRoom();
    const last = this.reduced[0]!.length;
    const count = Math.min(last, Math.ceil(until / factor) - this.firstReduced);
    for (let index = 0; index < channels.length; index++) {
      const channel = channels[index]!;
      const target = this.reduced[index]!;
      for (let place = this.filled; place < count; place++) {
        const centre = (this.firstReduced + place) * factor + offset;
        let value = taps[reachFrames]! * channel[centre]!;
        for (let tap = 1; tap <= reachFrames; tap++) {
          value += taps[reachFrames + tap]! * (channel[centre - tap]! + channel[centre + tap]!);
        }
        target[place] = value;
      }
    }
    this.filled = count;
  }

  /** The energies of the whole file. */
  whole(): BandEnergies {
    const { energies } = this.short.between('upper', 0, Infinity);
    addBandEnergies(energies, this.long.between('lower', 0, Infinity).energies);
    return energies;
  }

  /**
   * The energies of the section between two boundaries, scaled from the frames that its windows count to all of its
   * `frames`; these are fewer than lie between the boundaries where the file ends before the section does.
   */
  section(startFrame: number, endFrame: number, frames: number): BandEnergies {
    const scaled = ({ energies, countedFrames }: StretchEnergies, allFrames: number) =>
      scaleBandEnergies(energies, countedFrames > 0 ? allFrames / countedFrames : 0);
    const energies = scaled(this.short.between('upper', startFrame, endFrame), frames);
    const long = this.longBySection!.between('lower', this.reduce(startFrame), this.reduce(endFrame));
    addBandEnergies(energies, scaled(long, frames / this.factor));
    return energies;
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
