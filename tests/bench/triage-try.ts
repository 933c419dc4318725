import { existsSync } from 'node:fs';
import { untrainedModels } from '../../server/triage/sort-note.ts';
import { trainModels } from '../../server/triage/train-models.ts';
import { labelledNotes, type Outcome, scoresOf, sortAll } from './triage-scores.ts';

const dev = labelledNotes('notes.jsonl');
const own = existsSync(new URL('../../fixtures/notes/own-notes.jsonl', import.meta.url))
  ? labelledNotes('own-notes.jsonl')
  : [];
const folds = Number(process.env.FOLDS ?? 5);
const mode = process.argv[2] ?? 'cv';
let out: Outcome[] = [];
const t = Date.now();
if (mode === 'none') out = sortAll(dev, untrainedModels());
if (mode === 'own') out = sortAll(dev, trainModels(own));
if (mode === 'cv')
  for (let f = 0; f < folds; f++)
    out.push(
      ...sortAll(
        dev.filter((_, i) => i % folds === f),
        trainModels([...own, ...dev.filter((_, i) => i % folds !== f)]),
      ),
    );
if (mode === 'rev') out = sortAll(own, trainModels(dev));
if (mode === 'tail') {
  const n = Number(process.argv[3]);
  out = sortAll(own.slice(-n), trainModels([...dev, ...own.slice(0, -n)]));
}
console.log(
  Object.entries(scoresOf(out))
    .map(([k, v]) => `${k} ${(v * 100).toFixed(1)}`)
    .join('  '),
  Date.now() - t,
  'ms',
);
if (process.env.SHOW)
  for (const { note, sorted } of out) {
    const n = note.parts?.length ?? 1;
    const bad = [
      note.level !== sorted.level ? 'LEVEL' : '',
      note.kind !== sorted.kind ? 'kind' : '',
      note.direction !== sorted.direction ? 'dir' : '',
      n !== sorted.requests.length ? `split ${n}>${sorted.requests.length}` : '',
      process.env.SHOW === 'target' && note.level !== 'none' && note.target !== sorted.target ? 'target' : '',
      process.env.SHOW === 'place' && note.place !== sorted.place ? 'place' : '',
    ].filter(Boolean);
    if (bad.length)
      console.log(
        note.id,
        bad.join(' '),
        '|',
        note.text,
        '\n    gold',
        note.kind,
        note.direction,
        note.target,
        '@',
        note.place,
        '\n    got ',
        sorted.kind,
        sorted.direction,
        sorted.target,
        '@',
        sorted.place,
        sorted.confidence.toFixed(2),
        n !== sorted.requests.length || n > 1
          ? sorted.requests.map((r) => `[${r.kind}: ${r.text}]`).join(' ')
          : '',
      );
  }
