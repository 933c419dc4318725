import { parseArgs } from 'node:util';
import { fuzzReaders } from './fuzz-readers.ts';

/**
 * Looks for files that break the audio readers: `npm run fuzz -- --minutes 5 --seed 7`. A case that was found is seen
 * again with `--seed S --case N`. Ends with 1 where something was found.
 */
const { values } = parseArgs({
  options: { seed: { type: 'string' }, minutes: { type: 'string', default: '1' }, case: { type: 'string' } },
});
const seed = Number(values.seed ?? Date.now() % 1_000_000);
const minutes = Number(values.minutes);
const onlyCase = values.case === undefined ? undefined : Number(values.case);
if (![seed, minutes, onlyCase ?? 0].every(Number.isFinite)) {
  console.error('Usage: npm run fuzz -- [--seed N] [--minutes N] [--case N]');
  process.exit(2);
}
console.log(`seed ${seed}`);
const { cases, outcomes, findings } = await fuzzReaders({
  seed,
  seconds: minutes * 60,
  onlyCase,
  onFinding: ({ kind, caseNumber, detail, path }) =>
    console.log(`${kind}: seed ${seed}, case ${caseNumber}, ${path}\n  ${detail.replaceAll('\n', '\n  ')}`),
});
console.log(`${cases} cases, ${findings.length} found`);
for (const [kind, count] of Object.entries(outcomes).sort(([, one], [, other]) => other - one)) {
  console.log(`  ${kind.padEnd(20)} ${count}`);
}
process.exit(findings.length > 0 ? 1 : 0);
