import { channelWeights } from './channel-weights.ts';
import { createClippingFinder, type FoundRun } from './clipping.ts';
import { amplitudeDb, levelDifferenceDb, powerDb } from './decibel.ts';
import { engine, standards } from './engine.ts';
import { GrowingColumn } from './growing-column.ts';
import { KernelMemory } from './kernel-memory.ts';
import { LevelMeter } from './level-meter.ts';
import { LoudestWindow } from './loudest-window.ts';
import {
  hopsInBlock,
  hopsInShortTerm,
  hopsPerSecond,
  integratedLoudnessLufs,
  loudnessLufs,
} from './loudness.ts';
import { loudnessRangeLu, shortestReliableSeconds } from './loudness-range.ts';
import {
  type Figures,
  type Measurement,
  type SectionFigures,
  type SectionProblem,
  type SectionSpan,
  tradeBandNames,
} from './measurement.ts';
import { MeasurementError } from './measurement-error.ts';
import { type Series, type SeriesName, seriesNames, storedLevel } from './series.ts';
import { Spectrum } from './spectrum.ts';
import { Stretch, stepsInHop } from './stretch.ts';
import { thirdOctaveBands, tradeBands } from './third-octave.ts';
import { createTruePeakFinder } from './true-peak.ts';

export interface MeterOptions {
  sampleRateHz: number;
  channelCount: number;
  /** Speaker bits as in WAVE_FORMAT_EXTENSIBLE; the usual places where it is left out. */
  channelMask?: number | null;
  sections?: readonly SectionSpan[];
}

/** Measures audio that is pushed block by block; memory grows by some 200 bytes for each tenth of a second. */
export interface Meter {
  /**
   * Takes the next `frames` frames; the arrays may be used again afterwards.
   *
   * @throws MeasurementError `nan_sample`, `infinite_sample`
   */
  push(channels: readonly Float32Array[], frames: number): void;
  /** @throws MeasurementError `no_frames` */
  finish(): Measurement;
  /** Gives back the memory of a meter that isn't finished; `finish` does so itself. */
  close(): void;
}

const stepsPerSecond = hopsPerSecond * stepsInHop;
/** Under it a sample counts as silence, −60 dBFS (*common practice*). */
const soundLevel = 10 ** (-60 / 20);
/** Shorter sections hold no gating block, so no loudness. */
const shortestSectionSeconds = 0.4;
/** A section that was drawn to the end of the song may pass it by so much, the rounding of a clock in milliseconds. */
const endToleranceSeconds = 0.001;
const mostSpots = 1000;
/** Correlation under which left and right cancel more than they add (*common practice*). */
const suspectCorrelation = -0.5;
/** AES17 calls a full-scale sine 0 dB, whose mean square is one half. */
const aes17OffsetDb = 10 * Math.log10(2);
/** Frames that true peak looks at before and after what it measures. */
const peakReachFrames = 96;
/** Frames taken in between two moves of the working buffer. */
const intakeFrames = 16_384;
/** Frames behind the buffer's end that a kernel may read and not use. */
const spareFrames = 64;

/**
 * A meter for one file: a single pass gives the figures of the whole, of every section, and over time.
 *
 * A section's figures are those of exactly its frames. Its loudness is BS.1770's, both gates included, on the 400 ms
 * blocks that lie within it, the first beginning with its first frame; the filters run on from what was heard before, as
 * they do for a listener. Its maxima are those of the windows that lie within it. A section that reaches outside the
 * file, or is shorter than one block, has no figures and says why.
 *
 * Silence is a value: figures that it leaves undefined are `null`, and `silent` says so.
 *
 * @source ITU-R BS.1770-5; EBU Tech 3341 v4; EBU Tech 3342 v4; IEC 61260-1:2014; AES17-2020
 */
export function createMeter(options: MeterOptions): Meter {
  const { sampleRateHz, channelCount, sections = [] } = options;
  const frameOf = (seconds: number) => Math.round(seconds * sampleRateHz);
  const hopEndFrame = (hop: number) => Math.round((hop * sampleRateHz) / hopsPerSecond);
  const stepEndFrame = (step: number) => Math.round((step * sampleRateHz) / stepsPerSecond);

  const memory = new KernelMemory();
  const cellFrames = hopEndFrame(1) + 1;
  const levels = new LevelMeter(
    memory,
    sampleRateHz,
    channelWeights(channelCount, options.channelMask ?? null),
    cellFrames,
    stepsInHop + 2 + 2 * (sections.length + 1),
  );
  const findTruePeak = createTruePeakFinder(memory, cellFrames);
  const clippingFinder = createClippingFinder(channelCount);

  const newStretch = (startFrame: number, endFrame: number) =>
    new Stretch(sampleRateHz, channelCount, startFrame, endFrame);
  const whole = newStretch(0, Infinity);
  const stretches = sections.map((section) => newStretch(frameOf(section.start), frameOf(section.end)));
  const waiting = stretches
    .filter((stretch) => stretch.startFrame >= 0 && stretch.endFrame > stretch.startFrame)
    .sort((one, other) => one.startFrame - other.startFrame);
  let active: Stretch[] = [whole];
  const boundaries = [...new Set(waiting.flatMap((stretch) => [stretch.startFrame, stretch.endFrame]))]
    .filter((frame) => frame > 0)
    .sort((one, other) => one - other);
  let nextBoundary = 0;
  const spectrum = new Spectrum(memory, sampleRateHz, channelCount, boundaries);

  // Where the working buffer stands: `work[c][i]` is frame `workStart + i`. It begins with silence, as far back as
  // anything looks, and has room for what waits for later frames.
  const reachFrames = Math.max(spectrum.reachFrames, peakReachFrames);
  const workFrames = reachFrames + 4 * cellFrames + intakeFrames;
  const work = Array.from({ length: channelCount }, () => memory.floats(workFrames + spareFrames));
  let workStart = -reachFrames;
  let filled = reachFrames;
  let frameCount = 0;

  let cellStart = 0;
  let hop = 0;
  let step = 0;
  let stepEnergy = 0;
  /** True peak of each hop of the file. */
  const hopPeaks = new GrowingColumn(Float32Array);
  let hopPeak = 0;
  /** Per trade band, one value a hop of the file. */
  const tradeEnergies = tradeBands.map(() => new GrowingColumn(Float32Array));
  const clips: FoundRun[] = [];
  const overs: { frame: number; peak: number }[] = [];
  let oversCount = 0;
  let firstSoundFrame = -1;
  let lastSoundFrame = -1;

  const boundaryAfter = (frame: number, end: number): number => {
    const boundary = boundaries[nextBoundary];
    const planned = Math.min(hopEndFrame(hop + 1), boundary ?? Infinity, end);
    return planned > frame ? planned : end;
  };

  const enterAndLeave = (frame: number) => {
    active = active.filter((stretch) => stretch.endFrame !== frame);
    while (waiting[0]?.startFrame === frame) active.push(waiting.shift()!);
  };

  /** Where a grid step or a hop of any stretch ends after `from`, to `end`. */
  const piecesOf = (from: number, end: number): number[] => {
    const ends: number[] = [];
    for (let next = step + 1; stepEndFrame(next) < end; next++) ends.push(stepEndFrame(next));
    ends.push(end);
    for (const stretch of active) {
      for (const hopEnd of stretch.hopEndsTo(end)) {
        const place = ends.findIndex((each) => each >= hopEnd);
        if (hopEnd > from && ends[place] !== hopEnd) ends.splice(place, 0, hopEnd);
      }
    }
    return ends;
  };

  /** K-weighted energy, and the sums for level, of a cell. */
  const addEnergies = (from: number, end: number) => {
    const ends = piecesOf(from, end);
    levels.take(
      work,
      from - workStart,
      ends.map((each) => each - workStart),
    );
    for (const [piece, pieceEnd] of ends.entries()) {
      const energy = levels.energies[piece]!;
      stepEnergy += energy;
      for (const stretch of active) stretch.addEnergy(pieceEnd, energy, levels.foldDownEnergies[piece]!);
      if (pieceEnd !== stepEndFrame(step + 1)) continue;
      const stepStart = stepEndFrame(step);
      for (const stretch of active) if (stretch.startFrame <= stepStart) stretch.addStep(stepEnergy);
      stepEnergy = 0;
      step++;
    }
  };

  /**
   * Refuses what no level can be given to.
   *
   * @throws MeasurementError `nan_sample`, `infinite_sample`, each with the time of the first
   */
  const assertSound = (from: number, end: number) => {
    if (levels.squares.every((square) => Number.isFinite(square))) return;
    for (let frame = from; frame < end; frame++) {
      for (const { values } of work) {
        const value = values[frame - workStart]!;
        if (Number.isFinite(value)) continue;
        const [code, what] = Number.isNaN(value)
          ? (['nan_sample', 'not a number'] as const)
          : (['infinite_sample', 'infinite'] as const);
        throw new MeasurementError(
          code,
          `A sample at ${(frame / sampleRateHz).toFixed(3)} s is ${what}, so this file has no figures. It stays as it was posted. Render it again and post the new file.`,
        );
      }
    }
  };

  const noteSound = (from: number, end: number) => {
    if (!levels.peaks.some((peak) => peak >= soundLevel)) return;
    const isSound = (frame: number) =>
      work.some(({ values }) => Math.abs(values[frame - workStart]!) >= soundLevel);
    if (firstSoundFrame < 0) {
      firstSoundFrame = from;
      while (!isSound(firstSoundFrame)) firstSoundFrame++;
    }
    lastSoundFrame = end - 1;
    while (!isSound(lastSoundFrame)) lastSoundFrame--;
  };

  const addTradeEnergies = (middle: number, lower: Float64Array, upper: Float64Array) => {
    const hopOfFrame = Math.floor((middle * hopsPerSecond) / sampleRateHz);
    for (const [index, { firstBand, endBand }] of tradeBands.entries()) {
      let energy = 0;
      for (let band = firstBand; band < endBand; band++) energy += lower[band]! + upper[band]!;
      tradeEnergies[index]!.addAt(hopOfFrame, energy);
    }
  };

  /** A cell lies between two tenths of a second, or between one of them and a section's boundary. */
  const addCell = (end: number, fileEnd: number) => {
    const from = cellStart - workStart;
    const to = end - workStart;
    levels.clear();
    addEnergies(cellStart, end);
    levels.read();
    assertSound(cellStart, end);
    noteSound(cellStart, end);
    const runs = clippingFinder.push(work, from, to, cellStart, levels.peaks);
    if (clips.length < mostSpots) clips.push(...runs.slice(0, mostSpots - clips.length));
    const spot = findTruePeak(work, from, to, -workStart, fileEnd - workStart);
    if (spot.peak > 1) {
      oversCount++;
      if (overs.length < mostSpots) overs.push({ frame: spot.frame + workStart, peak: spot.peak });
    }
    for (const stretch of active) stretch.addLevels(levels, spot.peak, runs.length);
    hopPeak = Math.max(hopPeak, spot.peak);
    if (end === hopEndFrame(hop + 1)) {
      hopPeaks.push(hopPeak);
      hopPeak = 0;
      hop++;
    }
    cellStart = end;
    if (boundaries[nextBoundary] !== end) return;
    nextBoundary++;
    enterAndLeave(end);
  };

  const addReadyCells = (fileEnd: number) => {
    for (;;) {
      const end = boundaryAfter(cellStart, fileEnd);
      if (end <= cellStart || (end + reachFrames > workStart + filled && fileEnd === Infinity)) return;
      addCell(end, fileEnd);
    }
  };

  /** Makes room by moving what is still needed to the front. */
  const makeRoom = () => {
    const drop = Math.floor(Math.min(cellStart - reachFrames, spectrum.neededFrom)) - workStart;
    if (drop <= 0) return;
    for (const { values } of work) values.copyWithin(0, drop, filled);
    workStart += drop;
    filled -= drop;
  };

  enterAndLeave(0);

  return {
    push(channels, frames) {
      for (let taken = 0; taken < frames; ) {
        makeRoom();
        const count = Math.min(frames - taken, workFrames - filled);
        for (let index = 0; index < channelCount; index++) {
          work[index]!.values.set(channels[index]!.subarray(taken, taken + count), filled);
        }
        filled += count;
        taken += count;
        frameCount += count;
        addReadyCells(Infinity);
        spectrum.advance(work, -workStart, workStart + filled, Infinity, addTradeEnergies);
      }
    },
    finish() {
      if (frameCount === 0) throw new MeasurementError('no_frames', 'There is no audio to measure.');
      makeRoom();
      for (const { values } of work) values.fill(0, filled);
      addReadyCells(frameCount);
      spectrum.advance(work, -workStart, Infinity, frameCount, addTradeEnergies);
      const lastRuns = clippingFinder.finish();
      clips.push(...lastRuns.slice(0, Math.max(0, mostSpots - clips.length)));
      for (const stretch of [whole, ...stretches])
        if (stretch.startFrame < frameCount && stretch.endFrame >= frameCount)
          stretch.clippedRuns += lastRuns.length;
      whole.endFrame = frameCount;
      const measurement = report();
      memory.free();
      return measurement;
    },
    close: () => memory.free(),
  };

  function report(): Measurement {
    const figures = figuresOf(whole);
    const { correlation } = figures;
    const durationSeconds = frameCount / sampleRateHz;
    const sound = firstSoundFrame >= 0;
    return {
      sampleRateHz,
      channelCount,
      frameCount,
      durationSeconds,
      ...figures,
      headSilenceSeconds: sound ? firstSoundFrame / sampleRateHz : null,
      tailSilenceSeconds: sound ? (frameCount - 1 - lastSoundFrame) / sampleRateHz : null,
      deadChannels: deadChannels(figures.silent),
      polaritySuspect: correlation !== null && correlation < suspectCorrelation,
      overs: overs.map(({ frame, peak }) => ({
        timeSeconds: frame / sampleRateHz,
        truePeakDbtp: amplitudeDb(peak)!,
      })),
      oversCount,
      clips: clips
        .sort((one, other) => one.frame - other.frame)
        .map(({ frame, frames, channel }) => ({ timeSeconds: frame / sampleRateHz, frames, channel })),
      sections: sections.map((section, index) => sectionFigures(section, stretches[index]!)),
      series: series(),
      engine: { ...engine },
      standards: { ...standards },
    };
  }

  function sectionFigures(section: SectionSpan, stretch: Stretch): SectionFigures {
    const { name, start, end } = section;
    const problem = problemOf(section);
    if (problem === null && stretch.endFrame > frameCount) stretch.endFrame = frameCount;
    const figures = problem === null ? figuresOf(stretch) : figuresOfNothing(start, end);
    return { name, start, end, problem, ...figures };
  }

  function problemOf({ start, end }: SectionSpan): SectionProblem | null {
    const inside = start >= 0 && end > start && end <= frameCount / sampleRateHz + endToleranceSeconds;
    if (!inside) return 'outside_file';
    return frameOf(end) - frameOf(start) < frameOf(shortestSectionSeconds) ? 'too_short' : null;
  }

  function deadChannels(silent: boolean): number[] {
    if (silent) return [];
    return Array.from({ length: channelCount }, (_, channel) => channel).filter(
      (channel) => Math.sqrt(whole.squares[channel]! / frameCount) < soundLevel / 10,
    );
  }

  function figuresOf(stretch: Stretch): Figures {
    const frames = stretch.endFrame - stretch.startFrame;
    const { samples, squares, products, samplePeak, truePeak, clippedRuns } = stretch;
    const square = squares.reduce((total, channel) => total + channel, 0);
    const rmsDbfs = powerDb(square / (frames * channelCount));
    const integrated = integratedLoudnessLufs(stretch.hopEnergies.values, sampleRateHz);
    const truePeakDbtp = amplitudeDb(truePeak);
    const samplePeakDbfs = amplitudeDb(samplePeak);
    const stereo = channelCount === 2;
    return {
      startSeconds: stretch.startFrame / sampleRateHz,
      endSeconds: stretch.endFrame / sampleRateHz,
      silent: samplePeak < soundLevel,
      integratedLoudnessLufs: integrated,
      loudnessRangeLu: loudnessRangeLu(stretch.hopEnergies.values, sampleRateHz),
      loudnessRangeReliable: frames / sampleRateHz >= shortestReliableSeconds,
      maxMomentaryLoudnessLufs: maxLoudnessLufs(stretch.momentary, stretch, hopsInBlock),
      maxShortTermLoudnessLufs: maxLoudnessLufs(stretch.shortTerm, stretch, hopsInShortTerm),
      truePeakDbtp,
      samplePeakDbfs,
      rmsDbfs,
      rmsAes17Dbfs: rmsDbfs === null ? null : rmsDbfs + aes17OffsetDb,
      crestFactorDb: levelDifferenceDb(samplePeakDbfs, rmsDbfs),
      plrDb: levelDifferenceDb(truePeakDbtp, integrated),
      dcOffset: Array.from(samples, (sum) => sum / frames),
      clippedRuns,
      correlation: stereo ? correlationOf(squares[0]!, squares[1]!, products) : null,
      midSideBalanceDb: stereo ? midSideBalanceDb(square, products) : null,
      monoFoldDownLossLu: stereo
        ? levelDifferenceDb(integrated, integratedLoudnessLufs(stretch.foldDownHops.values, sampleRateHz))
        : null,
      ...bandsOf(stretch, frames),
    };
  }

  /** The windows on the 10 ms grid that lie within the stretch, and those that begin with its own hops. */
  function maxLoudnessLufs(onGrid: LoudestWindow, { hopEnergies }: Stretch, hops: number): number | null {
    const onHops = new LoudestWindow(hops);
    for (const energy of hopEnergies.values) onHops.push(energy);
    const highest = Math.max(onGrid.highest, onHops.highest);
    return loudnessLufs((highest * hopsPerSecond) / (hops * sampleRateHz));
  }

  function bandsOf(stretch: Stretch, frames: number): Pick<Figures, 'bands' | 'tradeBands'> {
    const energies =
      stretch === whole
        ? spectrum.whole()
        : spectrum.section(stretch.startFrame, stretch.boundaryFrame, frames);
    const levelOf = (energy: number) => powerDb(energy / (frames * channelCount));
    return {
      bands: thirdOctaveBands.map((band, index) => {
        const total = energies.total(index);
        const [left, right] = [total + energies.difference(index), total - energies.difference(index)];
        return {
          nominalHz: band.nominalHz,
          levelDb: levelOf(total),
          correlation: channelCount === 2 ? correlationOf(left / 2, right / 2, energies.cross(index)) : null,
          cutAtHalfRate: band.upperEdgeHz > sampleRateHz / 2,
        };
      }),
      tradeBands: tradeBands.map(({ name, firstBand, endBand, lowerEdgeHz, upperEdgeHz }) => {
        let energy = 0;
        for (let band = firstBand; band < endBand; band++) energy += energies.total(band);
        return { name, lowerEdgeHz, upperEdgeHz, levelDb: levelOf(energy) };
      }),
    };
  }

  function figuresOfNothing(startSeconds: number, endSeconds: number): Figures {
    return {
      startSeconds,
      endSeconds,
      silent: false,
      integratedLoudnessLufs: null,
      loudnessRangeLu: null,
      loudnessRangeReliable: false,
      maxMomentaryLoudnessLufs: null,
      maxShortTermLoudnessLufs: null,
      truePeakDbtp: null,
      samplePeakDbfs: null,
      rmsDbfs: null,
      rmsAes17Dbfs: null,
      crestFactorDb: null,
      plrDb: null,
      dcOffset: Array.from({ length: channelCount }, () => null),
      clippedRuns: null,
      correlation: null,
      midSideBalanceDb: null,
      monoFoldDownLossLu: null,
      bands: thirdOctaveBands.map((band) => ({
        nominalHz: band.nominalHz,
        levelDb: null,
        correlation: null,
        cutAtHalfRate: band.upperEdgeHz > sampleRateHz / 2,
      })),
      tradeBands: tradeBands.map(({ name, lowerEdgeHz, upperEdgeHz }) => ({
        name,
        lowerEdgeHz,
        upperEdgeHz,
        levelDb: null,
      })),
    };
  }

  function series(): Series {
    const hopCount = whole.hopEnergies.length;
    const columns = Object.fromEntries(
      seriesNames.map((name): [SeriesName, Int16Array] => [name, new Int16Array(hopCount)]),
    ) as Series['columns'];
    const peaks = hopPeaks.values;
    const bands = tradeEnergies.map(({ values }) => values);
    const framesInHop = sampleRateHz / hopsPerSecond;
    for (let hop = 0; hop < hopCount; hop++) {
      const shortTerm = windowLoudnessLufs(hop, hopsInShortTerm);
      columns.momentaryLoudnessLufs[hop] = storedLevel(windowLoudnessLufs(hop, hopsInBlock));
      columns.shortTermLoudnessLufs[hop] = storedLevel(shortTerm);
      columns.truePeakDbtp[hop] = storedLevel(amplitudeDb(peaks[hop]!));
      let highest = 0;
      for (let of = Math.max(0, hop + 1 - hopsInShortTerm); of <= hop; of++)
        highest = Math.max(highest, peaks[of]!);
      columns.psrDb[hop] = storedLevel(levelDifferenceDb(amplitudeDb(highest), shortTerm));
      for (const [band, name] of tradeBandNames.entries()) {
        const energy = bands[band]![hop] ?? 0;
        columns[name][hop] = storedLevel(powerDb(energy / (framesInHop * channelCount)));
      }
    }
    return { hopSeconds: 1 / hopsPerSecond, hopCount, columns };
  }

  /** Loudness of the `hops` hops up to and with `last`; `null` before there are so many. */
  function windowLoudnessLufs(last: number, hops: number): number | null {
    if (last + 1 < hops) return null;
    const hopEnergies = whole.hopEnergies.values;
    let energy = 0;
    for (let hop = last + 1 - hops; hop <= last; hop++) energy += hopEnergies[hop]!;
    return loudnessLufs((energy * hopsPerSecond) / (hops * sampleRateHz));
  }
}

function correlationOf(left: number, right: number, products: number): number | null {
  if (!(left > 0 && right > 0)) return null;
  return Math.max(-1, Math.min(1, products / Math.sqrt(left * right)));
}

/** Mid is (L + R) / 2, side (L − R) / 2. */
function midSideBalanceDb(square: number, products: number): number | null {
  const mid = square + 2 * products;
  const side = square - 2 * products;
  // What rounding leaves of a channel that cancels exactly is no sound.
  const smallest = square * 1e-12;
  return mid > smallest && side > smallest ? powerDb(mid / side) : null;
}
