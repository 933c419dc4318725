import type { Span } from './features.ts';
import type { Reading } from './reading.ts';

export interface NamedSection {
  name: string;
  start: number;
  end: number;
}

/** A moment has no end. */
export interface PlaceRange {
  startSeconds: number;
  endSeconds: number | null;
}

export interface Timeline {
  sections?: readonly NamedSection[];
  tempoBpm?: number | null;
  beatsPerBar?: number | null;
  /** Where the note was pinned: of several sections of one name, the one that it lies in is meant. */
  at?: PlaceRange | null;
}

const timePattern = /^(\d{1,2}):(\d{2})/u;
const shortSection = /^(?:v|vs|vrs|verse|c|ch|chorus|hook|pre|bridge)\d{1,2}$/u;
/** Section words that are as often something else: they need “the”, “in”, “last” or the like before them. */
const doubtful = new Set([
  'drop', 'drops', 'break', 'breaks', 'build', 'head', 'top', 'end', 'start', 'stop', 'fade', 'shout', 'tag', 'middle', 'opening', 'pre', 'rap', 'solo', 'instrumental', 'beginning', 'ending', 'climax',
]); // biome-ignore format: a list of words reads as a line
const linking = new Set([
  'of',
  'in',
  'at',
  'before',
  'after',
  'for',
  'into',
  'to',
  'on',
  'der',
  'des',
  'im',
  'del',
  'de',
  'du',
  'de',
]);
const bearing = new Set([
  'from',
  'into',
  'before',
  'after',
  'under',
  'till',
  'until',
  'between',
  'right',
  'just',
  'vor',
  'nach',
  'bis',
  'antes',
  'despues',
  'hasta',
  'avant',
  'apres',
  'jusqu',
]);
const describing = new Set([
  'high',
  'low',
  'quiet',
  'loud',
  'big',
  'long',
  'soft',
  'whispery',
  'ballad',
  'rap',
  'very',
  'spoken',
  'whole',
  'hohen',
  'hohe',
  'alta',
  'haute',
]);

interface Phrase extends Span {
  plain: boolean;
}

function nounPhraseAt(reading: Reading, start: number, end: number): Phrase | null {
  const { words, lexicon } = reading;
  const { section, ordinal, unit } = lexicon.places as Record<'section' | 'ordinal' | 'unit', Set<string>>;
  let at = start;
  let described = 0;
  let ordered = 0;
  while (
    at < end &&
    (ordinal.has(words[at]!.form) || describing.has(words[at]!.form) || /^\d{1,2}$/u.test(words[at]!.form))
  ) {
    if (describing.has(words[at]!.form)) described++;
    else ordered++;
    at++;
    if (at - start > 4) return null;
  }
  const head = words[at];
  if (!head || at >= end || head.quotation) return null;
  const two = words[at + 1] && at + 1 < end ? `${head.form} ${words[at + 1]!.form}` : '';
  const previous = words[start - 1]?.form ?? '';
  const led =
    ordered + described > 0 ||
    lexicon.places.preposition!.has(previous) ||
    lexicon.grammar.stop!.has(previous);
  let to: number;
  if (section.has(two)) to = at + 2;
  else if (shortSection.test(head.form)) to = at + 1;
  else if (section.has(head.form) && (led || !doubtful.has(head.form))) to = at + 1;
  else if ((unit.has(head.form) || section.has(head.form)) && ordered + described > 0) to = at + 1;
  else if (
    /^bars?$|^takt$|^compas$|^mesure$/u.test(head.form) &&
    /^\d{1,3}$/u.test(words[at + 1]?.form ?? '')
  )
    return { from: start, to: at + 2, plain: false };
  else if (unit.has(head.form) && words[at + 1]?.quotation) to = at + 1;
  else return null;
  const number = words[to];
  if (
    number &&
    to < end &&
    section.has(words[to - 1]!.form) &&
    /^(?:[1-9]|one|two|three|four|five)$/u.test(number.form) &&
    !/[,.;\n]/u.test(number.before)
  )
    to++;
  while (
    to < end &&
    words[to]!.quotation &&
    words[to]!.quotation === (words[to - 1]!.quotation || words[to]!.quotation)
  )
    to++;
  return { from: start, to, plain: ordered + described === 0 };
}

/** The words of a span that say where, as long as they go on: “last line of the bridge”, “1:32”, “bar 40”. */
export function placeIn(reading: Reading, span: Span): Span | null {
  const { words, lexicon } = reading;
  let best: Span | null = null;
  for (let start = span.from; start < span.to; start++) {
    const word = words[start]!;
    let found: Span | null = null;
    if (timePattern.test(word.form)) found = { from: start, to: start + 1 };
    else if (
      word.quotation &&
      words[start - 1]?.quotation !== word.quotation &&
      lexicon.places.preposition!.has(words[start - 1]?.form ?? '')
    ) {
      let to = start + 1;
      while (to < span.to && words[to]!.quotation === word.quotation) to++;
      found = { from: start, to };
    } else found = nounPhraseAt(reading, start, span.to);
    if (!found) continue;
    let to = found.to;
    for (let step = 0; step < 3; step++) {
      const link = words[to];
      if (!link || to >= span.to || !linking.has(link.form) || /[,.;\n]/u.test(link.before)) break;
      let next = to + 1;
      if (next < span.to && lexicon.grammar.stop!.has(words[next]!.form) && !linking.has(words[next]!.form))
        next++;
      if (next >= span.to) break;
      const more = timePattern.test(words[next]!.form)
        ? { to: next + 1 }
        : nounPhraseAt(reading, next, span.to);
      if (!more) break;
      to = more.to;
    }
    let from = found.from;
    while (
      from - 1 >= span.from &&
      lexicon.grammar.stop!.has(words[from - 1]!.form) &&
      bearing.has(words[from - 2]?.form ?? '') &&
      from - 2 >= span.from
    )
      from -= 2;
    while (from - 1 >= span.from && bearing.has(words[from - 1]!.form)) from--;
    best = { from, to };
    break;
  }
  return best;
}

const ordinals: readonly (readonly [RegExp, number])[] = [
  [/^(?:first|1st|one|1|erste[nrsm]?|primer[ao]?|premier|premiere)$/u, 1],
  [/^(?:second|2nd|two|2|zweite[nrsm]?|segund[ao]|deuxieme|second[e]?)$/u, 2],
  [/^(?:third|3rd|three|3|dritte[nrsm]?|tercer[ao]?|troisieme)$/u, 3],
  [/^(?:fourth|4th|four|4|vierte[nrsm]?|cuart[ao]|quatrieme)$/u, 4],
  [/^(?:fifth|5th|five|5|funfte[nrsm]?|quint[ao]|cinquieme)$/u, 5],
  [/^(?:last|final|letzte[nrsm]?|ultim[ao]|dernier|derniere)$/u, -1],
];

const sectionNames: readonly (readonly [RegExp, RegExp])[] = [
  [/^(?:v\d*|vs\d*|vrs\d*|verses?\d*|vers|strophen?|estrofas?|versos?|couplets?)$/u, /^verse\b/u],
  [/^(?:pre|prechorus|pre-chorus)$/u, /^pre/u],
  [
    /^(?:c\d*|ch\d*|chorus(?:es)?\d*|hooks?\d*|refrain|refrains|estribillos?|coros?)$/u,
    /^(?:chorus|hook|refrain)\b/u,
  ],
  [/^(?:bridges?|middle|mid|brucke|puente|pont)$/u, /^(?:bridge|middle)/u],
  [/^(?:intro|start|beginning|opening|top|anfang|inicio|debut)$/u, /^intro/u],
  [/^(?:outro|ending|end|ende|schluss|final|fin)$/u, /^(?:outro|ending|end|coda|vamp)/u],
  [/^(?:breakdowns?|breaks?)$/u, /^break/u],
  [/^drops?$/u, /^drop/u],
  [/^(?:build|buildup)$/u, /^build/u],
  [/^solos?$/u, /solo/u],
  [/^interludes?$/u, /^interlude/u],
];

/**
 * Where in the song the words of a place are: a moment for a time, a bar by the tempo, a section by its name, or a half
 * of one. Of several sections that the words fit, the one that the note was pinned in is meant. Words that fit none, or
 * that still fit several, give `null`: what lies between two choruses is no chorus.
 */
export function rangeOf(reading: Reading, place: Span, timeline: Timeline): PlaceRange | null {
  const forms = reading.words.slice(place.from, place.to).map((word) => word.form);
  const times = forms.flatMap((form) => {
    const match = timePattern.exec(form);
    return match ? [Number(match[1]) * 60 + Number(match[2])] : [];
  });
  if (times.length > 0)
    return {
      startSeconds: times[0]!,
      endSeconds: times.length > 1 && times[1]! > times[0]! ? times[1]! : null,
    };
  const bar = forms.findIndex((form) => /^(?:bars?|takt|compas|mesure)$/u.test(form));
  const number = bar >= 0 ? Number(forms[bar + 1]) : Number.NaN;
  if (number >= 1 && timeline.tempoBpm && timeline.tempoBpm > 0) {
    const barSeconds = ((timeline.beatsPerBar || 4) * 60) / timeline.tempoBpm;
    return { startSeconds: (number - 1) * barSeconds, endSeconds: number * barSeconds };
  }
  const half = halfIn(forms);
  for (const [index, form] of [...forms.entries()].reverse()) {
    const kind = sectionNames.find(([typed]) => typed.test(form));
    if (!kind) continue;
    const named = (timeline.sections ?? []).filter((section) =>
      kind[1].test(section.name.trim().toLowerCase()),
    );
    if (named.length === 0) continue;
    const digits = /\d+$/u.exec(form)?.[0];
    const near = [forms[index - 1] ?? '', forms[index + 1] ?? '', ...(digits ? [digits] : [])];
    const wanted = near.map(ordinalOf).find((place) => place !== null) ?? null;
    const pinned = plurals.test(form) ? null : (timeline.at ?? null);
    const section = sectionMeant(named, wanted, pinned);
    return section && partOf(section, half);
  }
  return null;
}

/** “The choruses” are all of them, wherever the note is pinned. */
const plurals =
  /^(?:choruses|verses|hooks|refrains|bridges|solos|drops|strophen|estrofas|couplets|estribillos)$/u;
const halfWords = /^(?:half|halfte|mitad|moitie)$/u;

/** “The second half of”: which half is meant, 1 or 2; `null` where none is. */
function halfIn(forms: readonly string[]): 1 | 2 | null {
  const at = forms.findIndex((form) => halfWords.test(form));
  if (at < 0) return null;
  const place = ordinalOf(forms[at - 1] ?? '');
  return place === 1 ? 1 : place === 2 || place === -1 ? 2 : null;
}

function ordinalOf(form: string): number | null {
  return ordinals.find(([typed]) => typed.test(form))?.[1] ?? null;
}

function sectionMeant(
  named: readonly NamedSection[],
  wanted: number | null,
  at: PlaceRange | null,
): NamedSection | null {
  if (wanted === -1) return named.at(-1)!;
  if (wanted !== null)
    return (
      named.find((section) => new RegExp(`\\b${wanted}$`, 'u').test(section.name.trim())) ??
      named[wanted - 1] ??
      null
    );
  if (named.length === 1) return named[0]!;
  return (at && named.find(({ start, end }) => at.startSeconds >= start && at.startSeconds < end)) ?? null;
}

function partOf({ start, end }: NamedSection, half: 1 | 2 | null): PlaceRange {
  const middle = (start + end) / 2;
  return { startSeconds: half === 2 ? middle : start, endSeconds: half === 1 ? middle : end };
}
