import {
  type Direction,
  directions,
  type Level,
  type RequestKind,
  requestKinds,
} from '../domain/request-kind.ts';
import { type Example, type StoredModel, storeModel, train } from './classifier.ts';
import {
  directionClasses,
  directionFeatures,
  directionPrior,
  featuresOf,
  kindPrior,
  type Span,
  startFeatures,
  startPrior,
} from './features.ts';
import { type Reading, read } from './reading.ts';
import type { Models } from './sort-note.ts';

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

const common = (name: string) => (/^(?:w|b|p|e|o):/u.test(name) ? 2 : 1);

/** Trains the three models of the sorting from labelled notes; the same notes give the same models to the byte. */
export function trainModels(notes: readonly LabelledNote[]): Models {
  const kindExamples: Example[] = [];
  const directionExamples: Example[] = [];
  const startExamples: Example[] = [];
  for (const note of notes) {
    const reading = read(note.text, 'en');
    if (!reading || reading.words.length === 0) continue;
    const learn = (span: Span, kind: RequestKind, direction: Direction | null) => {
      const full = featuresOf(reading, span);
      const bare = featuresOf(reading, span, false);
      const label = requestKinds.indexOf(kind);
      // Learned twice, once without the words themselves, so that the lexicon's concepts carry their own weight.
      kindExamples.push({ features: full, label, weight: 1 }, { features: bare, label, weight: 0.5 });
      if (direction)
        for (const [features, weight] of [
          [full, 1],
          [bare, 0.5],
        ] as const)
          directionExamples.push({
            features: directionFeatures(features, kind),
            label: directions.indexOf(direction),
            weight,
          });
    };
    let after = 0;
    if (note.parts)
      for (const part of note.parts) {
        const span = wordsCovered(reading, part.text_span, after);
        if (!span) continue;
        after = reading.words[span.to - 1]!.end;
        learn(span, part.kind, part.direction);
      }
    else learn({ from: 0, to: reading.words.length }, note.kind, note.direction);
    const starts = labelledStarts(reading, note);
    let current: Span | null = null;
    for (const [index, clause] of reading.clauses.entries()) {
      if (!current) {
        current = { from: clause.from, to: clause.to };
        continue;
      }
      startExamples.push({
        features: startFeatures(reading, current, clause, index),
        label: starts[index] ? 1 : 0,
        weight: 1,
      });
      current = { from: starts[index] ? clause.from : current.from, to: clause.to };
    }
  }
  return {
    kind: train(requestKinds, kindExamples, kindPrior, {
      epochs: 30,
      learningRate: 0.15,
      decay: 0.002,
      minimumCount: common,
    }),
    direction: train(directionClasses, directionExamples, directionPrior, {
      epochs: 25,
      learningRate: 0.15,
      decay: 0.002,
      minimumCount: common,
    }),
    start: train(['same', 'another'], startExamples, startPrior, {
      epochs: 25,
      learningRate: 0.1,
      decay: 0.003,
      minimumCount: () => 2,
    }),
  };
}

export const storeModels = (models: Models): Record<keyof Models, StoredModel> => ({
  kind: storeModel(models.kind),
  direction: storeModel(models.direction),
  start: storeModel(models.start),
});
