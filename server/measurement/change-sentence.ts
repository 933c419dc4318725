import type { Change } from './change.ts';
import type { Comparison, SectionComparison } from './comparison.ts';
import { comparisonThreshold } from './comparison-threshold.ts';
import type { TimelineEdit } from './timeline-map.ts';

/** One statement twice: in plain words without figures for artists, and with figures for engineers. */
export interface Said {
  plain: string;
  figures: string;
}

type ToldSection = Omit<SectionComparison, 'sentence'>;
type ToldComparison = Omit<Comparison, 'summary' | 'sentences'>;

/** What plain words call a range, by the frequency under which it lies. *Common practice*; the borders are soft. */
const rangeWords: readonly [number, string][] = [
  [70, 'the deep bass'],
  [220, 'the bass’s range'],
  [450, 'the warmth'],
  [3600, 'the voice’s range'],
  [8500, 'the brightness'],
  [Number.POSITIVE_INFINITY, 'the air on top'],
];

/** A section's change in one sentence. */
export function sentenceOfSection(section: ToldSection): Said {
  const name = capital(section.name);
  if (section.verdict === 'too short to judge') return doubtOf(section, name);
  if (section.verdict === 'no change measured')
    return {
      plain: `${name}: no change measured.`,
      figures: `${name}: no change measured${residualWords(section)}.`,
    };
  return {
    plain: `${plainChange(section, name)}.`,
    figures: `${figuresChange(section, name)}${detailWords(section)}.`,
  };
}

function doubtOf({ doubt }: ToldSection, name: string): Said {
  const reason = {
    outside_file: 'it reaches outside the new version',
    too_short: 'it is too short to judge',
    little_in_common: 'too little of it sounds in both versions to judge',
  }[doubt ?? 'too_short'];
  return { plain: `${name}: ${reason}.`, figures: `${name}: ${reason}.` };
}

/** The first sentence, and all of them in figures. */
export function sentencesOfComparison(comparison: ToldComparison): { summary: Said; sentences: string[] } {
  const { sections, alignment, gainDb } = comparison;
  const changed = [...sections]
    .filter(({ verdict }) => verdict === 'changed')
    .sort((one, other) => sizeOf(other) - sizeOf(one));
  const rest = sections.filter(({ verdict }) => verdict === 'no change measured');
  const elsewhere = placesOutside(comparison);
  const whole = wholeMix(comparison);
  const form = alignment.edits.map(editWords);

  const plain: string[] = [];
  const figures: string[] = [];
  if (whole) {
    plain.push(whole.plain);
    figures.push(whole.figures);
  }
  for (const { plain: inPlain, figures: inFigures } of form) {
    plain.push(inPlain);
    figures.push(inFigures);
  }
  // What an edit alone did to its section is said by the edit.
  const told = changed.filter((section) =>
    section.changes.some(({ kind }) => kind !== 'cut' && kind !== 'inserted'),
  );
  for (const section of told.slice(0, 3)) {
    const name = capital(section.name);
    plain.push(plainChange(section, name));
    figures.push(figuresChange(section, name));
  }
  if (told.length > 3) {
    const others = listed(told.slice(3).map(({ name }) => capital(name)));
    plain.push(`${others} changed too`);
    figures.push(`${others} changed too`);
  }
  if (elsewhere.length > 0) {
    plain.push('something also changed outside the named sections');
    figures.push(
      `outside the sections something changed at ${listed(elsewhere.map(({ startSeconds, endSeconds }) => `${clock(startSeconds)}–${clock(endSeconds)}`))}`,
    );
  }
  const nothing = plain.length === 0;
  if (rest.length > 0 && elsewhere.length === 0) {
    const within = toleranceWords(rest, gainDb);
    plain.push(nothing ? 'No change measured' : 'everything else: no change measured');
    figures.push(nothing ? `No change measured${within}` : `everything else is unchanged${within}`);
  } else if (nothing) {
    plain.push('Nothing in it could be judged');
    figures.push('Nothing in it could be judged');
  }
  const summary = { plain: sentence(plain), figures: sentence(figures) };
  return {
    summary,
    sentences: [
      summary.figures,
      ...alignmentWords(comparison),
      ...sections.map((section) => sentenceOfSection(section).figures),
      ...comparison.notes,
    ],
  };
}

/** How large a change is, for putting the largest first: the loudness it moves, and the residual it leaves. */
function sizeOf({ matchedLoudnessDifferenceLu, residualDb }: ToldSection): number {
  return Math.abs(matchedLoudnessDifferenceLu ?? 0) + 10 ** ((residualDb ?? -150) / 20);
}

/**
 * What of the changed places no section covers. A tail that rings out of a section, and a pickup into one, belong to it.
 */
function placesOutside({
  sections,
  changedPlaces,
}: ToldComparison): { startSeconds: number; endSeconds: number }[] {
  const { tailSeconds, pickupSeconds } = comparisonThreshold;
  let left = changedPlaces.map(({ startSeconds, endSeconds }) => ({ startSeconds, endSeconds }));
  for (const { start, end, verdict } of sections) {
    const from = verdict === 'changed' ? start - pickupSeconds : start;
    const to = verdict === 'changed' ? end + tailSeconds : end;
    left = left.flatMap(({ startSeconds, endSeconds }) => [
      { startSeconds, endSeconds: Math.min(endSeconds, from) },
      { startSeconds: Math.max(startSeconds, to), endSeconds },
    ]);
  }
  return left.filter(({ startSeconds, endSeconds }) => endSeconds - startSeconds > pickupSeconds);
}

function wholeMix({ gainDb, gainBasis, alignment }: ToldComparison): Said | null {
  const louder = gainDb > 0 ? 'louder' : 'quieter';
  if (Math.abs(gainDb) < 0.05 && alignment.polarity === 1 && gainBasis !== 'loudness') return null;
  const upsideDown = alignment.polarity === -1 ? 'the polarity is turned over' : null;
  const amount = `${Math.abs(gainDb).toFixed(2)} ${gainBasis === 'loudness' ? 'LU' : 'dB'} ${louder}`;
  const balance = gainBasis === 'loudness' ? 'the balance changed throughout' : null;
  const moved = Math.abs(gainDb) >= 0.05 ? `the whole mix is ${amount}` : null;
  const plainMoved = moved && `the whole song is ${amountWords(Math.abs(gainDb))}${louder}`;
  return {
    plain: [plainMoved, balance, upsideDown && 'the signal is turned upside down']
      .filter(Boolean)
      .join(' and '),
    figures: [moved, balance, upsideDown].filter(Boolean).join(' and '),
  };
}

function editWords({ kind, atSeconds, lengthSeconds, lengthBars }: TimelineEdit): Said {
  const bars = lengthBars === null ? '' : ` (${barWords(lengthBars)})`;
  const what = {
    cut: 'was cut',
    inserted: 'was inserted',
    'silence removed': 'of silence was removed',
    'silence added': 'of silence was added',
  }[kind];
  const plainWhat = {
    cut: 'a stretch was cut',
    inserted: 'a stretch was inserted',
    'silence removed': 'some silence was removed',
    'silence added': 'some silence was added',
  }[kind];
  const form = kind === 'cut' || kind === 'inserted' ? ' (the form changed)' : '';
  return {
    plain: `${plainWhat}${bars} at ${clock(atSeconds)}${form}`,
    figures: `${lengthSeconds.toFixed(2)} s${bars} ${what} at ${clock(atSeconds, 2)}${form}`,
  };
}

/** Whole bars as such; anything else to a hundredth of one. */
function barWords(bars: number): string {
  const whole = Math.abs(bars - Math.round(bars)) < 0.03;
  const count = whole ? String(Math.round(bars)) : bars.toFixed(2);
  return `${count} ${count === '1' ? 'bar' : 'bars'}`;
}

function alignmentWords({ offsetFrames, alignment, nullDepthDb, nullLimit }: ToldComparison): string[] {
  const words: string[] = [];
  if (offsetFrames !== 0) {
    const frames = Math.abs(offsetFrames);
    const count = Number.isInteger(frames) ? String(frames) : frames.toFixed(2);
    const milliseconds = (Math.abs(alignment.offsetSeconds) * 1000).toFixed(frames < 100 ? 3 : 1);
    const one = frames === 1 ? 'frame' : 'frames';
    words.push(
      `B starts ${count} ${one} (${milliseconds} ms) ${offsetFrames > 0 ? 'late' : 'early'}; aligned.`,
    );
  }
  if (nullDepthDb !== null && nullLimit !== null) {
    words.push(
      nullLimit === 'identical'
        ? 'Where both sound, the samples are the same.'
        : `Best null ${nullDepthDb.toFixed(1)} dB, limited by ${nullLimit}.`,
    );
  }
  return words;
}

function plainChange(section: ToldSection, name: string): string {
  const change = mainChange(section);
  const where = plainRange(change);
  const louder = section.matchedLoudnessDifferenceLu ?? 0;
  if (change && change.kind !== 'up' && change.kind !== 'down') return `${plainKind(change, name)}${where}`;
  if (Math.abs(louder) > comparisonThreshold.meterToleranceLu)
    return `${name} is ${amountWords(Math.abs(louder))}${louder > 0 ? 'louder' : 'quieter'}${where}`;
  if (change) return `in ${name} something is ${change.kind === 'up' ? 'up' : 'down'} a little${where}`;
  return `${name} changed`;
}

function plainKind({ kind, towards }: Change, name: string): string {
  switch (kind) {
    case 'added':
      return `something new sounds in ${name}`;
    case 'removed':
      return `something is gone from ${name}`;
    case 'replaced':
      return `something in ${name} is not the same as before`;
    case 'moved in the image':
      return towards === 'left' || towards === 'right'
        ? `something in ${name} moved to the ${towards}`
        : `${name} is ${towards}`;
    case 'wetter':
      return `something in ${name} has more room around it`;
    case 'drier':
      return `something in ${name} has less room around it`;
    case 'dynamics':
      return `the whole of ${name} is held differently from moment to moment`;
    default:
      return `${name} changed`;
  }
}

function figuresChange(section: ToldSection, name: string): string {
  const change = mainChange(section);
  const louder = section.matchedLoudnessDifferenceLu;
  const range = change?.band ? `, mostly ${hertzRange(change.band)}` : '';
  const byFader = !change || change.kind === 'up' || change.kind === 'down';
  if (louder !== null && Math.abs(louder) >= 0.05) {
    const amount = `${Math.abs(louder).toFixed(1)} LU ${louder > 0 ? 'louder' : 'quieter'}`;
    return byFader ? `${name} is ${amount}${range}` : `${name}: ${kindWords(change)}${range}, ${amount}`;
  }
  const kind = change ? kindWords(change) : 'changed';
  return `${name}: ${kind}${range}, loudness within 0.1 LU`;
}

/** What stands behind a section's sentence: each change with its certainty, the part's own move, the residual. */
function detailWords(section: ToldSection): string {
  const changes = section.changes.map((change) => {
    const range = change.band ? ` ${hertzRange(change.band)}` : '';
    const part =
      change.partGainDb === null ? '' : `, the part itself ${signed(change.partGainDb)} dB if one part moved`;
    return `${kindWords(change)}${range}${part} (${Math.round(change.confidence * 100)} % sure)`;
  });
  const list = changes.length > 0 ? `: ${changes.join('; ')}` : '';
  return `${list}${residualWords(section)}`;
}

function kindWords({ kind, towards }: Change): string {
  if (towards)
    return towards === 'left' || towards === 'right' ? `something moved to the ${towards}` : towards;
  const words: Partial<Record<Change['kind'], string>> = {
    up: 'something is up',
    down: 'something is down',
    added: 'something was added',
    removed: 'something was removed',
    replaced: 'something was replaced, or never repeats',
    dynamics: 'dynamics differ',
    wetter: 'something is wetter',
    drier: 'something is drier',
  };
  return words[kind] ?? kind;
}

function residualWords({ residualDb }: ToldSection): string {
  return residualDb === null ? '' : `, residual ${residualDb.toFixed(1)} dB`;
}

function mainChange({ changes }: ToldSection): Change | null {
  return changes.find(({ kind }) => kind !== 'cut' && kind !== 'inserted') ?? changes[0] ?? null;
}

function plainRange(change: Change | null): string {
  if (!change?.band) return '';
  const { lowestHz, highestHz } = change.band;
  if (highestHz / lowestHz > 60) return ', over its whole range';
  const middle = Math.sqrt(lowestHz * highestHz);
  return `, mostly ${rangeWords.find(([upper]) => middle < upper)![1]}`;
}

function amountWords(difference: number): string {
  if (difference < comparisonThreshold.noticedLu) return 'a touch ';
  if (difference < 1.5 * comparisonThreshold.clearLu) return 'a little ';
  if (difference < comparisonThreshold.largeLu) return 'clearly ';
  return 'much ';
}

function toleranceWords(rest: readonly ToldSection[], gainDb: number): string {
  const largest = Math.max(
    ...rest.map(({ loudnessDifferenceLu }) => Math.abs((loudnessDifferenceLu ?? 0) - gainDb)),
  );
  return ` within ${Math.max(0.1, Math.ceil(largest * 10 - 1e-6) / 10).toFixed(1)} LU`;
}

function hertzRange({ lowestHz, highestHz }: { lowestHz: number; highestHz: number }): string {
  if (lowestHz === highestHz) return `around ${hertz(lowestHz)}`;
  if (lowestHz >= 1000) return `${kilo(lowestHz)}–${kilo(highestHz)} kHz`;
  if (highestHz < 1000) return `${lowestHz}–${highestHz} Hz`;
  return `${lowestHz} Hz–${kilo(highestHz)} kHz`;
}

const hertz = (frequency: number) => (frequency >= 1000 ? `${kilo(frequency)} kHz` : `${frequency} Hz`);
const kilo = (frequency: number) => String(Math.round(frequency / 10) / 100);
const signed = (value: number) => `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(1)}`;

/** A time as people say it: `3:07`. */
export function clock(seconds: number, decimals = 0): string {
  const rounded = Number(seconds.toFixed(decimals));
  const minutes = Math.floor(rounded / 60);
  const rest = (rounded - 60 * minutes).toFixed(decimals);
  return `${minutes}:${rest.padStart(decimals > 0 ? decimals + 3 : 2, '0')}`;
}

function listed(words: readonly string[]): string {
  if (words.length < 2) return words.join('');
  return `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

function sentence(parts: readonly string[]): string {
  return `${capital(parts.join('; '))}.`;
}

function capital(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
