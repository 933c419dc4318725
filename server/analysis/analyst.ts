import { cpus } from 'node:os';
import { fileURLToPath } from 'node:url';
import { MessageChannel } from 'node:worker_threads';
import type { Logger } from 'pino';
import Tinypool from 'tinypool';
import type { DemoFile } from '../../fixtures/demo/render.ts';
import type {
  Analysis,
  AnalysisInput,
  AnalysisStanding,
  AnalysisStore,
  StoredStem,
} from '../storage/analysis-store.ts';
import type { AudioStore } from '../storage/audio-store.ts';
import type { Writer } from '../storage/database.ts';
import { analysisKey } from './analysis-key.ts';
import type { StemInspection } from './inspect-stem.ts';
import type { StemSource } from './open-stems.ts';
import { changeFileName } from './stored-change.ts';
import type { IntakeInput, IntakeResult, TaskResult } from './worker.ts';

const mostAttempts = 3;

/** How far a piece of work has come. */
export interface AnalysisProgress {
  key: string;
  input: AnalysisInput;
  state: Analysis['state'];
  progress: number;
}

/**
 * Runs the analysis queue on worker threads, never on the thread that answers requests. Work is queued in the database
 * with what it belongs to, so that a restart takes it up again.
 */
export class Analyst {
  readonly #store: AnalysisStore;
  readonly #audio: AudioStore;
  readonly #log: Logger;
  readonly #now: () => string;
  readonly #pool: Tinypool;
  readonly #running = new Map<string, number>();
  readonly #watchers = new Set<(progress: AnalysisProgress) => void>();
  #closed = false;
  #wakeAgain = false;
  #waking = false;

  constructor(store: AnalysisStore, audio: AudioStore, log: Logger, now: () => string) {
    this.#store = store;
    this.#audio = audio;
    this.#log = log;
    this.#now = now;
    const inSource = import.meta.url.endsWith('.ts');
    this.#pool = new Tinypool({
      filename: fileURLToPath(
        new URL(inSource ? './worker-from-source.mjs' : './worker.js', import.meta.url),
      ),
      runtime: 'worker_threads',
      minThreads: 0,
      maxThreads: Math.max(1, cpus().length),
      idleTimeout: 10_000,
    });
    // A worker that dies between tasks is replaced; without a listener it would take the server with it.
    this.#pool.on('error', (error: unknown) => log.error({ err: error }, 'an analysis worker died'));
  }

  /** Takes up what was left behind by the process before. */
  async start(): Promise<void> {
    await this.#store.releaseRunning();
    this.wake();
  }

  watch(onProgress: (progress: AnalysisProgress) => void): () => void {
    this.#watchers.add(onProgress);
    return () => this.#watchers.delete(onProgress);
  }

  async queue(input: AnalysisInput, again = false): Promise<string> {
    const key = analysisKey(input);
    await this.#store.queue(key, input, this.#now(), again);
    this.wake();
    return key;
  }

  /** Queues work inside a transaction; call `wake` once it is committed. */
  async queueIn(writer: Writer, input: AnalysisInput): Promise<void> {
    await this.#store.queueIn(writer, analysisKey(input), input, this.#now());
  }

  /** Keeps a measurement that the intake made already. */
  async keep(input: AnalysisInput, result: unknown): Promise<void> {
    const key = analysisKey(input);
    await this.#store.queue(key, input, this.#now());
    await this.#store.finish(key, result);
  }

  async states(
    inputs: readonly AnalysisInput[],
  ): Promise<Map<string, AnalysisStanding & { progress: number }>> {
    const states = await this.#store.states(inputs.map(analysisKey));
    return new Map(
      [...states].map(([key, analysis]) => [
        key,
        { ...analysis, progress: analysis.state === 'ready' ? 1 : (this.#running.get(key) ?? 0) },
      ]),
    );
  }

  async result(input: AnalysisInput): Promise<string | null> {
    return this.#store.result(analysisKey(input));
  }

  /** Forgets what was to be measured of a file that is gone; what was measured of it stays. */
  async forgetUnfinished(sha256: string): Promise<void> {
    await this.#store.forgetUnfinished(sha256);
  }

  /** Starts what waits, as far as there are workers. */
  wake(): void {
    this.#wakeAgain = true;
    if (this.#waking || this.#closed) return;
    this.#waking = true;
    void this.#takeUp()
      .catch((error: unknown) => this.#log.error({ err: error }, 'the analysis queue stopped'))
      .finally(() => {
        this.#waking = false;
        if (this.#wakeAgain) this.wake();
      });
  }

  async #takeUp(): Promise<void> {
    while (this.#wakeAgain && !this.#closed) {
      this.#wakeAgain = false;
      const free = this.#pool.options.maxThreads - this.#running.size;
      if (free <= 0) return;
      for (const analysis of await this.#store.waiting(free)) {
        if (this.#running.has(analysis.key)) continue;
        this.#running.set(analysis.key, 0);
        await this.#store.start(analysis);
        void this.#run(analysis);
      }
    }
  }

  async #run(analysis: Analysis): Promise<void> {
    const { key, input } = analysis;
    const tell = (state: Analysis['state'], progress: number) => {
      for (const watcher of this.#watchers) watcher({ key, input, state, progress });
    };
    tell('running', 0);
    try {
      const result = await this.#work(input, (progress) => {
        this.#running.set(key, progress);
        tell('running', progress);
      });
      if (result.ok) {
        await this.#store.finish(key, result.value);
        this.#running.delete(key);
        tell('ready', 1);
      } else {
        await this.#store.fail(key, result.message);
        this.#running.delete(key);
        tell('failed', 1);
      }
    } catch (error) {
      this.#running.delete(key);
      if (this.#closed) return;
      this.#log.error({ err: error, key }, 'an analysis broke');
      if (analysis.attempts + 1 < mostAttempts) await this.#store.retry(key);
      else {
        await this.#store.fail(
          key,
          'The measurement broke. The file is safe and plays; measure it again later.',
        );
        tell('failed', 1);
      }
    } finally {
      this.wake();
    }
  }

  #work(input: AnalysisInput, onProgress: (progress: number) => void): Promise<TaskResult<unknown>> {
    if (input.kind === 'comparison')
      return this.#task('compare', onProgress, {
        olderPath: this.#audio.pathOf(input.olderSha256, 'original'),
        newerPath: this.#audio.pathOf(input.newerSha256, 'original'),
        sections: input.sections,
        tempo: input.tempo ?? null,
      });
    if (input.kind === 'sections')
      return this.#task('proposeSections', onProgress, {
        path: this.#audio.pathOf(input.sha256, 'original'),
      });
    if (input.kind === 'stem sum')
      return this.#task('checkStems', onProgress, {
        path: this.#audio.pathOf(input.sha256, 'original'),
        stems: this.#sources(input.stems),
      });
    if (input.kind === 'stem comparison')
      return this.#task('compareStems', onProgress, {
        olderPath: this.#audio.pathOf(input.olderSha256, 'original'),
        newerPath: this.#audio.pathOf(input.newerSha256, 'original'),
        olderStems: input.olderStems && this.#sources(input.olderStems),
        newerStems: input.newerStems && this.#sources(input.newerStems),
        sections: input.sections,
        overallGainDb: input.overallGainDb,
      });
    if (input.kind !== 'measurement') {
      const { olderSha256, newerSha256, match } = input;
      return this.#task(input.kind === 'change map' ? 'mapChange' : 'renderChange', onProgress, {
        olderPath: this.#audio.pathOf(olderSha256, 'original'),
        newerPath: this.#audio.pathOf(newerSha256, 'original'),
        match,
        targetPath: this.#audio.changePathOf(olderSha256, newerSha256, changeFileName[input.kind]),
      });
    }
    return this.#audio.hasWaveform(input.sha256).then((hasWaveform) =>
      this.#task('measure', onProgress, {
        path: this.#audio.pathOf(input.sha256, 'original'),
        waveformPath: hasWaveform ? null : this.#audio.pathOf(input.sha256, 'waveform.dat'),
        sections: input.sections,
      }),
    );
  }

  #sources(stems: readonly StoredStem[]): StemSource[] {
    return stems.map(({ name, role, sha256 }) => ({
      name,
      role,
      path: this.#audio.pathOf(sha256, 'original'),
    }));
  }

  /** Reads a new stem whole on a worker. */
  intakeStem(
    input: { path: string; byteLength: number },
    onProgress: (progress: number) => void,
  ): Promise<TaskResult<StemInspection & { sha256: string }>> {
    return this.#task('intakeStem', onProgress, input);
  }

  /** Reads a new file whole on a worker. */
  intake(input: IntakeInput, onProgress: (progress: number) => void): Promise<TaskResult<IntakeResult>> {
    return this.#task('intake', onProgress, input);
  }

  renderDemo(folder: string, onProgress: (progress: number) => void): Promise<DemoFile[]> {
    return this.#task('renderDemo', onProgress, { folder });
  }

  async #task<Input, Result>(
    name: string,
    onProgress: (progress: number) => void,
    input: Input,
  ): Promise<Result> {
    const { port1, port2 } = new MessageChannel();
    port1.on('message', onProgress);
    port1.unref();
    try {
      return await this.#pool.run({ input, port: port2 }, { name, transferList: [port2] });
    } finally {
      port1.close();
    }
  }

  async close(): Promise<void> {
    this.#closed = true;
    await this.#pool.destroy();
  }
}
