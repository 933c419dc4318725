import { kaiserWindow } from './kaiser.ts';
import { type Area, type KernelMemory, kernels, type Transform } from './kernel-memory.ts';
import { bandBins, thirdOctaveBands } from './third-octave.ts';

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

const bandCount = thirdOctaveBands.length;

/** Energies by band, in squares of samples summed over all channels. */
export class BandEnergies {
  /** All channels by band; then left times right by band; then left less right by band. */
  readonly values = new Float64Array(3 * bandCount);

  total(band: number): number {
    return this.values[band]!;
  }

  cross(band: number): number {
    return this.values[bandCount + band]!;
  }

  difference(band: number): number {
    return this.values[2 * bandCount + band]!;
  }

  add(terms: Float64Array, factor = 1): void {
    for (let place = 0; place < this.values.length; place++) this.values[place]! += factor * terms[place]!;
  }
}

/** A power-complementary slope: its square and that of its mirror image sum to one. */
function slope(frames: number): Float64Array {
  return Float64Array.from({ length: frames }, (_, frame) => {
    const rise = Math.sin((Math.PI / 2) * ((frame + 0.5) / frames));
    return Math.sin((Math.PI / 2) * rise ** 2);
  });
}

/** The slopes of a window over so many frames, up and down. */
interface Slope {
  rising: Area<Float32Array>;
  falling: Area<Float32Array>;
}

/** Bands as the kernel reads them, with what a bin's frequency weighs. */
function bandList(
  memory: KernelMemory,
  transformFrames: number,
  sampleRateHz: number,
  weightAt: (frequencyHz: number) => number,
): { list: Area<Float32Array>; count: number } {
  const binHz = sampleRateHz / transformFrames;
  const bands = thirdOctaveBands
    .map((band, place) => {
      const { firstBin, shares } = bandBins(band, transformFrames, sampleRateHz);
      return {
        place,
        firstBin,
        shares: shares.map((share, index) => share * weightAt((firstBin + index) * binHz)),
      };
    })
    .filter(({ shares }) => shares.some((share) => share > 0));
  const words = bands.flatMap(({ place, firstBin, shares }) => {
    const pairs = Math.ceil(shares.length / 2);
    const head = new Float32Array(Int32Array.of(place, firstBin, pairs, 0).buffer);
    const twice = Array.from({ length: 4 * pairs }, (_, index) => shares[index >> 1] ?? 0);
    return [head, Float32Array.from(twice)];
  });
  const list = memory.floats(words.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of words) {
    list.values.set(part, at);
    at += part.length;
  }
  return { list, count: bands.length };
}

/** The bands' energies of one windowed frame after another, by one transform length. */
class FrameAnalyser {
  readonly transformFrames: number;
  private readonly memory: KernelMemory;
  private readonly transform: Transform;
  private readonly silence: Area<Float32Array>;
  private readonly slopes = new Map<number, Slope>();
  private readonly lowerBands: ReturnType<typeof bandList>;
  private readonly upperBands: ReturnType<typeof bandList>;
  /** Of the frame that was taken last: what the long transform counts for, and what the short one does. */
  readonly lower: Area<Float64Array>;
  readonly upper: Area<Float64Array>;

  constructor(memory: KernelMemory, transformFrames: number, sampleRateHz: number) {
    this.memory = memory;
    this.transformFrames = transformFrames;
    this.transform = memory.transform(transformFrames);
    this.silence = memory.floats(transformFrames);
    this.lowerBands = bandList(memory, transformFrames, sampleRateHz, longShare);
    this.upperBands = bandList(memory, transformFrames, sampleRateHz, (hz) => 1 - longShare(hz));
    this.lower = memory.doubles(3 * bandCount);
    this.upper = memory.doubles(3 * bandCount);
  }

  /**
   * Takes the frames between two boundaries, `from` and `end`. The window rises over `rise` frames around the first and
   * falls over `fall` frames around the second.
   *
   * @param scale what a square of this signal counts for in one of the full-rate signal
   * @param both whether `upper` is wanted, too
   */
  take(
    channels: readonly Area<Float32Array>[],
    from: number,
    end: number,
    rise: number,
    fall: number,
    scale: number,
    both: boolean,
  ): void {
    this.lower.values.fill(0);
    this.upper.values.fill(0);
    const rising = this.slopeOf(rise).rising.address;
    const falling = this.slopeOf(fall).falling.address;
    const first = from - rise / 2;
    const plain = end - fall / 2 - first - rise;
    for (let pair = 0; pair < channels.length; pair += 2) {
      const left = channels[pair]!.address + 4 * first;
      const second = channels[pair + 1];
      const right = second ? second.address + 4 * first : this.silence.address;
      const { input, output } = this.transform;
      // The kernels take two frames at a time; an odd one more is faded or cleared by what follows.
      const afterRise = 4 * rise;
      const afterPlain = 4 * (rise + plain);
      kernels.interleaveFaded(left, right, rising, rise, input.address);
      kernels.interleave(left + afterRise, right + afterRise, plain, input.address + 2 * afterRise);
      kernels.interleaveFaded(
        left + afterPlain,
        right + afterPlain,
        falling,
        fall,
        input.address + 2 * afterPlain,
      );
      input.values.fill(0, 2 * (rise + plain + fall));
      this.transform.run();
      this.sum(this.lowerBands, scale, output.address, this.lower.address);
      if (both) this.sum(this.upperBands, scale, output.address, this.upper.address);
    }
  }

  private sum(
    { list, count }: ReturnType<typeof bandList>,
    scale: number,
    spectrum: number,
    energies: number,
  ) {
    kernels.sumBands(
      spectrum,
      this.transformFrames,
      list.address,
      count,
      scale / this.transformFrames,
      8 * bandCount,
      energies,
    );
  }

  private slopeOf(frames: number): Slope {
    const known = this.slopes.get(frames);
    if (known) return known;
    const values = slope(frames);
    const made = { rising: this.memory.floats(frames), falling: this.memory.floats(frames) };
    made.rising.values.set(values);
    made.falling.values.set(values.reverse());
    this.slopes.set(frames, made);
    return made;
  }
}

/** Told a frame's middle, and its energies as `BandEnergies.values`: what the long transform counts for, and the rest. */
type OnFrame = (middle: number, lower: Float64Array, upper: Float64Array) => void;

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
      lower: new BandEnergies(),
      upper: new BandEnergies(),
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
    channels: readonly Area<Float32Array>[],
    offset: number,
    available: number,
    end: number,
    scale: number,
    onFrame: OnFrame | null,
  ): void {
    while (this.start < end) {
      const first = this.frameEnd(this.start, this.segment, end);
      const nextCut = first.isCut ? this.segment + 1 : this.segment;
      const second = first.frame < end ? this.frameEnd(first.frame, nextCut, end) : first;
      if (second.frame > available && end === Infinity) return;
      const fall = Math.min(first.fade, first.frame - this.start, second.frame - first.frame) & ~1;
      if (first.frame > this.start) {
        const { analyser } = this;
        const both = onFrame !== null;
        analyser.take(channels, this.start + offset, first.frame + offset, this.rise, fall, scale, both);
        const segment = this.segments[this.segment]!;
        segment.lower.add(analyser.lower.values);
        if (both) segment.upper.add(analyser.upper.values);
        segment.frames += first.frame - this.start;
        onFrame?.((this.start + first.frame) / 2, analyser.lower.values, analyser.upper.values);
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
    const energies = new BandEnergies();
    let countedFrames = 0;
    for (const segment of this.segments.slice(first, last + 1)) {
      energies.add(segment[part].values);
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
  private readonly filter: ReturnType<KernelMemory['taps']>;
  private readonly short: FramedSpectrum;
  private readonly long: FramedSpectrum;
  /** The same with the sections' boundaries; `null` without sections. */
  private readonly longBySection: FramedSpectrum | null;
  /** The reduced signal from `firstReduced` on. */
  private readonly reduced: Area<Float32Array>[];
  private firstReduced = 0;
  private filled = 0;

  /** @param boundaryFrames where sections begin and end, in order, without 0 */
  constructor(
    memory: KernelMemory,
    sampleRateHz: number,
    channelCount: number,
    boundaryFrames: readonly number[],
  ) {
    const step = Math.ceil(sampleRateHz * seconds.shortFrame) + 1;
    const shortFrames = 2 ** Math.ceil(Math.log2(step * 1.7));
    const stepsPerSecond = Math.round(1 / seconds.shortFrame);
    this.short = new FramedSpectrum(
      new FrameAnalyser(memory, shortFrames, sampleRateHz),
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
    const taps = reducingFilter(sampleRateHz, reducedRateHz);
    this.reachFrames = (taps.length - 1) / 2;
    this.filter = memory.taps(taps);
    const longFrames = 2 ** Math.ceil(Math.log2(reducedRateHz * seconds.longTransform));
    const longAnalyser = new FrameAnalyser(memory, longFrames, reducedRateHz);
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
    this.reduced = Array.from({ length: channelCount }, () => memory.floats(5 * longFrames));
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
    channels: readonly Area<Float32Array>[],
    offset: number,
    available: number,
    end: number,
    onFrame: OnFrame,
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
    for (const { values } of this.reduced) values.fill(0, this.filled);
    for (const spectrum of [this.long, this.longBySection]) {
      spectrum?.advance(this.reduced, -this.firstReduced, Infinity, reducedEnd, this.factor, null);
    }
  }

  private makeRoom(): void {
    const needed = Math.min(this.long.neededFrom, this.longBySection?.neededFrom ?? Infinity);
    const drop = Math.max(0, Math.min(needed - this.firstReduced, this.filled));
    for (const { values } of this.reduced) values.copyWithin(0, drop, this.filled);
    this.firstReduced += drop;
    this.filled -= drop;
  }

  /** Reduces the signal until the buffer is full or the frame `until` is reached. */
  private fill(channels: readonly Area<Float32Array>[], offset: number, until: number): void {
    const { factor, reachFrames } = this;
    const { taps, sixteens } = this.filter;
    if (this.filled === this.reduced[0]!.length) this.makeRoom();
    const count = Math.min(this.reduced[0]!.length, Math.ceil(until / factor) - this.firstReduced);
    const firstTap = (this.firstReduced + this.filled) * factor + offset - reachFrames;
    for (const [index, channel] of channels.entries()) {
      kernels.reduce(
        channel.address + 4 * firstTap,
        factor,
        taps.address,
        sixteens,
        this.reduced[index]!.address + 4 * this.filled,
        count - this.filled,
      );
    }
    this.filled = count;
  }

  /** The energies of the whole file. */
  whole(): BandEnergies {
    const { energies } = this.short.between('upper', 0, Infinity);
    energies.add(this.long.between('lower', 0, Infinity).energies.values);
    return energies;
  }

  /**
   * The energies of the section between two boundaries, scaled from the frames that its windows count to all of its
   * `frames`; these are fewer than lie between the boundaries where the file ends before the section does.
   */
  section(startFrame: number, endFrame: number, frames: number): BandEnergies {
    const sum = new BandEnergies();
    const addScaled = ({ energies, countedFrames }: StretchEnergies, allFrames: number) => {
      if (countedFrames > 0) sum.add(energies.values, allFrames / countedFrames);
    };
    addScaled(this.short.between('upper', startFrame, endFrame), frames);
    const long = this.longBySection!.between('lower', this.reduce(startFrame), this.reduce(endFrame));
    addScaled(long, frames / this.factor);
    return sum;
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
