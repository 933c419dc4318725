import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { Refusal } from '../api/call.ts';
import { attempt } from './announcer.ts';

type Ask<Value> = (signal: AbortSignal, onProgress: (progress: number) => void) => Promise<Value>;

/** Something that the server works out once it is asked for: its progress, what came of it, or the words of a failure. */
export class WorkedOut<Value> implements ReactiveController {
  value: Value | null = null;
  /** 0 to 1. */
  progress = 0;
  fault: string | null = null;
  readonly #host: ReactiveControllerHost;
  readonly #faultWords: string;
  #key = '';
  #stop = new AbortController();

  /** @param faultWords Said where the server gives no reason. */
  constructor(host: ReactiveControllerHost, faultWords: string) {
    this.#host = host;
    this.#faultWords = faultWords;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.#stop.abort();
    this.#key = '';
  }

  /**
   * Asks where what is wanted is another than before.
   *
   * @param key Names what is wanted; `''` where nothing is.
   */
  follow(key: string, ask: Ask<Value>): void {
    if (key === this.#key) return;
    this.#key = key;
    this.#stop.abort();
    this.value = null;
    this.fault = null;
    this.progress = 0;
    if (key) void this.#ask(ask);
  }

  /** Lets the server work it out once more, and asks again. */
  async again(order: () => Promise<unknown>): Promise<void> {
    await attempt(order);
    this.#key = '';
    this.#host.requestUpdate();
  }

  async #ask(ask: Ask<Value>): Promise<void> {
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    try {
      const value = await ask(signal, (progress) => {
        this.progress = progress;
        this.#host.requestUpdate();
      });
      if (signal.aborted) return;
      this.value = value;
    } catch (error) {
      if (signal.aborted) return;
      this.fault = error instanceof Refusal ? error.message : this.#faultWords;
    }
    this.#host.requestUpdate();
  }
}
