import { type Explanation, samePlace } from '../domain/explanation.ts';
import type { Range, Request } from '../domain/note.ts';
import type { Change } from '../measurement/change.ts';
import type { Comparison } from '../measurement/comparison.ts';
import { comparisonThreshold } from '../measurement/comparison-threshold.ts';
import type { StemComparison } from '../measurement/stem-comparison.ts';
import type { StemChange } from '../measurement/stem-gain.ts';
import { changeWords, moveWords, partWords } from './change-words.ts';
import { clockTime } from './clock-time.ts';
import { movedBeside } from './moved-beside.ts';
import { type BandSet, bandsIn, bandsLie, bandsOfPart, bandWords } from './part-bands.ts';
import type { AskedPlace, Stretch } from './request-place.ts';
import { wishOf } from './request-wish.ts';
import { isStemOf, targetNamed } from './stem-target.ts';
import { stemFigure, stemMoved, stemPlain } from './stem-words.ts';

/** A change that was measured and that no request covers. */
export interface UnaskedChange {
  /** In seconds of the newer version; `null` where it is the whole song. */
  place: Range | null;
  /** The section's name, or the time. */
  where: string;
  plain: string;
  figures: string;
}

interface AskedThere {
  request: Pick<Request, 'text' | 'kind' | 'direction' | 'target'>;
  place: AskedPlace;
}

type ComparedSection = Comparison['sections'][number];

interface Sized extends UnaskedChange {
  size: number;
}

const signed = (value: number, digits = 1) => {
  const rounded = Number(value.toFixed(digits));
  return `${rounded < 0 ? '−' : rounded > 0 ? '+' : '±'}${Math.abs(rounded).toFixed(digits)}`;
};
const residualWords = (levelDb: number) =>
  `residual ${Math.round(levelDb) < 0 ? '−' : ''}${Math.abs(Math.round(levelDb))} dB`;
const capital = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);
const amplitude = (levelDb: number | null) => 10 ** ((levelDb ?? -150) / 20);
/** A stretch that came or went is larger than any change of balance. */
const formSize = 100;

const isForm = ({ kind }: Change) => kind === 'cut' || kind === 'inserted';
const ofWholeSong: ReadonlySet<string> = new Set(['overall-loudness', 'reference-match-overall']);
const ofForm: ReadonlySet<string> = new Set(['arrangement', 'fade-gap', 'tempo-key']);

/** Where a request asks for something; `null` where it names no part, and so may mean any. */
function askedBands(request: AskedThere['request']): BandSet | null {
  const part = bandsOfPart(request.target);
  const wish = wishOf(request);
  return part && wish.what === 'tone' ? new Set([...part, ...wish.bands]) : part;
}

/** Whoever wanted something up did not ask for something to go, nor for something new who wanted it down or out. */
function contradicts(request: AskedThere['request'], { kind }: Change): boolean {
  const wish = wishOf(request);
  const sign =
    'sign' in wish && wish.what === 'level' ? wish.sign : { new: 1, gone: -1 }[wish.what as string];
  return (kind === 'removed' && sign === 1) || (kind === 'added' && sign === -1);
}

/** Whether a request asks for something in the bands of a change; roughly, and any where it names no part. */
function coversBands({ request }: AskedThere, change: Change): boolean {
  if (contradicts(request, change)) return false;
  const bands = askedBands(request);
  if (!bands || !change.band) return true;
  return bandsLie(bandsIn(change.band.lowestHz, change.band.highestHz), bands) === 'inside';
}

/** Whether what changed in a section lies where a request asks for it, when that is less than the section. */
function coversPlace({ place }: AskedThere, index: number, changed: readonly Stretch[]): boolean {
  if (!place.sections.includes(index)) return false;
  const { narrower } = place;
  if (!narrower || changed.length === 0) return true;
  const slack = comparisonThreshold.tailSeconds;
  return changed.some(
    ({ startSeconds, endSeconds }) =>
      startSeconds < narrower.endSeconds + slack && endSeconds > narrower.startSeconds - slack,
  );
}

/** Whether a request names the part that a stem holds, what it sounds in, or no part at all. */
function coversStem({ request }: AskedThere, { stem }: StemChange): boolean {
  const bands = askedBands(request);
  if (!bands || isStemOf(stem, request.target)) return true;
  const own = bandsOfPart(targetNamed(stem) ?? stem);
  const names = request.target !== null && targetNamed(request.target) !== null;
  return !names && own !== null && bandsLie(own, bands) === 'inside';
}

/** The stems that moved in a section and that nobody asked for there; `null` where stems don't tell what moved. */
function uncoveredStems(
  { name, start }: ComparedSection,
  stems: StemComparison | null,
  there: readonly AskedThere[],
): StemChange[] | null {
  const section = stems?.sections.find((each) => each.name === name && Math.abs(each.start - start) < 0.01);
  const moved = section?.stems.filter(stemMoved) ?? [];
  const uncovered = moved.filter((change) => !there.some((each) => coversStem(each, change)));
  // What works on the whole mix is no stem's: where the stems leave it unexplained, the bands are asked.
  const all = section?.doubt === null && moved.length > 0;
  return all || uncovered.length > 0 ? uncovered : null;
}

function ofSections(
  { sections, changedPlaces }: Comparison,
  asked: readonly AskedThere[],
  stems: StemComparison | null,
): Sized[] {
  return sections.flatMap((section, index): Sized[] => {
    const within = changedPlaces.filter(
      ({ startSeconds, endSeconds }) => startSeconds < section.end && endSeconds > section.start,
    );
    const unaskedStems = uncoveredStems(
      section,
      stems,
      asked.filter((each) => coversPlace(each, index, within)),
    );
    if (unaskedStems) return unaskedStems.length > 0 ? [stemsChange(section, unaskedStems)] : [];
    const told = section.changes.filter((change) => !isForm(change));
    const uncovered = told.filter(
      (change) => !asked.some((each) => coversPlace(each, index, within) && coversBands(each, change)),
    );
    if (section.verdict !== 'changed' || told.length === 0) return [];
    if (uncovered.length > 0) return [sectionChange(section, uncovered, uncovered[0] === told[0])];
    const there = asked.filter((each) => coversPlace(each, index, within));
    const bands = there.map(({ request }) => askedBands(request));
    if (bands.includes(null)) return [];
    const beside = movedBeside(section, new Set(bands.flatMap((each) => [...(each ?? [])])));
    return beside ? [besideChange(section, beside)] : [];
  });
}

/** What moved in a section, by the names of the stems that moved. */
function stemsChange(section: ComparedSection, moved: readonly StemChange[]): Sized {
  const words = [`${moved.map(stemFigure).join(', ')}, from the stems`];
  return changeWith(section, words, `${capital(section.name)}: ${moved.map(stemPlain).join(', ')}.`);
}

/** A section's change in words, with what it did to the whole mix there. */
function changeWith(
  { name, start, end, residualDb, matchedLoudnessDifferenceLu: louder }: ComparedSection,
  words: readonly string[],
  plain: string,
): Sized {
  const figures = [
    ...words,
    louder === null ? '' : `loudness ${signed(louder)} LU after matching`,
    residualDb === null ? '' : residualWords(residualDb),
  ].filter(Boolean);
  return {
    place: { startSeconds: start, endSeconds: end },
    where: name,
    plain,
    figures: `${capital(figures.join('; '))}.`,
    size: Math.abs(louder ?? 0) + amplitude(residualDb),
  };
}

/** What moved in a section beside all that was asked for there. */
function besideChange({ name, start, end, residualDb }: ComparedSection, beside: BandSet): Sized {
  return {
    place: { startSeconds: start, endSeconds: end },
    where: name,
    plain: `${capital(name)}: something moved beside what was asked for there.`,
    figures: `It shows at ${bandWords(beside)}${residualDb === null ? '' : `; ${residualWords(residualDb)} in all`}.`,
    size: amplitude(residualDb),
  };
}

function sectionChange(section: ComparedSection, uncovered: readonly Change[], main: boolean): Sized {
  const words = uncovered.map((change) => `${changeWords(change)}${partWords(change)}`);
  const plain = main
    ? capital(section.sentence.plain)
    : `${capital(section.name)}: ${moveWords(uncovered[0]!)}.`;
  return changeWith(section, words, plain);
}

/** Changed places that no section holds. A tail that rings out of a changed one, and a pickup into it, belong to it. */
function outsideSections({ sections, changedPlaces }: Comparison, asked: readonly AskedThere[]): Sized[] {
  const { tailSeconds, pickupSeconds } = comparisonThreshold;
  let left = [...changedPlaces];
  for (const { start, end, verdict } of sections) {
    const from = verdict === 'changed' ? start - pickupSeconds : start;
    const to = verdict === 'changed' ? end + tailSeconds : end;
    left = left.flatMap((place) => [
      { ...place, endSeconds: Math.min(place.endSeconds, from) },
      { ...place, startSeconds: Math.max(place.startSeconds, to) },
    ]);
  }
  const wholeSong = asked.some(({ place }) => !place.named);
  return left
    .filter(({ startSeconds, endSeconds }) => endSeconds - startSeconds > pickupSeconds && !wholeSong)
    .map(({ startSeconds, endSeconds, residualDb }) => ({
      place: { startSeconds, endSeconds },
      where: `${clockTime(startSeconds)}–${clockTime(endSeconds)}`,
      plain: `Something changed at ${clockTime(startSeconds)}, outside the named sections.`,
      figures: `${capital(residualWords(residualDb))}.`,
      size: amplitude(residualDb),
    }));
}

function ofForms({ alignment, sections }: Comparison, asked: readonly AskedThere[]): Sized[] {
  const about = asked.filter(({ request }) => ofForm.has(request.kind) || request.kind === 'mute');
  return alignment.edits
    .filter(
      ({ kind, atSeconds }) =>
        !about.some(
          ({ place, request }) =>
            !place.named ||
            place.left === 'none' ||
            place.left === 'part' ||
            (kind.startsWith('silence') && request.kind === 'fade-gap') ||
            place.sections.some((index) => {
              const { start, end } = sections[index]!;
              return atSeconds > start - 0.5 && atSeconds < end + 0.5;
            }),
        ),
    )
    .map(({ kind, atSeconds, lengthSeconds }) => ({
      place: {
        startSeconds: atSeconds,
        endSeconds: kind === 'inserted' || kind === 'silence added' ? atSeconds + lengthSeconds : null,
      },
      where: clockTime(atSeconds),
      plain: `${{ cut: 'A stretch was cut', inserted: 'A stretch was put in', 'silence removed': 'Some silence was taken out', 'silence added': 'Some silence was put in' }[kind]} at ${clockTime(atSeconds)}.`,
      figures: `${lengthSeconds.toFixed(2)} s at ${clockTime(atSeconds)}.`,
      size: kind === 'cut' || kind === 'inserted' ? formSize + lengthSeconds : 0.01 * lengthSeconds,
    }));
}

function ofWhole({ gainDb, gainBasis, alignment }: Comparison, asked: readonly AskedThere[]): Sized[] {
  const asksForIt = asked.some(({ request, place }) => {
    const wish = wishOf(request);
    const whole = request.target === 'whole mix' || request.target === 'whole song';
    return ofWholeSong.has(request.kind) || (whole && !place.named && wish.what === 'level');
  });
  const moved = Math.abs(gainDb) > comparisonThreshold.meterToleranceLu && !asksForIt;
  const turned = alignment.polarity === -1;
  if (!moved && !turned) return [];
  const louder = gainDb > 0 ? 'louder' : 'quieter';
  return [
    {
      place: null,
      where: 'Whole song',
      plain: [moved ? `The whole song is ${louder}.` : '', turned ? 'The signal is turned upside down.' : '']
        .filter(Boolean)
        .join(' '),
      figures: [
        moved
          ? `${signed(gainDb, 2)} ${gainBasis === 'loudness' ? 'LU' : 'dB'} as a whole; everything else is told beside that.`
          : '',
        turned ? 'Polarity turned over.' : '',
      ]
        .filter(Boolean)
        .join(' '),
      size: Math.abs(gainDb),
    },
  ];
}

/**
 * Every measured change that no request covers in place and, roughly, in its bands; the biggest first.
 *
 * @param stems Where stems tell which parts moved in a section, those are named in place of its bands.
 */
export function unaskedChanges(
  comparison: Comparison,
  asked: readonly AskedThere[],
  stems: StemComparison | null = null,
): UnaskedChange[] {
  return [
    ...ofWhole(comparison, asked),
    ...ofForms(comparison, asked),
    ...ofSections(comparison, asked, stems),
    ...outsideSections(comparison, asked),
  ]
    .sort((one, other) => other.size - one.size)
    .map(({ size: _, ...change }) => change);
}

/**
 * The last word about a change: about its very place, or about one that shares most of the shorter one, as where sections
 * were drawn anew since.
 */
export function explanationOf(
  { place }: Pick<UnaskedChange, 'place'>,
  explanations: readonly Explanation[],
): Explanation | null {
  const exact = explanations.findLast((each) => samePlace(each.place, place));
  if (exact || !place || place.endSeconds === null) return exact ?? null;
  const end = place.endSeconds;
  const near = explanations.findLast((each) => {
    if (!each.place || each.place.endSeconds === null) return false;
    const shared =
      Math.min(end, each.place.endSeconds) - Math.max(place.startSeconds, each.place.startSeconds);
    const shorter = Math.min(end - place.startSeconds, each.place.endSeconds - each.place.startSeconds);
    return shared > shorter / 2;
  });
  return near ?? null;
}
