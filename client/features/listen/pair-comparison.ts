import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { Refusal } from '../../api/call.ts';
import type { Comparison } from '../../api/types.ts';
import { type Matching, matchLoudness } from '../../player/matching.ts';
import { sameTimeline, timelineOf, type VersionTimeline } from '../../player/version-timeline.ts';
import { sharedPieces } from './line-change.ts';
import type { ListeningPair } from './listening-pair.ts';

type Compare = (
  older: string,
  newer: string,
  signal: AbortSignal,
  onProgress: (progress: number) => void,
) => Promise<Comparison>;

/** What is known of the two versions at the playhead: how they are matched, aligned, and what changed between them. */
export class PairComparison implements ReactiveController {
  comparison: Comparison | null = null;
  /** 0 to 1 while it is being made, else `null`. */
  progress: number | null = null;
  fault: string | null = null;
  timeline: VersionTimeline = sameTimeline;
  /** `null` while one of the two is not measured. */
  matching: Matching | null = null;
  readonly #host: ReactiveControllerHost;
  readonly #compare: Compare;
  #pairKey = '';
  #key = '';
  #stop = new AbortController();

  constructor(host: ReactiveControllerHost, compare: Compare) {
    this.#host = host;
    this.#compare = compare;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.#stop.abort();
  }

  /**
   * Follows a pair: compares it once both are measured, and again when the sections were named anew. While a known pair is
   * measured again its matching stays, so that nothing gets louder by itself.
   */
  follow({ newer, older }: ListeningPair, sectionRevision: number): void {
    const pairKey = `${older?.id} ${newer.id}`;
    const matching =
      older && matchLoudness(newer.analysis.integratedLoudnessLufs, older.analysis.integratedLoudnessLufs);
    if (matching || pairKey !== this.#pairKey) this.matching = matching;
    if (pairKey !== this.#pairKey) this.timeline = sameTimeline;
    this.#pairKey = pairKey;
    const measured = older !== null && [newer, older].every(({ analysis }) => analysis.state === 'ready');
    const key = measured ? `${pairKey} ${sectionRevision}` : '';
    if (key === this.#key) return;
    this.#key = key;
    this.#stop.abort();
    this.comparison = null;
    this.fault = null;
    this.progress = null;
    if (measured) void this.#make(older.id, newer.id);
  }

  async #make(older: string, newer: string): Promise<void> {
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    this.progress = 0;
    try {
      const comparison = await this.#compare(older, newer, signal, (progress) => {
        this.progress = progress;
        this.#host.requestUpdate();
      });
      if (signal.aborted) return;
      this.comparison = comparison;
      this.timeline = timelineOf(sharedPieces(comparison));
    } catch (error) {
      if (signal.aborted) return;
      this.fault = error instanceof Refusal ? error.message : 'The two versions could not be compared.';
    }
    this.progress = null;
    this.#host.requestUpdate();
  }
}
