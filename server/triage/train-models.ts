import {
  type Direction,
  directions,
  type Level,
  type RequestKind,
  requestKinds,
} from '../domain/request-kind.ts';
import { defaultScopeSheet } from '../domain/scope-sheet.ts';
import { type BoostedTrees, growTrees, type YesNoExample } from './boosted-trees.ts';
import { type Example, train } from './classifier.ts';
import type { PlacedRequest } from './contradiction.ts';
import {
  directionClasses,
  directionFeatures,
  directionPrior,
  featuresOf,
  kindPrior,
  type Span,
  startFeatures,
  startPrior,
  wordsAlone,
} from './features.ts';
import { type Reading, read } from './reading.ts';
import { coreOf } from './request-words.ts';
import { kindsBy, type Models } from './sort-note.ts';
import { meetingRequests } from './text-comparison.ts';

/** A note that a person labelled; see the rules beside the notes. */
export interface LabelledNote {
  id: string;
  text: string;
  level: Level;
  kind: RequestKind;
  target: string | null;
  direction: Direction | null;
  place: string | null;
  parts?: {
    text_span: string;
    level: Level;
    kind: RequestKind;
    target: string | null;
    direction: Direction | null;
  }[];
}

/** The words that a verbatim part of a note covers; `null` when the note does not hold it. */
export function wordsCovered(reading: Reading, verbatim: string, after = 0): Span | null {
  let start = reading.text.indexOf(verbatim, after);
  if (start < 0) start = reading.text.indexOf(verbatim);
  if (start < 0) return null;
  const end = start + verbatim.length;
  const from = reading.words.findIndex((word) => word.end > start);
  let to = from;
  while (to < reading.words.length && reading.words[to]!.start < end) to++;
  return from < 0 || to <= from ? null : { from, to };
}

/** For each clause after the first, whether a further request of a labelled note begins there. */
export function labelledStarts(reading: Reading, note: LabelledNote): boolean[] {
  const starts = reading.clauses.map(() => false);
  let after = 0;
  for (const [index, part] of (note.parts ?? []).entries()) {
    const span = wordsCovered(reading, part.text_span, after);
    if (!span) continue;
    after = reading.words[span.to - 1]!.end;
    if (index === 0) continue;
    const clause = reading.clauses.findIndex(({ from, to }) => from <= span.from && span.from < to);
    if (clause > 0) starts[clause] = true;
  }
  return starts;
}

const joints = [
  ', ',
  ' and ',
  '. ',
  ', and ',
  ' also ',
  '\n',
  ' but ',
  '; ',
  ', also ',
  ' & ',
  ', plus ',
  ' - ',
  ' ',
  ', then ',
];
const longestJoinedWords = 14;

/**
 * Notes made of two to five short ones, for telling where one wish ends and the next begins. The note at an even place is
 * made of notes at even places, so that halves stay apart.
 */
export function joinedNotes(notes: readonly LabelledNote[], count: number): LabelledNote[] {
  const short = notes
    .map((note, index) => ({ note, half: index % 2 }))
    .filter(
      ({ note }) =>
        !note.parts &&
        !['chat', 'question'].includes(note.kind) &&
        note.text.split(/\s+/u).length <= longestJoinedWords,
    );
  const joined: LabelledNote[] = [];
  for (let index = 0; index < count; index++) {
    const here = short.filter(({ half }) => half === (notes.length + index) % 2).map(({ note }) => note);
    const wishes = here.filter((note) => note.level !== 'none');
    const pick = (step: number) => wishes[(index * step + step) % wishes.length]!;
    const steps = index % 7 === 3 ? [7, 13, 29, 41, 53] : index % 5 === 0 ? [7, 13, 29] : [7, 13];
    const chosen = steps.map(pick);
    const apart = new Set(chosen.map((note) => `${note?.kind} ${note?.target}`)).size === chosen.length;
    const pieces = chosen.map((note, at) => {
      const text = note.text.replace(/[.!,\s]+$/u, '');
      return at > 0 && index % 3 > 0
        ? text.replace(/^[A-Z](?=[a-z])/u, (letter) => letter.toLowerCase())
        : text;
    });
    const wish = pieces
      .map((piece, at) => (at > 0 ? joints[(index + at * 3) % joints.length]! : '') + piece)
      .join('');
    const praise = index % 6 === 0 ? here.filter((note) => note.kind === 'praise')[index % 11] : undefined;
    const parts = chosen.map(({ level, kind, target, direction }, at) => ({
      text_span: pieces[at]!,
      level,
      kind,
      target,
      direction,
    }));
    // Two wishes of one kind for one target may be one wish said twice.
    joined.push({
      ...chosen[0]!,
      id: `joined-${index}`,
      text: praise ? (index % 4 === 0 ? `${wish}. ${praise.text}` : `${praise.text}. ${wish}`) : wish,
      parts: apart ? parts : undefined,
    });
  }
  return joined;
}

/** In how many examples a feature must occur to be learned: what was said once may mean anything. */
const common = (name: string) =>
  name.startsWith('o:') ? 5 : name.startsWith('b:') ? 4 : /^(?:w|p|e):/u.test(name) ? 2 : 1;

/** Enough to teach where wishes part, not so many that a wish and its reason are parted too. */
const joinedCount = 400;

/**
 * A request is learned from three times: as it is; with the lexicon's concepts alone, so that they carry their own weight; and
 * with its words alone. The lexicon grew beside these notes and has a phrase for most of them; on a stranger's words it is
 * silent more often, and then the words must do. Learned so, 91 % of the held-out notes have their level right, without the
 * third 85 %.
 */
const conceptsAloneWeight = 0.2;
const wordsAloneWeight = 3;

const options = { epochs: 12, learningRate: 0.15, decay: 0.002, leastWeight: 0.2, minimumCount: common };
const kindOptions = { ...options, sparsity: 0.04 };
const directionOptions = { ...options, epochs: 25, sparsity: 0.02 };
const startOptions = {
  epochs: 25,
  learningRate: 0.1,
  decay: 0.003,
  sparsity: 0.005,
  leastWeight: 0.05,
  minimumCount: () => 2,
};
/** A clause that begins a request is rarer than one that goes on with it, and missing it costs a request. */
const startWeight = 5;

/** Two people's notes on one song; kind, target and direction only where they were labelled. */
export interface LabelledPair {
  id: string;
  a: PlacedRequest & { who?: string };
  b: PlacedRequest & { who?: string };
  conflict: boolean;
  relation: string;
}

/** The models of the sorting from labelled notes and pairs; the same ones give the same models to the byte. */
export function trainModels(notes: readonly LabelledNote[], pairs: readonly LabelledPair[]): Models {
  const sorting = trainSorting(notes);
  return { ...sorting, conflict: trainConflict(pairs, sorting) };
}

/** Learns from pairs of notes whose stretches meet, read from their words alone, without knowing who wrote them. */
function trainConflict(pairs: readonly LabelledPair[], sorting: Omit<Models, 'conflict'>): BoostedTrees {
  const context = { scopeSheet: defaultScopeSheet() };
  const models = { ...sorting, conflict: { trees: [] } };
  return growTrees(
    pairs.flatMap(({ a, b, conflict }): YesNoExample[] => {
      if (Math.min(a.end, b.end) <= Math.max(a.start, b.start)) return [];
      const met = meetingRequests({ ...a, who: null }, { ...b, who: null }, context, models);
      return met ? [{ features: met.features, yes: conflict }] : [];
    }),
  );
}

function trainSorting(notes: readonly LabelledNote[]): Omit<Models, 'conflict'> {
  const kindExamples: Example[] = [];
  const directionExamples: Example[] = [];
  const startExamples: Example[] = [];
  const kindHalves: number[] = [];
  for (const [index, note] of notes.entries()) {
    const reading = read(note.text, 'en');
    if (!reading || reading.words.length === 0) continue;
    const learn = (span: Span, kind: RequestKind, direction: Direction | null) => {
      const full = featuresOf(reading, span);
      for (const [features, weight] of [
        [full, 1],
        [featuresOf(reading, span, false), conceptsAloneWeight],
        [wordsAlone(full), wordsAloneWeight],
      ] as const) {
        kindExamples.push({ features, label: requestKinds.indexOf(kind), weight });
        kindHalves.push(index % 2);
        if (direction)
          directionExamples.push({
            features: directionFeatures(features, kind),
            label: directions.indexOf(direction),
            weight,
          });
      }
    };
    let after = 0;
    if (note.parts)
      for (const part of note.parts) {
        const span = wordsCovered(reading, part.text_span, after);
        if (!span) continue;
        after = reading.words[span.to - 1]!.end;
        learn(span, part.kind, part.direction);
      }
    else learn(coreOf(reading, { from: 0, to: reading.words.length }), note.kind, note.direction);
  }
  const trainKind = (examples: readonly Example[]) => train(requestKinds, examples, kindPrior, kindOptions);
  // A clause is shown to the model of the other half of the notes: what a model has learned by heart says nothing
  // about what it makes of new words.
  const halves = [0, 1].map((half) =>
    trainKind(kindExamples.filter((_, index) => kindHalves[index] !== half)),
  );
  for (const [index, note] of [...notes, ...joinedNotes(notes, joinedCount)].entries()) {
    const reading = read(note.text, 'en');
    if (!reading || reading.words.length === 0 || (note.id.startsWith('joined') && !note.parts)) continue;
    const starts = labelledStarts(reading, note);
    const half = halves[index % 2]!;
    // Learned twice, once by the concepts alone, as a note in another language is read.
    for (const kindsOf of [kindsBy(half), kindsBy(half, () => false)]) {
      let current: Span | null = null;
      for (const [at, clause] of reading.clauses.entries()) {
        if (!current) {
          current = { from: clause.from, to: clause.to };
          continue;
        }
        startExamples.push({
          features: startFeatures(reading, current, clause, at, kindsOf),
          label: starts[at] ? 1 : 0,
          weight: starts[at] ? startWeight : 1,
        });
        current = { from: starts[at] ? clause.from : current.from, to: clause.to };
      }
    }
  }
  return {
    kind: trainKind(kindExamples),
    direction: train(directionClasses, directionExamples, directionPrior, directionOptions),
    start: train(['same', 'another'], startExamples, startPrior, startOptions),
  };
}
