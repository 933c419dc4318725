import { writeFileSync } from 'node:fs';
import { storeSorting } from '../../server/triage/sort-note.ts';
import { trainModels } from '../../server/triage/train-models.ts';
import { trainingNotes, trainingPairs } from './triage-scores.ts';

/** Writes the sorting's weights from the committed notes: `tsx tests/bench/triage-train.ts`. */
const path = new URL('../../server/triage/lexicon/model.json', import.meta.url);
const stored = `${JSON.stringify(storeSorting(trainModels(trainingNotes(), trainingPairs())))}\n`;
writeFileSync(path, stored);
console.log(`${trainingNotes().length} notes, ${stored.length} bytes`);
