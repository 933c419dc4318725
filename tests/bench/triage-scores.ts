import { readFileSync } from 'node:fs';
import { defaultScopeSheet } from '../../server/domain/scope-sheet.ts';
import { type Models, type SortedNote, sortNote } from '../../server/triage/sort-note.ts';
import { type LabelledNote, type LabelledPair, trainModels } from '../../server/triage/train-models.ts';

const lines = <T>(file: string): T[] =>
  readFileSync(new URL(`../../fixtures/notes/${file}`, import.meta.url), 'utf8')
    .split('\n')
    .filter(Boolean)
    .map((line) => JSON.parse(line) as T);

type WrittenNote = Pick<LabelledNote, 'id' | 'text' | 'kind'> & Partial<LabelledNote>;

/** Our own files leave out what is empty, and the level, which follows from the kind. */
const complete = <T extends Pick<WrittenNote, 'kind'>>(written: T) => ({
  level: defaultScopeSheet()[written.kind].level,
  target: null,
  direction: null,
  ...written,
});

export const labelledNotes = (file: string): LabelledNote[] =>
  lines<WrittenNote>(file).map((note) => ({
    place: null,
    ...complete(note),
    ...(note.parts && { parts: note.parts.map(complete) }),
  }));

/** Every labelled note that the weights are made from, in a fixed order. */
export const trainingNotes = (): LabelledNote[] => [
  ...labelledNotes('notes.jsonl'),
  ...labelledNotes('own-notes.jsonl'),
];

export const labelledPairs = (file: string): LabelledPair[] => lines(file);

/** Every labelled pair that the weights are made from. */
export const trainingPairs = (): LabelledPair[] => [
  ...labelledPairs('conflicts.jsonl'),
  ...labelledPairs('own-conflicts.jsonl'),
];

export interface Outcome {
  note: LabelledNote;
  sorted: SortedNote;
}

export const sortAll = (notes: readonly LabelledNote[], models: Models): Outcome[] =>
  notes.map((note) => ({ note, sorted: sortNote(note.text, { scopeSheet: defaultScopeSheet() }, models) }));

/** One fold of the development set, sorted by a model trained on the other folds and on our own notes. */
export const heldOutFold = (
  development: readonly LabelledNote[],
  own: readonly LabelledNote[],
  folds: number,
  fold: number,
): Outcome[] =>
  sortAll(
    development.filter((_, index) => index % folds === fold),
    trainModels([...own, ...development.filter((_, index) => index % folds !== fold)], []),
  );

export const crossValidated = (
  development: readonly LabelledNote[],
  own: readonly LabelledNote[],
  folds: number,
): Outcome[] => Array.from({ length: folds }, (_, fold) => heldOutFold(development, own, folds, fold)).flat();

export interface Scores {
  level: number;
  productionCaught: number;
  mixCalledProduction: number;
  kind: number;
  direction: number;
  singleNumber: number;
  compoundNumber: number;
  target: number;
  place: number;
}

const share = <T>(all: readonly T[], good: (one: T) => boolean) =>
  all.length === 0 ? Number.NaN : all.filter(good).length / all.length;

export function scoresOf(outcomes: readonly Outcome[]): Scores {
  const at = (level: string) => outcomes.filter(({ note }) => note.level === level);
  return {
    level: share(outcomes, ({ note, sorted }) => note.level === sorted.level),
    productionCaught: share(at('production'), ({ sorted }) => sorted.level === 'production'),
    mixCalledProduction: share(at('mix'), ({ sorted }) => sorted.level === 'production'),
    kind: share(outcomes, ({ note, sorted }) => note.kind === sorted.kind),
    direction: share(outcomes, ({ note, sorted }) => note.direction === sorted.direction),
    singleNumber: share(
      outcomes.filter(({ note }) => !note.parts),
      ({ sorted }) => sorted.requests.length === 1,
    ),
    compoundNumber: share(
      outcomes.filter(({ note }) => note.parts),
      ({ note, sorted }) => note.parts!.length === sorted.requests.length,
    ),
    target: share(
      outcomes.filter(({ note }) => note.target && note.level !== 'none'),
      ({ note, sorted }) => note.target === sorted.target,
    ),
    place: share(
      outcomes,
      ({ note, sorted }) => (note.place ?? '').toLowerCase() === (sorted.place ?? '').toLowerCase(),
    ),
  };
}

export function pairScores(pairs: readonly LabelledPair[], judge: (pair: LabelledPair) => boolean) {
  let found = 0;
  let wrong = 0;
  let missed = 0;
  for (const pair of pairs) {
    const conflict = judge(pair);
    if (conflict && pair.conflict) found++;
    else if (conflict) wrong++;
    else if (pair.conflict) missed++;
  }
  return { precision: found / (found + wrong), recall: found / (found + missed) };
}
