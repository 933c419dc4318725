import { GrowingColumn } from './growing-column.ts';
import { type Area, KernelMemory, type Transform } from './kernel-memory.ts';
import { MeasurementError } from './measurement-error.ts';
import { bandBins, thirdOctaveBands } from './third-octave.ts';

/** Instants a second at which the sound's growth is taken; a tenth as many at which its colour is. */
export const instantsPerSecond = 100;
export const stepsPerSecond = 10;
const instantsInStep = instantsPerSecond / stepsPerSecond;

/** Under 40 Hz the short transform tells no bands apart. */
const bands = thirdOctaveBands.filter(({ nominalHz }) => nominalHz >= 40);
export const bandCount = bands.length;
/** Bands in which a bass drum and a bass speak, up to 160 Hz (*common practice*). */
const lowBandCount = bands.filter(({ nominalHz }) => nominalHz <= 160).length;

/** Pitch classes of an octave. */
export const pitchClassCount = 12;
const concertPitchHz = 440;
/** Where a semitone is wider than the long transform's main lobe, up to where harmonics blur the classes. */
const chromaRange = { fromHz: 180, toHz: 2500 } as const;

/** Windows are the power of two from these lengths on. */
const windowSeconds = { short: 0.02, long: 0.3 } as const;
const intakeFrames = 16_384;

/** What a song's sections and its tempo are found by; silence gives zeros. */
export interface SoundFeatures {
  durationSeconds: number;
  /** Growth of the sound in all bands at each hundredth of a second, and in the low ones; no unit. */
  onsets: Float32Array;
  lowOnsets: Float32Array;
  /** Mean of what the growth is a growth of, so that it can be told from rounding. */
  meanRoot: number;
  stepCount: number;
  /** Mean square of each band, channels summed, for each tenth of a second: `bandCount` values a step. */
  bandSquares: Float32Array;
  /** Amplitude in each pitch class, C first, for each tenth of a second: `pitchClassCount` values a step. */
  chroma: Float32Array;
}

export interface FeatureOptions {
  sampleRateHz: number;
  channelCount: number;
}

/** Takes audio block by block; memory grows by some 2.5 kB for each second. */
export interface FeatureTracker {
  /**
   * Takes the next `frames` frames; the arrays may be used again afterwards.
   *
   * @throws MeasurementError `unmeasurable_sample` for a sample that is not a finite number
   */
  push(channels: readonly Float32Array[], frames: number): void;
  /** @throws MeasurementError `no_frames` */
  finish(): SoundFeatures;
  /** Gives back the memory of a tracker that isn't finished; `finish` does so itself. */
  close(): void;
}

/** A transform with its Hann window, for two channels at once: one is its real, the other its imaginary part. */
class WindowedTransform {
  readonly frames: number;
  readonly powers: Float64Array;
  readonly #transform: Transform;
  readonly #window: Float64Array;

  constructor(memory: KernelMemory, frames: number) {
    this.frames = frames;
    this.#transform = memory.transform(frames);
    const hann = Float64Array.from(
      { length: frames },
      (_, frame) => Math.sin((Math.PI * (frame + 0.5)) / frames) ** 2,
    );
    // So that the powers of all bins sum to the signal's mean square.
    const scale = 1 / Math.sqrt(frames * hann.reduce((sum, weight) => sum + weight ** 2, 0));
    this.#window = hann.map((weight) => weight * scale);
    this.powers = new Float64Array(frames / 2);
  }

  /** The power in each bin, of all channels together, of the window that begins at `from`. */
  take(channels: readonly Float32Array[], from: number): void {
    const { powers, frames } = this;
    powers.fill(0);
    for (let pair = 0; pair < channels.length; pair += 2) {
      this.#load(channels[pair]!, channels[pair + 1] ?? null, from);
      this.#transform.run();
      const { values } = this.#transform.output as Area<Float32Array>;
      for (let bin = 1; bin < frames / 2; bin++) {
        const mirror = 2 * (frames - bin);
        powers[bin]! +=
          values[2 * bin]! ** 2 + values[2 * bin + 1]! ** 2 + values[mirror]! ** 2 + values[mirror + 1]! ** 2;
      }
    }
  }

  #load(left: Float32Array, right: Float32Array | null, from: number): void {
    const { values } = this.#transform.input;
    const weights = this.#window;
    for (let frame = 0; frame < weights.length; frame++) {
      const weight = weights[frame]!;
      values[2 * frame] = weight * left[from + frame]!;
      values[2 * frame + 1] = right ? weight * right[from + frame]! : 0;
    }
  }
}

/** The pitch class of each bin, −1 outside the range; bins between two semitones count for neither. */
function pitchClasses(transformFrames: number, sampleRateHz: number): Int8Array {
  return Int8Array.from({ length: transformFrames / 2 }, (_, bin) => {
    const hz = (bin * sampleRateHz) / transformFrames;
    if (hz < chromaRange.fromHz || hz > chromaRange.toHz) return -1;
    const semitones = 12 * Math.log2(hz / concertPitchHz) + 9;
    const nearest = Math.round(semitones);
    return Math.abs(semitones - nearest) > 0.4 ? -1 : ((nearest % 12) + 12) % 12;
  });
}

/**
 * One pass over a song for what its tempo and its sections are found by.
 *
 * The growth of the sound is taken from short windows: in each third octave the fourth root of its power, which tells a
 * soft stroke from a hard one whatever the song's level, and of its change over 20 ms what is positive. Bands are summed
 * by tenths of a second; pitch classes come from long windows, whose bins are narrower than a semitone.
 */
export function createFeatureTracker({ sampleRateHz, channelCount }: FeatureOptions): FeatureTracker {
  const memory = new KernelMemory();
  const framesFor = (seconds: number) => 2 ** Math.ceil(Math.log2(sampleRateHz * seconds));
  const short = new WindowedTransform(memory, framesFor(windowSeconds.short));
  const long = new WindowedTransform(memory, framesFor(windowSeconds.long));
  const bandShares = bands.map((band) => bandBins(band, short.frames, sampleRateHz));
  const classes = pitchClasses(long.frames, sampleRateHz);

  const reach = long.frames / 2;
  const work = Array.from({ length: channelCount }, () => new Float32Array(2 * long.frames + intakeFrames));
  // `work[c][i]` is frame `workStart + i`; before the first frame stands silence.
  let workStart = -reach;
  let filled = reach;
  let frameCount = 0;

  const onsets = new GrowingColumn(Float32Array);
  const lowOnsets = new GrowingColumn(Float32Array);
  const bandSquares = new GrowingColumn(Float32Array);
  const chroma = new GrowingColumn(Float32Array);
  /** Roots of the last two instants and of this one. */
  let roots = [new Float64Array(bandCount), new Float64Array(bandCount), new Float64Array(bandCount)];
  const stepSquares = new Float64Array(bandCount);
  const stepChroma = new Float64Array(pitchClassCount);
  let rootSum = 0;
  let instant = 0;

  const middleFrame = (index: number, perSecond: number) =>
    Math.round(((index + 0.5) * sampleRateHz) / perSecond);

  const addInstant = () => {
    short.take(work, middleFrame(instant, instantsPerSecond) - workStart - short.frames / 2);
    const [before, , now] = roots as [Float64Array, Float64Array, Float64Array];
    let growth = 0;
    let lowGrowth = 0;
    for (const [band, { firstBin, shares }] of bandShares.entries()) {
      let square = 0;
      for (let bin = 0; bin < shares.length; bin++)
        square += shares[bin]! * (short.powers[firstBin + bin] ?? 0);
      const root = Math.sqrt(Math.sqrt(square));
      now[band] = root;
      rootSum += root;
      stepSquares[band]! += square / instantsInStep;
      growth += Math.max(0, root - before[band]!);
      if (band + 1 === lowBandCount) lowGrowth = growth;
    }
    if (!Number.isFinite(growth))
      throw new MeasurementError(
        'unmeasurable_sample',
        `A sample near ${(instant / instantsPerSecond).toFixed(2)} s is not a number that has a level. Render the file again.`,
      );
    // Growth over two instants belongs to the one between them.
    if (instant > 0) {
      onsets.push(growth);
      lowOnsets.push(lowGrowth);
    }
    roots = [roots[1]!, roots[2]!, roots[0]!];
    instant++;
    if (instant % instantsInStep === 0) addStep(instant / instantsInStep - 1);
  };

  const addStep = (step: number) => {
    for (const square of stepSquares) bandSquares.push(square);
    stepSquares.fill(0);
    long.take(work, middleFrame(step, stepsPerSecond) - workStart - reach);
    stepChroma.fill(0);
    for (let bin = 0; bin < classes.length; bin++) {
      const pitchClass = classes[bin]!;
      if (pitchClass >= 0) stepChroma[pitchClass]! += Math.sqrt(long.powers[bin]!);
    }
    for (const amplitude of stepChroma) chroma.push(amplitude);
  };

  /** Takes every instant whose windows have come. */
  const advance = () => {
    while (middleFrame(instant, instantsPerSecond) + reach + 1 <= workStart + filled) addInstant();
  };

  const makeRoom = () => {
    const drop =
      middleFrame(instant, instantsPerSecond) -
      instantsInStep * Math.ceil(sampleRateHz / instantsPerSecond) -
      reach -
      workStart;
    if (drop <= 0) return;
    for (const channel of work) channel.copyWithin(0, drop, filled);
    workStart += drop;
    filled -= drop;
  };

  const append = (channels: readonly (Float32Array | null)[], from: number, frames: number) => {
    for (let taken = 0; taken < frames; ) {
      makeRoom();
      const count = Math.min(frames - taken, work[0]!.length - filled);
      for (const [index, channel] of channels.entries()) {
        if (channel) work[index]!.set(channel.subarray(from + taken, from + taken + count), filled);
        else work[index]!.fill(0, filled, filled + count);
      }
      filled += count;
      taken += count;
      advance();
    }
  };

  return {
    push(channels, frames) {
      append(channels.slice(0, channelCount), 0, frames);
      frameCount += frames;
    },
    finish() {
      if (frameCount === 0) throw new MeasurementError('no_frames', 'There is no audio to measure.');
      // Silence behind the end lets the last whole step be taken, and a little more that is cut off again.
      append(
        work.map(() => null),
        0,
        long.frames + Math.ceil(sampleRateHz / stepsPerSecond),
      );
      memory.free();
      const durationSeconds = frameCount / sampleRateHz;
      const instants = Math.min(onsets.length, Math.floor(durationSeconds * instantsPerSecond));
      const stepCount = Math.min(
        bandSquares.length / bandCount,
        Math.floor(durationSeconds * stepsPerSecond),
      );
      return {
        durationSeconds,
        onsets: onsets.values.slice(0, instants) as Float32Array,
        lowOnsets: lowOnsets.values.slice(0, instants) as Float32Array,
        meanRoot: rootSum / Math.max(1, instant),
        stepCount,
        bandSquares: bandSquares.values.slice(0, stepCount * bandCount) as Float32Array,
        chroma: chroma.values.slice(0, stepCount * pitchClassCount) as Float32Array,
      };
    },
    close: () => memory.free(),
  };
}

/** The mean of a table's rows from one moment to another, as far as there are any; cut ones count by their share. */
export function meanRow(
  table: Float32Array,
  width: number,
  fromSeconds: number,
  endSeconds: number,
): Float64Array {
  const mean = new Float64Array(width);
  const from = Math.max(0, fromSeconds * stepsPerSecond);
  const end = Math.min(endSeconds * stepsPerSecond, table.length / width);
  for (let step = Math.floor(from); step < end; step++) {
    const share = (Math.min(end, step + 1) - Math.max(from, step)) / (end - from);
    for (let column = 0; column < width; column++) mean[column]! += share * table[step * width + column]!;
  }
  return mean;
}

/** Around its mean, of length one; zeros where all are the same. */
export function unitVector(values: Float64Array): Float64Array {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const size = Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0));
  return values.map((value) => (size > 0 ? (value - mean) / size : 0));
}
