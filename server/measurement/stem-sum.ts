import { ComparisonError } from './comparison-error.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import { createCrossSpectrum } from './cross-spectrum.ts';
import { matchGain } from './gain-match.ts';
import { KernelMemory } from './kernel-memory.ts';
import { type LaidOver, layOver } from './lay-over.ts';
import type { TradeBandName } from './measurement.ts';
import { measureResidual, relativeDb } from './residual.ts';
import { gramOfStems, planStemWindows, stemGainsInPrint } from './stem-gain.ts';
import { partOf, type StemStream } from './stem-gram.ts';
import { residualOfGains } from './stem-regression.ts';
import { stemSumSentence } from './stem-sentence.ts';
import { tradeBands } from './third-octave.ts';

/**
 * What is left of a print when the sum of its stems is taken from it.
 * - `identical`: nothing. `rounding`: of floating point. `dither or word length`: of whole numbers.
 * - `sample-rate conversion`, `lossy encoding`: no more than these leave.
 * - `stem gains differ`: each stem has its own gain in the print; at those, they sum to it.
 * - `bus dynamics`: the sum from moment to moment at another gain, as a limiter or compressor leaves it.
 * - `bus processor or missing stem`: anything else.
 */
export type StemSumReading =
  | 'identical'
  | 'rounding'
  | 'dither or word length'
  | 'sample-rate conversion'
  | 'lossy encoding'
  | 'stem gains differ'
  | 'bus dynamics'
  | 'bus processor or missing stem';

export interface StemSum {
  /** The stems that were summed. */
  stems: string[];
  reading: StemSumReading;
  /** How much later the print starts than the stems, in frames of the stems. */
  offsetFrames: number;
  /** −1 where the print is the sum upside down. */
  polarity: 1 | -1;
  /** What the print is louder than the sum by, where nothing else differs. */
  gainDb: number;
  /** Power of the print less the sum at that gain, relative to the print; never under −150. */
  residualDb: number | null;
  /** The same in each trade band, relative to the print in that band; `null` where the print is silent. */
  bands: { name: TradeBandName; residualDb: number | null }[];
  /** The trade bands that hold most of what is left. */
  mostly: { lowestHz: number; highestHz: number } | null;
  /** Each stem's own gain in the print less `gainDb`, 0 where it sums to it; `null` where it can't be told. */
  stemGains: { stem: string; gainDb: number | null; standardErrorDb: number | null }[];
  /** In figures, for engineers. */
  sentence: string;
}

export interface SummedPrint {
  channels: readonly Float32Array[];
  sampleRateHz: number;
  lossy?: boolean;
}

/** A residual within so much of the print is what conversion or encoding leaves. *Common practice*. */
const convertedDb = -40;
/** Stems at gains of their own that leave so little sum to the print. */
const summedDb = -60;
/** A band holds most of a residual within so much of the strongest. */
const mostlyDb = -8;

/**
 * Sums stems and lays the print over the sum: offset, polarity, gain, and what is left.
 *
 * @param stream Read twice.
 * @param expectedFrames The longest stem's frames, where known.
 * @throws ComparisonError where the stems are silent, or share too little with the print.
 * @source null test, *common practice*
 */
export async function checkStemSum(
  names: readonly string[],
  sampleRateHz: number,
  stream: StemStream,
  print: SummedPrint,
  expectedFrames: number,
): Promise<{ check: StemSum; sum: readonly Float32Array[]; laid: LaidOver }> {
  const sum = await sumOfStems(stream, expectedFrames);
  const laid = layOverStems(sum, sampleRateHz, print);
  const plan = planStemWindows(names.length, sum[0]!.length, sampleRateHz, [laid], -1, []);
  const gram = await gramOfStems(plan, names.length, [laid], stream);

  const memory = new KernelMemory();
  const spectrum = createCrossSpectrum(memory, sampleRateHz);
  const match = matchGain(sum, laid.channels, { polarity: 1, pieces: laid.pieces }, spectrum);
  memory.free();
  const gainDb = Math.abs(match.gainDb) < 5e-5 ? 0 : match.gainDb;
  const gain = 10 ** (gainDb / 20);
  const track = measureResidual(sum, laid.channels, laid.pieces, gain, sampleRateHz);
  const power = track.power.reduce((all, hop) => all + hop, 0);
  const powerB = track.powerB.reduce((all, hop) => all + hop, 0);
  const unexplained = track.unexplained.reduce((all, hop) => all + hop, 0);
  const residualDb = relativeDb(power, powerB);
  const residualDbfs = 10 * Math.log10(power / Math.max(1, 2 * track.power.length * track.hopFrames) + 1e-20);

  const columns = names.map((_, stem) => stem);
  const cells = plan.sections[0]!.cells;
  const gains = new Float64Array(names.length).fill(gain);
  const bands = tradeBands.map(({ name }, band) => {
    const parts = [partOf(0, band), partOf(1, band)];
    const { residual, target } = residualOfGains(gram, cells, parts, columns, names.length, gains);
    return { name, residual, residualDb: target > 0 ? relativeDb(residual, target) : null };
  });
  const own = stemGainsInPrint(gram, cells, names);
  const stemGains = names.map((stem, index) => {
    const found = own.gains[index];
    return {
      stem,
      gainDb: found ? found.gainDb - gainDb : null,
      standardErrorDb: found ? found.standardErrorDb : null,
    };
  });

  const reading = ((): StemSumReading => {
    if (track.identical && laid.offsetFrames % 1 === 0 && !laid.converted) return 'identical';
    if (residualDbfs < comparisonThreshold.roundingDbfs) return 'rounding';
    if (residualDb !== null && residualDb < convertedDb) {
      if (print.lossy) return 'lossy encoding';
      if (laid.converted || laid.offsetFrames % 1 !== 0) return 'sample-rate conversion';
    }
    if (residualDbfs < comparisonThreshold.ditherDbfs) return 'dither or word length';
    if (own.unexplainedDb !== null && own.unexplainedDb < summedDb) return 'stem gains differ';
    return unexplained < comparisonThreshold.unexplainedOfStemsShare * power
      ? 'bus dynamics'
      : 'bus processor or missing stem';
  })();
  const check: Omit<StemSum, 'sentence'> = {
    stems: [...names],
    reading,
    offsetFrames: laid.offsetFrames,
    polarity: laid.polarity,
    gainDb,
    residualDb,
    bands: bands.map(({ name, residualDb: level }) => ({ name, residualDb: level })),
    mostly: mostlyOf(bands.map(({ residual }) => residual)),
    stemGains,
  };
  return { check: { ...check, sentence: stemSumSentence(check) }, sum, laid };
}

/**
 * The sum of stems in one stereo sound.
 *
 * @throws ComparisonError `silent_file` where nothing sounds in any of them
 */
export async function sumOfStems(stream: StemStream, expectedFrames: number): Promise<Float32Array[]> {
  let channels = [new Float32Array(expectedFrames), new Float32Array(expectedFrames)];
  let filled = 0;
  await stream((stems, count) => {
    if (filled + count > channels[0]!.length)
      channels = channels.map((channel) => {
        const longer = new Float32Array(Math.max(filled + count, 2 * channel.length));
        longer.set(channel);
        return longer;
      });
    for (const [side, target] of channels.entries()) {
      for (let frame = 0; frame < count; frame++) {
        let sum = 0;
        for (const stem of stems) sum += stem[side]![frame]!;
        target[filled + frame] = sum;
      }
    }
    filled += count;
  });
  const sum = channels.map((channel) => channel.subarray(0, filled));
  // Under −90 dBFS throughout there is dither, or nothing.
  if (!sum.some((channel) => channel.some((value) => Math.abs(value) > 3.2e-5)))
    throw new ComparisonError(
      'silent_file',
      'The stems are silent from beginning to end. Nothing was compared.',
    );
  return sum;
}

/** `layOver`, saying of stems what it says of files. */
export function layOverStems(
  sum: readonly Float32Array[],
  sampleRateHz: number,
  print: SummedPrint,
): LaidOver {
  if (Math.min(sum[0]!.length / sampleRateHz, print.channels[0]!.length / print.sampleRateHz) < 1)
    throw new ComparisonError(
      'too_short',
      'The print or its stems are shorter than a second: there is too little to lay side by side.',
    );
  try {
    return layOver(sum, sampleRateHz, print.channels, print.sampleRateHz);
  } catch (error) {
    if (error instanceof ComparisonError && error.code === 'different_songs')
      throw new ComparisonError(
        'different_songs',
        'The stems share too little sound with the print to be laid over it: they are of another song or another recording. Nothing was compared.',
      );
    throw error;
  }
}

function mostlyOf(residuals: readonly number[]): StemSum['mostly'] {
  const strongest = Math.max(...residuals);
  if (!(strongest > 0)) return null;
  const held = (band: number) => residuals[band]! > strongest * 10 ** (mostlyDb / 10);
  let lowest = residuals.indexOf(strongest);
  let highest = lowest;
  while (lowest > 0 && held(lowest - 1)) lowest--;
  while (highest + 1 < residuals.length && held(highest + 1)) highest++;
  return {
    lowestHz: Math.round(tradeBands[lowest]!.lowerEdgeHz),
    highestHz: Math.round(tradeBands[highest]!.upperEdgeHz),
  };
}
