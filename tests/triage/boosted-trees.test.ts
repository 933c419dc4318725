import { describe, expect, it } from 'vitest';
import { chanceOfYes, growTrees, type YesNoExample } from '../../server/triage/boosted-trees.ts';

const example = (yes: boolean, features: Record<string, number> = {}): YesNoExample => ({
  features: new Map(Object.entries(features)),
  yes,
});
const times = <T>(count: number, make: (index: number) => T): T[] =>
  Array.from({ length: count }, (_, i) => make(i));

// Expected values by the definition: with nothing to split by, the log-odds go to those of the share of yes.
describe('boosted trees', () => {
  it('say one half where nothing was learned', () => {
    expect(chanceOfYes(growTrees([]), new Map())).toBe(0.5);
  });
  it('go to the share of yes where nothing tells the examples apart', () => {
    const trees = growTrees(times(400, (index) => example(index % 4 > 0)));
    expect(chanceOfYes(trees, new Map())).toBeCloseTo(0.75, 1);
  });
  it('learn what only two features together tell', () => {
    const trees = growTrees(
      times(400, (index) => {
        const [a, b] = [index % 2, (index >> 1) % 2];
        return example(a !== b, { a, b: b + (index % 5) / 100 });
      }),
    );
    const chance = (a: number, b: number) => chanceOfYes(trees, new Map(Object.entries({ a, b })));
    expect(Math.max(chance(0, 0), chance(1, 1))).toBeLessThan(0.25);
    expect(Math.min(chance(0, 1), chance(1, 0))).toBeGreaterThan(0.75);
  });
  it('are the same every time', () => {
    const examples = times(60, (index) => example(index % 3 === 0, { a: index % 7, b: index % 4 }));
    expect(growTrees(examples)).toEqual(growTrees(examples));
  });
});
