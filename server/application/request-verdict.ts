import type { Request } from '../domain/note.ts';
import type { Change } from '../measurement/change.ts';
import type { Comparison } from '../measurement/comparison.ts';
import { comparisonThreshold } from '../measurement/comparison-threshold.ts';
import type { StemComparison } from '../measurement/stem-comparison.ts';
import { changeWords, partWords } from './change-words.ts';
import { clockTime } from './clock-time.ts';
import { movedBeside } from './moved-beside.ts';
import { type BandSet, bandsIn, bandsLie, bandsOfPart, bandWords } from './part-bands.ts';
import type { AskedPlace } from './request-place.ts';
import { type Wish, wishOf } from './request-wish.ts';
import { isStemOf } from './stem-target.ts';
import { stemVerdict } from './stem-verdict.ts';

/**
 * What the measurement says of a request; never that it is done, which is for the ear of whoever asked. Of several places
 * the least favourable holds, in this order.
 */
export const requestVerdicts = [
  'opposite',
  'no change measured',
  'cannot be told this way',
  'seen in the measurement',
] as const;
export type RequestVerdict = (typeof requestVerdicts)[number];

export interface Verdict {
  verdict: RequestVerdict;
  /** One sentence with the figure behind it. */
  figure: string;
}

type Asked = Pick<Request, 'text' | 'kind' | 'direction' | 'target'>;
type ComparedSection = Comparison['sections'][number];

/** Another request of the same list, for telling whose change a change is. */
export interface Rival {
  request: Asked;
  place: AskedPlace;
}

/** Under this residual, relative to what sounds there, a range stands still beside what moved. *Common practice*: −40 dB. */
const stillBandsDb = -40;
/** What rounds to no tenth of a decibel is no figure. */
const leastShownDb = 0.05;
/** What a range beside the named changes must have moved by before it is said which way. */
const surelyMovedDb = 0.2;

const signed = (value: number, unit: string) => {
  const rounded = Math.abs(value).toFixed(1);
  return `${rounded === '0.0' ? '±' : value < 0 ? '−' : '+'}${rounded} ${unit}`;
};
const figureDb = (value: number) => `${value < 0 ? '−' : ''}${Math.abs(value).toFixed(0)} dB`;
const capital = (words: string) => words.charAt(0).toUpperCase() + words.slice(1);
const lowerFirst = (words: string) => words.charAt(0).toLowerCase() + words.slice(1);
const way = (value: number) =>
  Math.abs(value) < 0.05
    ? `${value < 0 ? 'down' : 'up'} by less than 0.1 dB`
    : `${Math.abs(value).toFixed(1)} dB ${value < 0 ? 'down' : 'up'}`;

const changeBands = ({ band }: Change): BandSet | null => band && bandsIn(band.lowestHz, band.highestHz);

const median = (values: readonly number[]): number | null => {
  const sorted = [...values].sort((one, other) => one - other);
  return sorted[Math.floor(sorted.length / 2)] ?? null;
};
const numbers = (values: readonly (number | null | undefined)[]) =>
  values.filter((value): value is number => value !== null && value !== undefined);

/** What the bands of a part did in a section, whatever else moved there. */
interface BandsThere {
  movedDb: number | null;
  residualDb: number | null;
  still: boolean;
}

function bandsThere({ bands }: ComparedSection, part: BandSet): BandsThere {
  const own = bands.filter(({ nominalHz }) => part.has(nominalHz));
  const movedDb = median(numbers(own.map((band) => band.matchedDifferenceDb)));
  const residualDb = median(numbers(own.map((band) => band.residualDb)));
  const still =
    (movedDb === null || Math.abs(movedDb) < comparisonThreshold.meterToleranceLu) &&
    (residualDb === null || residualDb <= stillBandsDb);
  return { movedDb, residualDb, still };
}

/** What a change's share of a part's bands moved by, on average; `null` where they hold nothing. */
function movedIn({ bands }: ComparedSection, change: Change, part: BandSet): number | null {
  const changed = changeBands(change) ?? part;
  const moved = numbers(
    bands
      .filter(({ nominalHz }) => part.has(nominalHz) && changed.has(nominalHz))
      .map((band) => band.matchedDifferenceDb),
  );
  return moved.length ? moved.reduce((sum, value) => sum + value, 0) / moved.length : null;
}

const rises: Partial<Record<Change['kind'], 1 | -1>> = { up: 1, added: 1, down: -1, removed: -1 };

/** Everything that a judgement about one section looks at. */
interface Case {
  wish: Wish;
  section: ComparedSection;
  /** `null` where no part is named, or none that the table knows. */
  part: BandSet | null;
  /** The part's bands as a sentence begins with them: `Bass bands`. */
  named: string;
  /** Changes in the section that lie in the part's bands; all of them where no part is named. */
  inside: Change[];
  /** A change that spans far more than the part. */
  wider: Change | null;
  /** Another asked part that the same changes could be. */
  rival: string | null;
  /** Bands outside the part that moved so much more that something else moved too. */
  beside: BandSet | null;
}

function caseOf(asked: Asked, section: ComparedSection, rivals: readonly Rival[], index: number): Case {
  const wish = wishOf(asked);
  const part = wish.what === 'tone' ? wish.bands : bandsOfPart(asked.target);
  const changes = section.changes.filter(({ kind }) => kind !== 'cut' && kind !== 'inserted');
  const lies = (change: Change, bands: BandSet | null) => {
    const changed = changeBands(change);
    return bands && changed ? bandsLie(changed, bands) : bands ? 'wider' : 'inside';
  };
  const inside = changes.filter((change) => lies(change, part) === 'inside');
  const rival = rivals.find(({ request, place }) => {
    const what = wishOf(request);
    const bands = what.what === 'tone' ? what.bands : bandsOfPart(request.target);
    return (
      request.target !== asked.target &&
      bands !== null &&
      what.what !== 'untellable' &&
      place.sections.includes(index) &&
      inside.some((change) => lies(change, bands) === 'inside')
    );
  });
  const own = new Set([...(part ?? []), ...(bandsOfPart(asked.target) ?? [])]);
  return {
    wish,
    section,
    part,
    named: wish.what === 'tone' ? 'Bands' : `${capital(asked.target ?? 'all')} bands`,
    inside,
    wider: changes.find((change) => lies(change, part) === 'wider') ?? null,
    rival: part && rival ? rival.request.target : null,
    beside: part && movedBeside(section, own),
  };
}

const cannot = (figure: string): Verdict => ({ verdict: 'cannot be told this way', figure });
const noChange = (figure: string): Verdict => ({ verdict: 'no change measured', figure });
const bySign = (right: boolean, figure: string): Verdict => ({
  verdict: right ? 'seen in the measurement' : 'opposite',
  figure,
});

const residualWords = ({ residualDb }: ComparedSection) =>
  residualDb === null
    ? ''
    : residualDb <= comparisonThreshold.lowestResidualDb
      ? 'the samples are the same'
      : `residual ${figureDb(residualDb)}`;

/** `Bass bands in Bridge (63 to 125 Hz)`: the part's own bands, or those of them that a change shows in. */
function bandsNamed({ named, part, section }: Case, change: Change | null = null): string {
  const changed = change && changeBands(change);
  const bands = part && changed ? new Set([...part].filter((hertz) => changed.has(hertz))) : part;
  return `${named} in ${section.name}${bands ? ` (${bandWords(bands)})` : ''}`;
}

const movedBy = (value: number) =>
  Math.abs(value) < comparisonThreshold.meterToleranceLu
    ? 'by less than 0.1 dB'
    : `by ${Math.abs(value).toFixed(1)} dB`;

/** Nothing moved in the section, or nothing where the part sounds. */
function stillVerdict(given: Case): Verdict {
  const { section, part } = given;
  const there = part && bandsThere(section, part);
  const moved = there?.movedDb ?? null;
  if (section.verdict === 'changed')
    return noChange(
      moved === null
        ? `${bandsNamed(given)}: no change measured beside what changed there.`
        : `${bandsNamed(given)} moved ${movedBy(moved)} beside what changed there.`,
    );
  const rest = [
    residualWords(section),
    moved === null ? '' : `${lowerFirst(given.named)} moved ${movedBy(moved)}`,
  ].filter(Boolean);
  return noChange(
    `${capital(section.name)}: no change measured${rest.length ? `, ${rest.join('; ')}` : ''}.`,
  );
}

const noPart = ({ section }: Case) =>
  cannot(`${capital(section.name)} changed, but no part is named whose bands could be looked at.`);

function levelVerdict(given: Case, sign: 1 | -1): Verdict {
  const { section, part, inside, wider } = given;
  if (!part) return noPart(given);
  const moving = inside.filter(({ kind }) => rises[kind] !== undefined);
  if (new Set(moving.map(({ kind }) => rises[kind])).size === 2)
    return cannot(
      `${bandsNamed(given)}: something is up and something is down; which of the two is meant can’t be told.`,
    );
  const [change] = moving;
  if (change) {
    const rise = rises[change.kind]!;
    if (sign === -rise && (change.kind === 'removed' || change.kind === 'added'))
      return cannot(
        `${capital(section.name)}: ${changeWords(change)}; where a part was to go ${sign > 0 ? 'up' : 'down'} that may be another one.`,
      );
    const moved = movedIn(section, change, part);
    const bands = bandsNamed(given, change);
    return moved !== null && Math.abs(moved) >= surelyMovedDb && Math.sign(moved) !== rise
      ? cannot(`${bands} are ${way(moved)}, though something there is ${rise > 0 ? 'up' : 'down'}.`)
      : bySign(
          rise === sign,
          `${bands} are ${way(moved ?? rise * 0.01)} after matching${partWords(change)}.`,
        );
  }
  const [other] = inside;
  if (other)
    return cannot(
      `${capital(section.name)}: ${changeWords(other)}; whether the part is ${sign > 0 ? 'up' : 'down'} can’t be told from that.`,
    );
  const { still, movedDb } = bandsThere(section, part);
  if (still) return stillVerdict(given);
  if (wider) return mostlyIn(given, wider, sign) ?? tooWide(given, wider);
  return movedDb !== null && Math.abs(movedDb) >= surelyMovedDb
    ? bySign(
        Math.sign(movedDb) === sign,
        `${bandsNamed(given)} are ${way(movedDb)} after matching, beside larger changes.`,
      )
    : tooLittle(given);
}

/**
 * A range of the tone that moved more than the rest of what moved is what was asked for, though its borders are wider: a
 * filter's slopes reach beside the range that words name.
 */
function mostlyIn(given: Case, wider: Change, sign: 1 | -1): Verdict | null {
  const { section, part, wish } = given;
  const rise = rises[wider.kind];
  const changed = changeBands(wider);
  if (wish.what !== 'tone' || !part || !changed || rise === undefined) return null;
  const within = movedIn(section, wider, part) ?? 0;
  const beside = movedIn(section, wider, new Set([...changed].filter((hertz) => !part.has(hertz)))) ?? 0;
  return Math.sign(within) === rise && Math.abs(within) >= leastShownDb && Math.abs(within) > Math.abs(beside)
    ? bySign(
        rise === sign,
        `${bandsNamed(given, wider)} are ${way(within)} after matching, more than beside them.`,
      )
    : null;
}

const tooWide = ({ section, named, wish }: Case, wider: Change) =>
  cannot(
    `${capital(section.name)}: ${changeWords(wider)}, which is more than the ${lowerFirst(named)}${wish.what === 'tone' ? ` from ${bandWords(wish.bands)}` : ''}; what of it is meant can’t be told.`,
  );

const tooLittle = (given: Case) =>
  cannot(
    `${bandsNamed(given)} moved ${movedBy(bandsThere(given.section, given.part!).movedDb ?? 0)} beside larger changes: too little to tell.`,
  );

function presenceVerdict(given: Case, wanted: 'added' | 'removed'): Verdict {
  const { section, part, inside } = given;
  const sign = wanted === 'added' ? 1 : -1;
  const words = (change: Change) => {
    const moved = part && movedIn(section, change, part);
    const by = moved === null ? '' : `; ${lowerFirst(given.named)} ${way(moved)} after matching`;
    return `${capital(section.name)}: ${changeWords(change)}${by}`;
  };
  const found = inside.find(({ kind }) => kind === wanted);
  if (found) return bySign(true, `${words(found)}.`);
  const against = inside.find(({ kind }) => rises[kind] === -sign);
  if (against) return bySign(false, `${words(against)}.`);
  const [other] = inside;
  if (other)
    return cannot(
      `${words(other)}, but nothing is measured as ${wanted === 'added' ? 'new' : 'gone altogether'}.`,
    );
  return otherwise(given);
}

function roomVerdict(given: Case, sign: 1 | -1): Verdict {
  const { section, inside } = given;
  const name = capital(section.name);
  const room = inside.find(({ kind }) => kind === 'wetter' || kind === 'drier');
  if (room)
    return bySign(
      (room.kind === 'wetter') === (sign === 1),
      `${name}: ${changeWords(room)}, ${Math.round(room.confidence * 100)} % sure; ${residualWords(section)}.`,
    );
  if (inside[0])
    return cannot(
      `${name}: ${changeWords(inside[0])}; whether that is the room around the part can’t be told.`,
    );
  return otherwise(given);
}

function imageVerdict(given: Case, wanted: Change['towards']): Verdict {
  const { section, inside } = given;
  const name = capital(section.name);
  const move = inside.find(({ towards }) => towards !== null);
  const width = section.midSideDifferenceDb;
  const figure = width === null ? '' : `; mid over side ${signed(width, 'dB')}`;
  if (move?.towards) {
    const words = `${name}: ${changeWords(move)}${figure}`;
    if (wanted === null || move.towards === wanted) return bySign(true, `${words}.`);
    const against = { left: 'right', right: 'left', wider: 'narrower', narrower: 'wider' }[wanted];
    return move.towards === against
      ? bySign(false, `${words}.`)
      : cannot(`${words}; asked for was ${wanted}.`);
  }
  if (inside[0])
    return cannot(`${name}: ${changeWords(inside[0])}${figure}; no move in the image is measured.`);
  return otherwise(given);
}

/** Where nothing in the part's bands has a name: still, or not to be told. */
function otherwise(given: Case): Verdict {
  const { section, part, wider } = given;
  if (!part) return noPart(given);
  if (bandsThere(section, part).still) return stillVerdict(given);
  return wider ? tooWide(given, wider) : tooLittle(given);
}

function sectionVerdict(given: Case, stillThere: string | null): Verdict {
  const { section, rival, beside } = given;
  if (section.verdict === 'too short to judge') return cannot(section.sentence.figures);
  if (stillThere) return noChange(stillThere);
  if (section.verdict === 'no change measured') return stillVerdict(given);
  const verdict = changedVerdict(given);
  const told = verdict.verdict === 'seen in the measurement' || verdict.verdict === 'opposite';
  if (told && beside)
    return cannot(
      `${verdict.figure} More moved beside that (${bandWords(beside)}), so that whose move it is can’t be told.`,
    );
  return told && rival
    ? cannot(
        `${verdict.figure} The ${rival} sounds in the same bands and was asked for here too, so that the two can’t be told apart.`,
      )
    : verdict;
}

function changedVerdict(given: Case): Verdict {
  const { wish, section, inside } = given;
  switch (wish.what) {
    case 'level':
    case 'tone':
      return levelVerdict(given, wish.sign);
    case 'gone':
      return presenceVerdict(given, 'removed');
    case 'new':
      return presenceVerdict(given, 'added');
    case 'room':
      return roomVerdict(given, wish.sign);
    case 'image':
      return imageVerdict(given, wish.towards);
    default: {
      const still = otherwise(given);
      if (still.verdict === 'no change measured') return still;
      const seen = inside[0] ? changeWords(inside[0]) : residualWords(section);
      const why = wish.what === 'untellable' ? wish.why : 'it is about the whole song';
      return cannot(`${capital(section.name)} changed (${seen}), but ${why}.`);
    }
  }
}

/** Whether nothing changed in a stretch that is less than its section; `null` where that can't be said. */
function stillStretch(
  { changedPlaces, residualSeries }: Comparison,
  { narrower }: AskedPlace,
): string | null {
  // Where the null is limited throughout, no place is called changed, and none can be called still.
  if (!narrower || changedPlaces.length === 0) return null;
  const { startSeconds, endSeconds } = narrower;
  if (changedPlaces.some((each) => each.startSeconds < endSeconds && each.endSeconds > startSeconds))
    return null;
  const { hopSeconds, residualDb } = residualSeries;
  const there = numbers(
    residualDb.slice(Math.floor(startSeconds / hopSeconds), Math.ceil(endSeconds / hopSeconds)),
  );
  const mean = there.reduce((sum, value) => sum + 10 ** (value / 10), 0) / Math.max(1, there.length);
  const residual = there.length ? `, residual ${figureDb(10 * Math.log10(mean))}` : '';
  return `${clockTime(startSeconds)}–${clockTime(endSeconds)}: no change measured${residual}.`;
}

function loudnessVerdict({ loudnessDifferenceLu }: Comparison, sign: 1 | -1): Verdict {
  if (loudnessDifferenceLu === null) return cannot('The loudness of one of the two is undefined.');
  const figure = `The whole song is ${signed(loudnessDifferenceLu, 'LU')} by integrated loudness.`;
  if (Math.abs(loudnessDifferenceLu) <= comparisonThreshold.meterToleranceLu) return noChange(figure);
  return bySign(Math.sign(loudnessDifferenceLu) === sign, figure);
}

function formVerdict(
  { alignment }: Comparison,
  place: AskedPlace,
  sections: readonly ComparedSection[],
  wish: { what: 'form' | 'silence'; sign: 1 | -1 },
): Verdict {
  const kinds =
    wish.what === 'form'
      ? { 1: 'inserted' as const, [-1]: 'cut' as const }
      : { 1: 'silence added' as const, [-1]: 'silence removed' as const };
  const inPlace = alignment.edits.filter(
    ({ atSeconds }) =>
      wish.what === 'silence' ||
      !place.named ||
      place.left === 'none' ||
      place.left === 'part' ||
      sections.some(({ start, end }) => atSeconds > start - 0.5 && atSeconds < end + 0.5),
  );
  const words = (edit: (typeof inPlace)[number]) =>
    `${edit.lengthSeconds.toFixed(2)} s ${edit.kind.startsWith('silence') ? `of ${edit.kind}` : edit.kind} at ${clockTime(edit.atSeconds)}.`;
  const wanted = inPlace.find(({ kind }) => kind === kinds[wish.sign]);
  if (wanted) return bySign(true, words(wanted));
  const against = inPlace.find(({ kind }) => kind === kinds[-wish.sign as 1 | -1]);
  if (against) return bySign(false, words(against));
  return noChange(
    `No change of form is measured ${place.named ? 'there' : 'in the song'}: both run over the same timeline.`,
  );
}

const leastFavourable = (verdicts: readonly Verdict[]): Verdict =>
  verdicts.reduce((least, one) =>
    requestVerdicts.indexOf(one.verdict) < requestVerdicts.indexOf(least.verdict) ? one : least,
  );

/** What is said of a request that stands for several people's: the least favourable of their places holds. */
export function verdictOverPlaces(verdicts: readonly [Verdict, ...Verdict[]]): Verdict {
  const { verdict } = leastFavourable(verdicts);
  return { verdict, figure: joined([...new Set(verdicts.map(({ figure }) => figure))]) };
}

/**
 * What the stems of the named part say in one section of the comparison: `null` where there is no such stem, where none of
 * them decides, or where less than the section is meant; `silent` where the part sounds in neither.
 */
function fromStems(
  request: Asked,
  { narrower }: AskedPlace,
  { name, start }: ComparedSection,
  stems: StemComparison | null,
): Verdict | 'silent' | null {
  // A stem is told over all of a section, which says nothing of a spot in it.
  if (narrower) return null;
  const section = stems?.sections.find((each) => each.name === name && Math.abs(each.start - start) < 0.01);
  const own = section?.stems.filter(({ stem }) => isStemOf(stem, request.target)) ?? [];
  if (!section || own.length === 0) return null;
  const sounding = own.filter(({ reading }) => reading !== 'silent');
  if (sounding.length === 0) return 'silent';
  const wish = wishOf(request);
  const verdicts = sounding.map((change) => stemVerdict(wish, change, section));
  const told = verdicts.filter((verdict) => verdict !== null);
  if (told.length < verdicts.length) return null;
  return { ...leastFavourable(told), figure: joined(told.map(({ figure }) => figure)) };
}

/**
 * What a comparison says of one request. Where stems tell the gain of the very part that it names, that decides; else the
 * bands in which the part sounds. Where words or a pin name several sections, each of them must show it; a request
 * about the whole song is seen where any section shows it and none the opposite.
 *
 * @param comparison `null` where the two could not be compared, with `fault` saying why.
 * @param rivals The other requests of the list.
 * @param stems What the stems of the two versions tell, where they have any.
 */
export function requestVerdict(
  request: Asked,
  place: AskedPlace,
  comparison: Comparison | null,
  rivals: readonly Rival[],
  fault: string | null = null,
  stems: StemComparison | null = null,
): Verdict {
  if (!comparison) return cannot(fault ?? 'The two versions could not be compared.');
  const wish = wishOf(request);
  if (wish.what === 'loudness') return loudnessVerdict(comparison, wish.sign);
  const sections = place.sections.map((index) => comparison.sections[index]!);
  if (wish.what === 'form' || wish.what === 'silence') return formVerdict(comparison, place, sections, wish);
  if (place.left === 'none') return cannot('Its place was cut from the new version.');
  if (sections.length === 0)
    return cannot('Where in the song it is meant can’t be told from its words or its pin.');
  const still = stillStretch(comparison, place);
  const told = place.sections.map((index) => ({
    index,
    byStems: fromStems(request, place, comparison.sections[index]!, stems),
  }));
  // Where the part rests there is nothing to be seen, unless it rests everywhere that was meant.
  const sounding = told.filter(({ byStems }) => byStems !== 'silent');
  const verdicts = (sounding.length > 0 ? sounding : told).map(({ index, byStems }) =>
    byStems && byStems !== 'silent'
      ? byStems
      : sectionVerdict(caseOf(request, comparison.sections[index]!, rivals, index), still),
  );
  if (verdicts.length === 1) return verdicts[0]!;
  if (place.named) {
    const least = leastFavourable(verdicts);
    return { verdict: least.verdict, figure: joined(verdicts.map(({ figure }) => figure)) };
  }
  return wholeSong(verdicts, comparison);
}

function wholeSong(verdicts: readonly Verdict[], { sections }: Comparison): Verdict {
  const of = (verdict: RequestVerdict) => verdicts.filter((each) => each.verdict === verdict);
  const [seen, against, untold] = [
    of('seen in the measurement'),
    of('opposite'),
    of('cannot be told this way'),
  ];
  if (seen.length > 0 && against.length > 0)
    return cannot(joined([...seen.slice(0, 1), ...against.slice(0, 1)].map(({ figure }) => figure)));
  const [first] = seen.length > 0 ? seen : against.length > 0 ? against : untold;
  if (!first) return noChange(`No change measured in any of ${sections.length} sections.`);
  const alike = seen.length || against.length || untold.length;
  const others = alike > 1 ? ` The same in ${alike - 1} of ${sections.length - 1} other sections.` : '';
  return { verdict: first.verdict, figure: `${first.figure}${others}` };
}

const longestList = 4;

function joined(figures: readonly string[]): string {
  const rest = figures.length - longestList;
  return [...figures.slice(0, longestList), ...(rest > 0 ? [`And ${rest} more places.`] : [])].join(' ');
}
