import { fileURLToPath } from 'node:url';
import Tinypool from 'tinypool';
import {
  type ComparedSound,
  type Comparison,
  type ComparisonOptions,
  comparisonSteps,
  measureShared,
  type SharedSound,
} from '../measurement/comparison.ts';
import type { Measurement, SectionSpan } from '../measurement/measurement.ts';
import { readSound } from './read-sound.ts';

export interface FileComparisonOptions extends ComparisonOptions {
  /** Threads that may work on it: a second one reads the older version, and measures both. */
  threadCount?: 1 | 2;
}

/**
 * Compares two stored versions of a song. Both are held in memory while they are compared.
 *
 * @param pathA The older version.
 * @param pathB The newer one. Differences are B less A.
 * @param sections In seconds of B; without any, the places that changed and what lies between them.
 * @throws ComparisonError, MeasurementError, AudioFileError
 */
export async function compareFiles(
  pathA: string,
  pathB: string,
  sections: readonly SectionSpan[],
  { onProgress = () => {}, tempo = null, threadCount = 1 }: FileComparisonOptions = {},
): Promise<Comparison> {
  const beside = threadCount === 2 ? secondThread() : thisThread;
  try {
    const readingA = beside.readSound(pathA);
    readingA.catch(() => {});
    const b = await readSound(pathB);
    onProgress(0.05);
    const a = await readingA;
    onProgress(0.1);
    const measure = (sound: SharedSound) => {
      const measuring = beside.measure(sound);
      measuring.catch(() => {});
      return measuring;
    };
    const steps = comparisonSteps(a, b, sections, measure, {
      onProgress: (share) => onProgress(0.1 + 0.9 * share),
      tempo,
    });
    let step = steps.next();
    while (!step.done) step = steps.next(await Promise.all(step.value));
    return step.value;
  } finally {
    await beside.close();
  }
}

/** Works beside this thread; what fails there is done again here, where its error keeps its type. */
interface SecondThread {
  readSound(path: string): Promise<ComparedSound>;
  measure(sound: SharedSound): Promise<Measurement>;
  close(): Promise<void>;
}

const thisThread: SecondThread = {
  readSound,
  measure: async (sound) => measureShared(sound),
  close: async () => {},
};

function secondThread(): SecondThread {
  const inSource = import.meta.url.endsWith('.ts');
  const pool = new Tinypool({
    filename: fileURLToPath(
      new URL(inSource ? './second-thread-from-source.mjs' : './second-thread.js', import.meta.url),
    ),
    runtime: 'worker_threads',
    minThreads: 1,
    maxThreads: 1,
  });
  return {
    readSound: (path) => pool.run(path, { name: 'readSound' }).catch(() => readSound(path)),
    measure: (sound) => pool.run(sound, { name: 'measureShared' }).catch(() => measureShared(sound)),
    close: () => pool.destroy(),
  };
}
