import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { Refusal } from '../../api/call.ts';
import type { SectionProposal } from '../../api/types.ts';

type Propose = (
  versionId: string,
  signal: AbortSignal,
  onProgress: (progress: number) => void,
) => Promise<SectionProposal>;

/** Asks for the sections that the audio of a version suggests. */
export class ProposalRequest implements ReactiveController {
  /** 0 to 1 while the audio is gone through, else `null`. */
  progress: number | null = null;
  /** Why there is no proposal. */
  fault: string | null = null;
  readonly #host: ReactiveControllerHost;
  #stop = new AbortController();

  constructor(host: ReactiveControllerHost) {
    this.#host = host;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.stop();
  }

  stop(): void {
    this.#stop.abort();
    this.progress = null;
    this.#host.requestUpdate();
  }

  /** What the server proposes, or `null` where it was stopped or has a fault. */
  async ask(propose: Propose, versionId: string): Promise<SectionProposal | null> {
    this.#stop.abort();
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    this.progress = 0;
    this.fault = null;
    this.#host.requestUpdate();
    try {
      const proposal = await propose(versionId, signal, (progress) => {
        this.progress = progress;
        this.#host.requestUpdate();
      });
      if (signal.aborted) return null;
      this.progress = null;
      this.#host.requestUpdate();
      return proposal;
    } catch (error) {
      if (signal.aborted) return null;
      this.progress = null;
      this.fault =
        error instanceof Refusal
          ? error.message
          : 'The audio could not be gone through. Cut while you listen.';
      if (!(error instanceof Refusal)) console.error(error);
      this.#host.requestUpdate();
      return null;
    }
  }
}
