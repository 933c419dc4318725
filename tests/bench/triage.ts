import { readFileSync } from 'node:fs';
import { type RequestKind, requestKinds } from '../../server/domain/request-kind.ts';
import { defaultScopeSheet } from '../../server/domain/scope-sheet.ts';
import { findContradiction } from '../../server/triage/contradiction.ts';
import { type Models, sortNote } from '../../server/triage/sort-note.ts';
import { compareTexts } from '../../server/triage/text-comparison.ts';
import { type LabelledPair, trainModels } from '../../server/triage/train-models.ts';
import {
  crossValidated,
  labelledNotes,
  labelledPairs,
  type Outcome,
  pairScores,
  type Scores,
  scoresOf,
  sortAll,
  trainingPairs,
} from './triage-scores.ts';

/**
 * `tsx tests/bench/triage.ts [FOLDS]` prints how well notes are sorted. The development set is never scored by a model that
 * has seen the note in question: it is split in folds, and each fold is sorted by a model trained on all the others and on
 * our own notes. The lexicon was written with the development set in view, so notes from other hands will score lower.
 */
const folds = Number(process.argv[2] ?? 5);

const goals: [keyof Scores, string, string][] = [
  ['level', 'level right', '≥ 93 %'],
  ['productionCaught', 'production-level requests caught', '≥ 95 %'],
  ['mixCalledProduction', 'mix notes called production', '≤ 4 %'],
  ['kind', 'kind right', '≥ 80 %'],
  ['direction', 'direction right', '≥ 85 %'],
  ['compoundNumber', 'compound notes in the right number of requests', '≥ 85 %'],
  ['singleNumber', 'single notes left whole', ''],
  ['target', 'target in the same words', ''],
  ['place', 'place in the same words', ''],
];

const percent = (share: number) => `${(share * 100).toFixed(1)} %`.padStart(8);

function table(columns: [string, Scores][]) {
  console.log(`${''.padEnd(50)}${columns.map(([name]) => name.padStart(16)).join('')}   goal`);
  for (const [key, name, goal] of goals)
    console.log(
      `${name.padEnd(50)}${columns.map(([, scores]) => percent(scores[key]).padStart(16)).join('')}   ${goal}`,
    );
}

function confusion(outcomes: readonly Outcome[]) {
  const short = (kind: RequestKind) =>
    kind.replace('overall', 'o').replace('reference-match', 'ref').slice(0, 7);
  const count = new Map<string, number>();
  for (const { note, sorted } of outcomes) {
    const cell = `${note.kind} ${sorted.kind}`;
    count.set(cell, (count.get(cell) ?? 0) + 1);
  }
  console.log(
    `\nrows: labelled kind, columns: sorted as\n${''.padEnd(8)}${requestKinds.map((kind) => short(kind).padStart(8)).join('')}`,
  );
  for (const row of requestKinds)
    console.log(
      short(row).padEnd(8) +
        requestKinds.map((column) => String(count.get(`${row} ${column}`) ?? '·').padStart(8)).join(''),
    );
}

const development = labelledNotes('notes.jsonl');
const own = labelledNotes('own-notes.jsonl');
const validated = crossValidated(development, own, folds);
table([
  [`${folds} folds`, scoresOf(validated)],
  ['own notes only', scoresOf(sortAll(development, trainModels(own, [])))],
]);
confusion(validated);

const models: Models = trainModels([...development, ...own], trainingPairs());
console.log('\nheld out: by hands that knew neither lexicon nor training notes');
table(
  ['plain', 'far'].map((manner) => [
    manner,
    scoresOf(sortAll(labelledNotes(`held-out-${manner}-notes.jsonl`), models)),
  ]),
);
console.log('\nother languages: lexicon alone, our own notes');
table(
  ['de', 'es', 'fr'].map((language) => [
    language,
    scoresOf(sortAll(labelledNotes(`own-notes-${language}.jsonl`), models)),
  ]),
);

console.log('\ncontradictions'.padEnd(51) + 'precision'.padStart(16) + 'recall'.padStart(16));
const pairs: [string, LabelledPair[], (pair: LabelledPair) => boolean][] = [
  [
    'development pairs, as labelled',
    labelledPairs('conflicts.jsonl'),
    ({ a, b }) => findContradiction(a, b).conflict,
  ],
  [
    'development pairs, from their words',
    labelledPairs('conflicts.jsonl'),
    ({ a, b }) => compareTexts({ ...a, who: null }, { ...b, who: null }).conflict,
  ],
  ...['plain', 'far'].map((manner): [string, LabelledPair[], (pair: LabelledPair) => boolean] => [
    `held-out ${manner} pairs, from their words`,
    labelledPairs(`held-out-${manner}-conflicts.jsonl`),
    ({ a, b }) => compareTexts({ ...a, who: null }, { ...b, who: null }).conflict,
  ]),
];
for (const [name, list, judge] of pairs) {
  const { precision, recall } = pairScores(list, judge);
  console.log(name.padEnd(50) + percent(precision).padStart(16) + percent(recall).padStart(16));
}

const context = { scopeSheet: defaultScopeSheet() };
for (const { text } of development) sortNote(text, context);
const times = development
  .map(({ text }) => {
    const start = performance.now();
    sortNote(text, context);
    return performance.now() - start;
  })
  .sort((a, b) => a - b);
const bytes = readFileSync(new URL('../../server/triage/lexicon/model.json', import.meta.url)).length;
console.log(
  `\na note: median ${times[200]!.toFixed(2)} ms, 99 of 100 under ${times[396]!.toFixed(2)} ms; weights ${(bytes / 1000).toFixed(0)} kB`,
);
