import type { SectionSpan } from './measurement.ts';
import { busGramOfStems } from './stem-bus.ts';
import {
  gramOfStems,
  namesakeChanges,
  namesakeSections,
  planStemWindows,
  type StemChange,
  type StemSection,
  sectionUnderBus,
  stemSections,
} from './stem-gain.ts';
import type { StemStream } from './stem-gram.ts';
import { checkStemSum, layOverStems, type StemSum, type SummedPrint } from './stem-sum.ts';

/** The stems of one version, all at one sample rate. */
export interface StemSet {
  names: readonly string[];
  sampleRateHz: number;
  /** Of the longest stem, where known; else 0. */
  frames: number;
  /** May be read again and again. */
  stream: StemStream;
  /** One stem, whole and stereo. */
  whole(name: string): Promise<readonly Float32Array[]>;
}

/** What the stems say of two versions; differences are B less A. */
export interface StemComparison {
  /** Whose stems were at hand. */
  basis: 'stems of A' | 'stems of B' | 'stems of both';
  /** The gain of the whole mix that `matchedGainDifferenceDb` leaves out. */
  overallGainDb: number;
  sections: StemSection[];
  /** Whether each version's stems sum to its print; `null` where it has none. */
  sums: { a: StemSum | null; b: StemSum | null };
  /** One a section, and one a sum. */
  sentences: string[];
  notes: string[];
}

/**
 * Says of each stem and section what its gain changed by from print A to print B.
 *
 * With one version's stems both prints are regressed on them. With both versions' stems each is held against its
 * namesake, which also tells a stem that was itself replaced.
 *
 * @param sections In seconds of B; without any, the whole is one.
 * @param overallGainDb What the whole of B is louder than A by, as `Comparison.gainDb`.
 * @throws ComparisonError where stems are silent, or share too little with their print.
 */
export async function compareStems(
  a: SummedPrint,
  b: SummedPrint,
  stemsA: StemSet | null,
  stemsB: StemSet | null,
  sections: readonly SectionSpan[],
  overallGainDb: number,
): Promise<StemComparison> {
  const found =
    stemsA && stemsB
      ? await fromBoth(a, b, stemsA, stemsB, sections, overallGainDb)
      : await fromOne(a, b, stemsA, stemsB, sections, overallGainDb);
  const sums = Object.entries(found.sums).flatMap(([version, sum]) =>
    sum ? [`${version.toUpperCase()}: ${sum.sentence}`] : [],
  );
  return { ...found, overallGainDb, sentences: [...found.sections.map(({ sentence }) => sentence), ...sums] };
}

type Found = Omit<StemComparison, 'overallGainDb' | 'sentences'>;

async function fromOne(
  a: SummedPrint,
  b: SummedPrint,
  stemsA: StemSet | null,
  stemsB: StemSet | null,
  sections: readonly SectionSpan[],
  overallGainDb: number,
): Promise<Found> {
  const set = (stemsA ?? stemsB)!;
  const { names, sampleRateHz, stream } = set;
  const { check, sum, laid } = await checkStemSum(names, sampleRateHz, stream, stemsA ? a : b, set.frames);
  const other = layOverStems(sum, sampleRateHz, stemsA ? b : a);
  const prints = stemsA ? [laid, other] : [other, laid];
  const plan = planStemWindows(names.length, sum[0]!.length, sampleRateHz, prints, 1, sections);
  const gram = await gramOfStems(plan, names.length, prints, stream);
  let told = stemSections(gram, plan, names, overallGainDb);
  const doubtful = [...told.keys()].filter((index) => told[index]!.doubt === 'unexplained');
  if (doubtful.length > 0) {
    const bus = await busGramOfStems(plan, doubtful, names.length, prints, stream);
    told = told.map((section, index) =>
      section.doubt === 'unexplained'
        ? sectionUnderBus(section, plan.sections[index]!.cells, gram, bus, overallGainDb)
        : section,
    );
  }
  return {
    basis: stemsA ? 'stems of A' : 'stems of B',
    sections: told,
    sums: stemsA ? { a: check, b: null } : { a: null, b: check },
    notes: told.some(({ doubt }) => doubt === 'bus dynamics')
      ? ['Under a bus that moves, only gains are told: a changed tone or place in the image is not.']
      : [],
  };
}

async function fromBoth(
  a: SummedPrint,
  b: SummedPrint,
  stemsA: StemSet,
  stemsB: StemSet,
  sections: readonly SectionSpan[],
  overallGainDb: number,
): Promise<Found> {
  const notes: string[] = [];
  const checkedA = await checkStemSum(stemsA.names, stemsA.sampleRateHz, stemsA.stream, a, stemsA.frames);
  const checkedB = await checkStemSum(stemsB.names, stemsB.sampleRateHz, stemsB.stream, b, stemsB.frames);
  // B's stems stand on A's timeline as their sums lie over each other; sections are in seconds of B's print.
  const rate = stemsA.sampleRateHz;
  const offset = checkedB.laid.offsetFrames / stemsB.sampleRateHz;
  const laid = layOverStems(checkedA.sum, rate, {
    channels: checkedB.sum,
    sampleRateHz: stemsB.sampleRateHz,
  });
  const spans = (
    sections.length > 0
      ? sections
      : [{ name: 'Whole song', start: 0, end: b.channels[0]!.length / b.sampleRateHz }]
  ).map(({ name, start, end }) => ({ name, start: start - offset, end: end - offset }));
  const plan = planStemWindows(1, checkedA.sum[0]!.length, rate, [laid], 0, spans);
  const inPrintDb = { a: checkedA.check.gainDb, b: checkedB.check.gainDb };
  const common = stemsA.names.filter((name) => stemsB.names.includes(name));
  const onlyA = stemsA.names.filter((name) => !common.includes(name));
  const onlyB = stemsB.names.filter((name) => !common.includes(name));
  if (onlyA.length > 0) notes.push(`Only A has a stem of this name: ${onlyA.join(', ')}.`);
  if (onlyB.length > 0) notes.push(`Only B has a stem of this name: ${onlyB.join(', ')}.`);
  const changes: StemChange[][] = [];
  for (const name of common) {
    const own = await stemsA.whole(name);
    const namesake = await stemsB.whole(name);
    const gram = await gramOfStems(plan, 1, [{ ...laid, channels: laid.place(namesake) }], async (onStems) =>
      onStems([own], own[0]!.length),
    );
    changes.push(namesakeChanges(gram, plan, name, inPrintDb, overallGainDb));
  }
  const told = namesakeSections(plan, changes).map((section, index) => ({
    ...section,
    start: sections[index]?.start ?? 0,
    end: sections[index]?.end ?? b.channels[0]!.length / b.sampleRateHz,
  }));
  return {
    basis: 'stems of both',
    sections: told,
    sums: { a: checkedA.check, b: checkedB.check },
    notes,
  };
}
