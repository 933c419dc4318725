import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { Refusal } from '../../api/call.ts';
import type { Series } from '../../api/series.ts';
import type { Measurement } from '../../api/types.ts';

/** How a version's figures are asked for; both wait until they are measured. */
export interface Measuring {
  measured(
    versionId: string,
    signal: AbortSignal,
    onProgress: (progress: number) => void,
  ): Promise<Measurement>;
  series(versionId: string, signal: AbortSignal): Promise<Series>;
}

/** The figures of one version, as far as they have come. */
export class MeasuredVersion implements ReactiveController {
  measurement: Measurement | null = null;
  series: Series | null = null;
  /** 0 to 1 while the version is measured, else `null`. */
  progress: number | null = null;
  /** Why there are no figures, or none over time. */
  fault: string | null = null;
  seriesFault: string | null = null;
  readonly #host: ReactiveControllerHost;
  readonly #measuring: () => Measuring;
  #key = '';
  #stop = new AbortController();

  constructor(host: ReactiveControllerHost, measuring: () => Measuring) {
    this.#host = host;
    this.#measuring = measuring;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.#stop.abort();
    this.#key = '';
  }

  /** Reads a version's figures; with another `standing`, as when its sections were renamed, they are read again. */
  follow(versionId: string, standing: string): void {
    const key = `${versionId} ${standing}`;
    if (key === this.#key) return;
    this.#key = key;
    this.read(versionId);
  }

  /** Reads a version's figures anew. */
  read(versionId: string): void {
    this.#stop.abort();
    this.#stop = new AbortController();
    this.measurement = null;
    this.series = null;
    this.fault = null;
    this.seriesFault = null;
    this.progress = 0;
    this.#host.requestUpdate();
    void this.#read(versionId, this.#stop.signal);
  }

  async #read(versionId: string, signal: AbortSignal): Promise<void> {
    const calls = this.#measuring();
    try {
      this.measurement = await calls.measured(versionId, signal, (progress) => {
        this.progress = progress;
        this.#host.requestUpdate();
      });
    } catch (error) {
      if (signal.aborted) return;
      this.fault = wordsOf(error);
    }
    this.progress = null;
    this.#host.requestUpdate();
    if (!this.measurement) return;
    try {
      this.series = await calls.series(versionId, signal);
    } catch (error) {
      if (signal.aborted) return;
      this.seriesFault = wordsOf(error);
    }
    this.#host.requestUpdate();
  }
}

function wordsOf(error: unknown): string {
  if (error instanceof Refusal) return error.message;
  console.error(error);
  return 'The figures could not be read. The file is safe and plays; open the page again.';
}
