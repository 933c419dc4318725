import type { ReactiveController, ReactiveControllerHost } from 'lit';
import { Refusal } from '../../api/call.ts';
import type { ChangeFigures } from '../../api/types.ts';
import { figure } from '../../elements/figures-table.ts';
import type { ListeningPair } from './listening-pair.ts';

type Make = (
  older: string,
  newer: string,
  signal: AbortSignal,
  onProgress: (progress: number) => void,
) => Promise<ChangeFigures>;

/** The change between the two versions at the playhead, to be heard alone. Nothing is made before it is asked for. */
export class ChangeAlone implements ReactiveController {
  /** `null` until it has been made. */
  figures: ChangeFigures | null = null;
  /** 0 to 1 while it is being made, else `null`. */
  progress: number | null = null;
  fault: string | null = null;
  /** Asked for, and to be heard as soon as it has been made. */
  wished = false;
  readonly #host: ReactiveControllerHost;
  readonly #make: Make;
  readonly #onMade: () => void;
  #pairKey = '';
  #stop = new AbortController();

  constructor(host: ReactiveControllerHost, make: Make, onMade: () => void) {
    this.#host = host;
    this.#make = make;
    this.#onMade = onMade;
    host.addController(this);
  }

  hostDisconnected(): void {
    this.#stop.abort();
  }

  /** Follows a pair; what was made of another one is forgotten. */
  follow({ newer, older }: ListeningPair): void {
    const pairKey = `${older?.id} ${newer.id}`;
    if (pairKey === this.#pairKey) return;
    this.#pairKey = pairKey;
    this.#stop.abort();
    this.figures = null;
    this.progress = null;
    this.fault = null;
    this.wished = false;
  }

  /** Has it made, unless it has been or is being made. */
  async ask({ newer, older }: ListeningPair): Promise<void> {
    if (!older || this.figures || this.progress !== null) return;
    this.#stop = new AbortController();
    const { signal } = this.#stop;
    this.progress = 0;
    this.fault = null;
    this.#host.requestUpdate();
    try {
      const figures = await this.#make(older.id, newer.id, signal, (progress) => {
        this.progress = progress;
        this.#host.requestUpdate();
      });
      if (signal.aborted) return;
      this.figures = figures;
      this.progress = null;
      this.#onMade();
    } catch (error) {
      if (signal.aborted) return;
      this.progress = null;
      this.wished = false;
      this.fault = error instanceof Refusal ? error.message : 'The change could not be rendered.';
    }
    this.#host.requestUpdate();
  }
}

const leastGainDb = 0.05;
const leastUnmatchedSeconds = 0.5;

/** What is heard when the change is heard alone, and at which gain, in two sentences. */
export function changeAloneWords(
  { gainDb, gainLimit, silent, unmatchedSeconds }: ChangeFigures,
  newerName: string,
  olderName: string,
): string {
  const only =
    unmatchedSeconds >= leastUnmatchedSeconds
      ? ` What only the newer one has (${figure(unmatchedSeconds, 's')}) is left out.`
      : '';
  if (silent)
    return `Nothing will be heard: where ${newerName} and ${olderName} can be laid side by side, not a sample differs.${only}`;
  const size = figure(Math.abs(gainDb), 'dB');
  const level =
    gainLimit === 'no loudness'
      ? 'It is left at its own level, too quiet to be a part: more likely rounding or dither.'
      : Math.abs(gainDb) < leastGainDb
        ? 'It is at its own level.'
        : gainDb > 0
          ? `It is turned up ${size} to be heard, and stays under the mix.`
          : `It is turned down ${size} to stay ${gainLimit === 'true peak' ? 'under −1 dBTP' : 'under the mix'}.`;
  return `Only what differs: ${newerName} less ${olderName}, matched; silent where nothing changed. ${level}${only}`;
}
