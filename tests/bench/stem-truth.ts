/**
 * Prints, case by case, what the comparison says of each stem where the truth is known.
 * `tsx tests/bench/stem-truth.ts [demo]`: `demo` takes the demo record's stems instead of the tests' own small song.
 */

import { gainErrorDb, judge, stemCases } from '../comparison/stem-truth.ts';
import { synthesiseSong } from '../comparison/synthetic-song.ts';

const song = synthesiseSong({ bars: 20, barsInSection: 4 });
const section = 2;
console.log('Case'.padEnd(56), 'worst error', 'told', ' unexplained');
for (const truth of stemCases(song, section)) {
  const found = await judge(song, truth);
  const { worstDb, told } = gainErrorDb(truth, found);
  const { unexplainedDb, sentence } = found.sections[section]!;
  const left = [unexplainedDb.a, unexplainedDb.b].map((level) => (level === null ? '–' : level.toFixed(0)));
  console.log(
    truth.name.padEnd(56),
    `${worstDb.toFixed(4)} dB`.padStart(11),
    String(told).padStart(4),
    left.join(' / ').padStart(12),
  );
  console.log(`    ${sentence}`);
  const [first] = [found.sums.a, found.sums.b].filter((sum) => sum !== null);
  if (first!.reading !== 'rounding' && first!.reading !== 'identical') console.log(`    ${first!.sentence}`);
}
