import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { hostileFiles } from '../../fixtures/hostile/hostile-files.ts';
import { measureFile } from '../../server/analysis/measure-file.ts';
import { MeasurementError } from '../../server/measurement/measurement-error.ts';

/** Proves that a bad file is a typed refusal in plain words, or measured rightly, and never a crash. */
let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('a hostile file', () => {
  it.each(hostileFiles())('$name: $code', async ({ name, bytes, code, frameCount }) => {
    const path = join(folder, name);
    await writeFile(path, bytes);
    const outcome = await measureFile(path, [], { waveform: true }).then(
      ({ measurement }) => ({ code: null, frameCount: measurement.frameCount, message: '' }),
      (error: unknown) => {
        if (!(error instanceof MeasurementError)) throw error;
        return { code: error.code, frameCount: undefined, message: error.message };
      },
    );
    expect({ code: outcome.code, frameCount: outcome.frameCount }).toEqual({ code, frameCount });
    // Three sentences at least: what happened, what is safe, what to do.
    if (code !== null) expect(outcome.message.match(/\./g)!.length).toBeGreaterThanOrEqual(3);
  });
});
