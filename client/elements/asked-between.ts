import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { Refusal, wait } from '../api/call.ts';
import type { AskedAndChanged } from '../api/types.ts';

type Ask = (signal: AbortSignal, onProgress: (progress: number) => void) => Promise<AskedAndChanged>;

/** Stems take some seconds a song to be told apart. */
const stemsMilliseconds = 2000;

/** What was asked between two versions and what changed beside it, kept fresh for the page that shows it. */
export class AskedBetween implements ReactiveController {
  told: AskedAndChanged | null = null;
  /** 0 to 1 while the two are compared, else `null`. */
  progress: number | null = null;
  fault: string | null = null;
  readonly #host: ReactiveControllerHost;
  #pair = '';
  #key = '';
  #stop = new AbortController();

  constructor(host: ReactiveControllerHost) {
    this.#host = host;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.#stop.abort();
    this.#key = '';
  }

  /**
   * Follows a pair: asks for it once, and again when `state` of the record changes; what is known stays meanwhile.
   *
   * @param pair Names the two versions; `null` where there are none.
   */
  follow(pair: string | null, state: string, ask: Ask): void {
    const key = pair === null ? '' : `${pair} ${state}`;
    if (key === this.#key) return;
    this.#key = key;
    this.#stop.abort();
    if (pair !== this.#pair) {
      this.told = null;
      this.fault = null;
      this.progress = pair === null ? null : 0;
    }
    this.#pair = pair ?? '';
    if (pair !== null) void this.#make(ask);
  }

  async #make(ask: Ask): Promise<void> {
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    try {
      for (;;) {
        const told = await ask(signal, (progress) => {
          this.progress = progress;
          this.#host.requestUpdate();
        });
        if (signal.aborted) return;
        this.told = told;
        this.fault = null;
        if (told.stems !== 'pending') break;
        // What is told without the stems is shown meanwhile.
        this.progress = null;
        this.#host.requestUpdate();
        await wait(stemsMilliseconds);
        if (signal.aborted) return;
      }
    } catch (error) {
      if (signal.aborted) return;
      this.fault = error instanceof Refusal ? error.message : 'What was asked could not be read.';
    }
    this.progress = null;
    this.#host.requestUpdate();
  }
}
