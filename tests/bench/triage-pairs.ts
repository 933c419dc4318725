import { readFileSync } from 'node:fs';
import { findContradiction } from '../../server/triage/contradiction.ts';
import { compareTexts } from '../../server/triage/text-comparison.ts';

for (const file of ['conflicts.jsonl', 'own-conflicts.jsonl']) {
  let text: string;
  try {
    text = readFileSync(new URL(`../../fixtures/notes/${file}`, import.meta.url), 'utf8');
  } catch {
    continue;
  }
  for (const mode of ['labelled', 'text'] as const) {
    let tp = 0,
      fp = 0,
      fn = 0,
      n = 0;
    for (const line of text.split('\n').filter(Boolean)) {
      const p = JSON.parse(line);
      if (mode === 'labelled' && !p.a.kind) continue;
      n++;
      const strip = (x: any) => ({
        text: x.text,
        start: x.start,
        end: x.end,
        who: process.env.WHO ? x.who : null,
      });
      const r = mode === 'labelled' ? findContradiction(p.a, p.b) : compareTexts(strip(p.a), strip(p.b));
      if (r.conflict && p.conflict) tp++;
      else if (r.conflict) fp++;
      else if (p.conflict) fn++;
      if (r.conflict !== p.conflict && process.env.SHOW)
        console.log(mode, p.id, p.relation, '|', p.a.text, '|', p.b.text, '|', r.relation, r.why);
    }
    console.log(
      file,
      mode,
      n,
      'precision',
      (tp / (tp + fp)).toFixed(3),
      'recall',
      (tp / (tp + fn)).toFixed(3),
    );
  }
}
