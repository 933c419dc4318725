import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { read } from '../../server/triage/reading.ts';
import { readSorting, storeSorting } from '../../server/triage/sort-note.ts';
import { trainModels, wordsCovered } from '../../server/triage/train-models.ts';
import { labelledNotes, scoresOf, sortAll, trainingNotes, trainingPairs } from '../bench/triage-scores.ts';

const stored = readFileSync(new URL('../../server/triage/lexicon/model.json', import.meta.url), 'utf8');
const models = trainModels(trainingNotes(), trainingPairs());

// Proves that the weights in use come from the committed notes by the committed script, and from nothing else.
describe('the weights', () => {
  it('are those that the committed notes give, to the byte', () => {
    expect(`${JSON.stringify(storeSorting(models))}\n` === stored).toBe(true);
  });
  it('are read back as they were stored', () => {
    const back = readSorting(JSON.parse(stored));
    expect(back.conflict).toEqual(models.conflict);
    for (const name of ['kind', 'direction', 'start'] as const) {
      expect(back[name].classes).toEqual(models[name].classes);
      const size = models[name].classes.length;
      for (const [feature, row] of models[name].features) {
        const there = back[name].features.get(feature)!;
        expect(back[name].weights.subarray(there * size, (there + 1) * size)).toEqual(
          models[name].weights.subarray(row * size, (row + 1) * size),
        );
      }
    }
  });
  it('stay under 2.5 MB', () => {
    expect(stored.length).toBeLessThan(2_500_000);
  });
});

describe('labelled notes', () => {
  it('hold their parts verbatim', () => {
    for (const note of trainingNotes())
      for (const part of note.parts ?? [])
        expect(wordsCovered(read(note.text, 'en')!, part.text_span)).not.toBeNull();
  });
});

// Proves the goals on 250 notes by a hand that knew neither lexicon nor training notes, and that neither has learned from.
describe('plain notes that were held out', () => {
  it('are sorted as the goals ask', () => {
    const scores = scoresOf(sortAll(labelledNotes('held-out-plain-notes.jsonl'), models));
    expect(scores.level).toBeGreaterThanOrEqual(0.93);
    expect(scores.productionCaught).toBeGreaterThanOrEqual(0.95);
    expect(scores.mixCalledProduction).toBeLessThanOrEqual(0.04);
    expect(scores.kind).toBeGreaterThanOrEqual(0.8);
    expect(scores.direction).toBeGreaterThanOrEqual(0.85);
    expect(scores.compoundNumber).toBeGreaterThanOrEqual(0.85);
  });
});

// 500 notes by two hands that were told to say nothing as the development set says it: the floor is what was reached.
describe('far-fetched notes that were held out', () => {
  it('are sorted no worse than they were', () => {
    const scores = scoresOf(sortAll(labelledNotes('held-out-far-notes.jsonl'), models));
    expect(scores.level).toBeGreaterThanOrEqual(0.88);
    expect(scores.kind).toBeGreaterThanOrEqual(0.78);
    expect(scores.direction).toBeGreaterThanOrEqual(0.78);
  });
});

describe.each(['de', 'es', 'fr'])('%s', (language) => {
  it('is sorted from its lexicon alone', () => {
    const scores = scoresOf(sortAll(labelledNotes(`own-notes-${language}.jsonl`), models));
    expect(scores.level).toBeGreaterThanOrEqual(0.93);
    expect(scores.kind).toBeGreaterThanOrEqual(0.9);
    expect(scores.direction).toBeGreaterThanOrEqual(0.9);
  });
});
