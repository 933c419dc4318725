import { readFileSync } from 'node:fs';
import { defaultScopeSheet } from '../../server/domain/scope-sheet.ts';
import { type Models, type SortedNote, sortNote } from '../../server/triage/sort-note.ts';
import type { LabelledNote } from '../../server/triage/train-models.ts';

export function labelledNotes(file: string): LabelledNote[] {
  return readFileSync(new URL(`../../fixtures/notes/${file}`, import.meta.url), 'utf8')
    .split('\n')
    .filter(Boolean)
    .map((line) => JSON.parse(line) as LabelledNote);
}

export interface Outcome {
  note: LabelledNote;
  sorted: SortedNote;
}

export const sortAll = (notes: readonly LabelledNote[], models: Models): Outcome[] =>
  notes.map((note) => ({ note, sorted: sortNote(note.text, { scopeSheet: defaultScopeSheet() }, models) }));

export interface Scores {
  level: number;
  productionCaught: number;
  mixCalledProduction: number;
  kind: number;
  direction: number;
  rightNumber: number;
  compoundNumber: number;
  target: number;
  place: number;
}

const share = <T>(all: readonly T[], good: (one: T) => boolean) =>
  all.length === 0 ? Number.NaN : all.filter(good).length / all.length;

export function scoresOf(outcomes: readonly Outcome[]): Scores {
  const compound = outcomes.filter(({ note }) => note.parts);
  return {
    level: share(outcomes, ({ note, sorted }) => note.level === sorted.level),
    productionCaught: share(
      outcomes.filter(({ note }) => note.level === 'production'),
      ({ sorted }) => sorted.level === 'production',
    ),
    mixCalledProduction: share(
      outcomes.filter(({ note }) => note.level === 'mix'),
      ({ sorted }) => sorted.level === 'production',
    ),
    kind: share(outcomes, ({ note, sorted }) => note.kind === sorted.kind),
    direction: share(outcomes, ({ note, sorted }) => note.direction === sorted.direction),
    rightNumber: share(outcomes, ({ note, sorted }) => (note.parts?.length ?? 1) === sorted.requests.length),
    compoundNumber: share(compound, ({ note, sorted }) => note.parts!.length === sorted.requests.length),
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

/** Every labelled note that the weights are made from, in a fixed order. */
export const trainingNotes = (): LabelledNote[] => [
  ...labelledNotes('notes.jsonl'),
  ...labelledNotes('own-notes.jsonl'),
];
