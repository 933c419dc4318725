import { expect, it } from 'vitest';
import { fuzzReaders } from './fuzz-readers.ts';

/** Proves, on as many mutated files as a few seconds allow, that each is measured or refused with a typed error. */
it('no mutated file breaks the readers', async () => {
  const { cases, findings, outcomes } = await fuzzReaders({ seed: 20_261_126, cases: 250, seconds: 60 });
  expect(findings).toEqual([]);
  expect(cases).toBeGreaterThan(100);
  // Files that still play, and files that do not, are both among them.
  expect(outcomes).toMatchObject({
    measured: expect.any(Number),
    truncated: expect.any(Number),
    damaged: expect.any(Number),
  });
});
