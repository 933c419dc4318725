/**
 * Prints, case by case, what the comparison finds where the truth is known: pairs of mixes made of parts, with one
 * difference each. `tsx tests/bench/comparison-truth.ts [demo]`: `demo` takes the demo record's stems instead of the
 * tests' own small song.
 */
import { compareSounds } from '../../server/measurement/comparison.ts';
import { type Song, synthesiseSong } from '../comparison/synthetic-song.ts';
import { faderCases, otherCases, type TruthCase } from '../comparison/truth-case.ts';
import { scoreOf, scoreTable, scoreTotals, type TruthScore } from '../comparison/truth-score.ts';

async function demoSong(): Promise<Song> {
  const { renderSong } = await import('../../fixtures/demo/render.ts');
  const { demoSong: scenarioSong } = await import('../../fixtures/demo/scenario.ts');
  const scenario = scenarioSong('third');
  const { stems, frameCount, sampleRateHz } = renderSong('third');
  return {
    sampleRateHz,
    frames: frameCount,
    barSeconds: (60 / scenario.tempoBpm) * scenario.beatsPerBar,
    sections: scenario.sections.map(({ name, start, end }) => ({ name, start, end })),
    parts: [...stems].map(([name, stem]) => ({
      name,
      left: Float64Array.from(stem[0]),
      right: Float64Array.from(stem[1]),
    })),
  };
}

function score(song: Song, truth: TruthCase): TruthScore {
  const comparison = compareSounds(
    { channels: truth.a, sampleRateHz: song.sampleRateHz },
    { channels: truth.b, sampleRateHz: truth.sampleRateHzB },
    song.sections,
  );
  return scoreOf(song, truth, comparison);
}

async function main() {
  const demo = process.argv.includes('demo');
  const song = demo ? await demoSong() : synthesiseSong();
  const index = demo ? 4 : 2;
  const others = [...otherCases(song, index)].map((truth) => score(song, truth));
  console.log(scoreTable(others));
  for (const { name, said } of others) console.log(`  ${name}: ${said}`);
  console.log(`\n${scoreTotals('One of each', others)}\n`);
  const sections = song.sections.map((_, place) => place);
  for (const amountDb of [0.5, 1, 2]) {
    const scores: TruthScore[] = [];
    for (const truth of faderCases(song, sections, [amountDb, -amountDb])) scores.push(score(song, truth));
    console.log(scoreTable(scores));
    console.log(`\n${scoreTotals(`Faders ±${amountDb} dB`, scores)}\n`);
  }
}

await main();
