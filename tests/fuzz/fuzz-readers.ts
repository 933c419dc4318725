import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { mutate, mutateFlacFrame, seededRandom } from './mutate.ts';
import { validFiles } from './valid-files.ts';

/** What became of one mutated file; `path` is where its bytes were kept. */
export interface Finding {
  seed: number;
  caseNumber: number;
  kind: 'defect' | 'crash' | 'hang' | 'allocation';
  detail: string;
  path: string;
}

export interface FuzzResult {
  cases: number;
  outcomes: Record<string, number>;
  findings: Finding[];
}

export interface FuzzOptions {
  seed: number;
  /** Stops after so many cases … */
  cases?: number;
  /** … or so many seconds, whichever comes first. */
  seconds?: number;
  /** One case of the seed alone, to see it again. */
  onlyCase?: number;
  onFinding?: (finding: Finding) => void;
}

/** No file here is longer than a second of sound. */
const longestSeconds = 10;
const mostHeapMb = 256;
/** Memory that one small file may take beside the heap before it counts as unbounded. */
const mostGrowthBytes = 400 * 2 ** 20;

/** Opens, reads and measures mutated files, one after the other, in a thread that may fall. */
export async function fuzzReaders(options: FuzzOptions): Promise<FuzzResult> {
  const { seed, cases = Infinity, seconds = Infinity, onlyCase } = options;
  const folder = await mkdtemp(join(tmpdir(), 'countoff-fuzz-'));
  const files = await validFiles(folder);
  const result: FuzzResult = { cases: 0, outcomes: {}, findings: [] };
  const end = Date.now() + seconds * 1000;
  const path = join(folder, 'case');
  let reader = new ReaderThread();
  for (let caseNumber = onlyCase ?? 0; caseNumber < cases && Date.now() < end; caseNumber++) {
    const random = seededRandom(Math.imul(seed, 0x9e3779b1) + caseNumber);
    const file = files[Math.floor(random() * files.length)]!;
    const other = files[Math.floor(random() * files.length)]!;
    const bytes = file.flacFrameHeaderBytes
      ? mutateFlacFrame(file.bytes, file.flacFrameHeaderBytes, random)
      : mutate(file.bytes, random, other.bytes);
    await writeFile(path, bytes);
    const { kind, detail } = await reader.measure(path);
    result.cases++;
    result.outcomes[kind] = (result.outcomes[kind] ?? 0) + 1;
    if (kind === 'defect' || kind === 'crash' || kind === 'hang' || kind === 'allocation') {
      const kept = join(folder, `${seed}-${caseNumber}-${kind}`);
      await writeFile(kept, bytes);
      const finding: Finding = { seed, caseNumber, kind, detail: `${file.name}: ${detail}`, path: kept };
      result.findings.push(finding);
      options.onFinding?.(finding);
      await reader.close();
      reader = new ReaderThread();
    }
    if (onlyCase !== undefined) break;
  }
  await reader.close();
  if (result.findings.length === 0) await rm(folder, { recursive: true, force: true });
  return result;
}

class ReaderThread {
  readonly #worker = new Worker(new URL('./worker-from-source.mjs', import.meta.url), {
    resourceLimits: { maxOldGenerationSizeMb: mostHeapMb },
    stderr: true,
  });
  #waiting: ((outcome: { kind: string; detail: string }) => void) | null = null;
  #warm = false;

  constructor() {
    this.#worker.on('message', (outcome) => this.#waiting?.(outcome));
    this.#worker.on('error', (error) => this.#waiting?.({ kind: 'crash', detail: `${error}` }));
    this.#worker.on('exit', (code) =>
      this.#waiting?.({ kind: 'crash', detail: `the thread ended (${code})` }),
    );
  }

  async measure(path: string): Promise<{ kind: string; detail: string }> {
    const before = process.memoryUsage.rss();
    let most = before;
    const watch = setInterval(() => {
      most = Math.max(most, process.memoryUsage.rss());
    }, 20);
    // The first file waits for the thread to load the program.
    const allowedSeconds = this.#warm ? longestSeconds : longestSeconds * 6;
    let limit: NodeJS.Timeout | undefined;
    const outcome = await new Promise<{ kind: string; detail: string }>((resolve) => {
      this.#waiting = resolve;
      limit = setTimeout(
        () => resolve({ kind: 'hang', detail: `over ${allowedSeconds} s` }),
        allowedSeconds * 1000,
      );
      this.#worker.postMessage(path);
    });
    clearTimeout(limit);
    clearInterval(watch);
    this.#waiting = null;
    const grown = Math.max(most, process.memoryUsage.rss()) - before;
    if (this.#warm && grown > mostGrowthBytes) {
      return {
        kind: 'allocation',
        detail: `${Math.round(grown / 2 ** 20)} MiB; ${outcome.kind} ${outcome.detail}`,
      };
    }
    this.#warm = true;
    return outcome;
  }

  async close(): Promise<void> {
    await this.#worker.terminate();
  }
}
