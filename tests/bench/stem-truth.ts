/**
 * Prints, case by case, what the comparison says of each stem where the truth is known.
 * `tsx tests/bench/stem-truth.ts [demo]`: `demo` takes the demo record's stems instead of the tests' own small song.
 */
import { faderCase, gainErrorDb, judge, type StemTruth, stemCases } from '../comparison/stem-truth.ts';
import { type Song, synthesiseSong } from '../comparison/synthetic-song.ts';
import { demoRecordSong } from './demo-record-song.ts';

const demo = process.argv.includes('demo');
const song = demo ? demoRecordSong() : synthesiseSong();
const section = demo ? 4 : 2;

function* cases(one: Song): Generator<StemTruth> {
  for (const { name } of one.parts)
    for (const amountDb of [0.5, -0.5, 1, -1, 2, -2]) yield faderCase(one, section, name, amountDb);
  yield* stemCases(one, section);
}

console.log('Case'.padEnd(64), 'worst error', 'told', '  unexplained');
for (const truth of cases(song)) {
  const found = await judge(song, truth);
  const { worstDb, told } = gainErrorDb(truth, found);
  const { unexplainedDb, sentence } = found.sections[section]!;
  const left = [unexplainedDb.a, unexplainedDb.b]
    .map((level) => (level === null ? '–' : level.toFixed(0)))
    .join(' / ');
  console.log(
    truth.name.padEnd(64),
    `${worstDb.toFixed(4)} dB`.padStart(11),
    String(told).padStart(4),
    left.padStart(13),
  );
  console.log(`    ${sentence}`);
  const sum = found.sums.a ?? found.sums.b;
  if (sum && sum.reading !== 'rounding') console.log(`    ${sum.sentence}`);
}
