import { keepInStep } from './keep-in-step.ts';
import { gainFactor, type Matching, unmatched } from './matching.ts';
import { sameTimeline, type VersionTimeline } from './version-timeline.ts';

/** Which of the two versions: the newer one, or the older one that it is compared with. */
export type Side = 'newer' | 'older';

/** What can be heard: either version, or the change alone, which runs on the newer one's time. */
export type Heard = Side | 'change';

const heards: readonly Heard[] = ['newer', 'older', 'change'];

const switchSeconds = 0.01;
const stepMilliseconds = 200;

const faultWords: Record<number, string> = {
  1: 'The sound was stopped on the way.',
  2: 'The connection broke while the sound was loading. Press play to go on.',
  3: 'This browser can’t decode the file.',
  4: 'The sound can’t be loaded. It may still be in the making; try again in a moment.',
};

/**
 * Plays two versions of a song at one playhead, and what differs between them alone, once that has been made. All of
 * them stream and run in step; only one is heard. Switching moves gains across 10 ms, so it never jumps in time, and
 * matching only ever turns down; the change is turned down with the newer version that it is a part of. All times are
 * seconds of the newer version. Sends `change` when anything but the playhead changed; the playhead is read from `seconds`.
 */
export class TwoVersionPlayer extends EventTarget {
  readonly #media: Record<Heard, HTMLAudioElement> = {
    newer: new Audio(),
    older: new Audio(),
    change: new Audio(),
  };
  #addresses: Record<Heard, string | null> = { newer: null, older: null, change: null };
  #context: AudioContext | null = null;
  #gains: Record<Heard, GainNode> | null = null;
  #timeline: VersionTimeline = sameTimeline;
  #matching: Matching = unmatched;
  #heard: Heard = 'newer';
  /** What was asked for while it was still loading. */
  #wanted: Heard | null = null;
  #playing = false;
  #stepTimer: ReturnType<typeof setInterval> | undefined;
  #fault: string | null = null;
  readonly #listening = new AbortController();

  constructor() {
    super();
    for (const side of heards) {
      const media = this.#media[side];
      media.preload = side === 'newer' ? 'auto' : 'none';
      const { signal } = this.#listening;
      media.addEventListener('canplay', () => this.#ready(side), { signal });
      media.addEventListener('playing', () => this.#changed(), { signal });
      media.addEventListener('waiting', () => this.#changed(), { signal });
      media.addEventListener('durationchange', () => this.#changed(), { signal });
      media.addEventListener('ended', () => side === this.#heard && this.pause(), { signal });
      media.addEventListener('error', () => this.#failed(side), { signal });
    }
  }

  get playing(): boolean {
    return this.#playing;
  }

  get heard(): Heard {
    return this.#heard;
  }

  /** What will be heard as soon as it has loaded. */
  get wanted(): Heard {
    return this.#wanted ?? this.#heard;
  }

  /** Playing, and out of data for the moment. */
  get waiting(): boolean {
    return this.#playing && this.#media[this.#heard].readyState < HTMLMediaElement.HAVE_FUTURE_DATA;
  }

  get fault(): string | null {
    return this.#fault;
  }

  get seconds(): number {
    const { currentTime } = this.#media[this.#heard];
    return this.#heard === 'older' ? this.#timeline.inNewer(currentTime) : currentTime;
  }

  /** `null` until the file's head has been read. */
  get durationSeconds(): number | null {
    const { duration } = this.#media.newer;
    return Number.isFinite(duration) ? duration : null;
  }

  /**
   * Puts in the addresses of the two versions, and of the change between them where it has been made; what stays the same
   * plays on, and the playhead stays where it is.
   */
  load(newer: string, older: string | null, change: string | null = null): void {
    const place = this.seconds;
    const before = this.#addresses;
    this.#addresses = { newer, older, change };
    if (this.#wanted && this.#addresses[this.#wanted] === null) this.#wanted = null;
    if (this.#addresses[this.#heard] === null) this.#hear('newer');
    for (const side of heards) {
      const address = this.#addresses[side];
      if (address === before[side]) continue;
      const media = this.#media[side];
      this.#fault = null;
      if (address === null) {
        media.removeAttribute('src');
        media.load();
      } else {
        media.src = address;
        // The newer one comes first, so that the first sound has the whole line to itself.
        media.preload = side === 'newer' || this.#playing ? 'auto' : 'metadata';
        media.currentTime = this.#placeIn(side, place);
        if (this.#playing) void media.play().catch(() => {});
      }
    }
    this.#changed();
  }

  /** Where the same place stands in the two versions, once they have been compared. */
  set timeline(timeline: VersionTimeline) {
    this.#timeline = timeline;
    if (!this.#playing) this.#placeQuiet();
  }

  set matching(matching: Matching | null) {
    this.#matching = matching ?? unmatched;
    this.#applyGains();
  }

  /** Starts them all; must come from a person's own press, as browsers ask for. */
  async play(): Promise<void> {
    this.#route();
    this.#fault = null;
    const media = this.#media[this.#heard];
    if (media.error) media.load();
    if (media.ended) this.seek(0);
    this.#playing = true;
    this.#changed();
    this.#stepTimer ??= setInterval(() => this.#step(), stepMilliseconds);
    try {
      await Promise.all([this.#context?.resume(), media.play()]);
      this.#step();
    } catch (error) {
      // A pause before the first sound ends the promise this way; that is no fault.
      if (error instanceof DOMException && error.name === 'AbortError') return;
      this.#fault ??= 'The browser did not start the sound. Press play once more.';
      this.pause();
    }
  }

  pause(): void {
    this.#playing = false;
    clearInterval(this.#stepTimer);
    this.#stepTimer = undefined;
    for (const side of heards) {
      this.#media[side].pause();
      this.#media[side].playbackRate = 1;
    }
    this.#placeQuiet();
    this.#changed();
  }

  seek(seconds: number): void {
    const end = this.durationSeconds ?? Number.POSITIVE_INFINITY;
    const place = Math.max(0, Math.min(seconds, end));
    for (const side of heards)
      if (this.#addresses[side]) this.#media[side].currentTime = this.#placeIn(side, place);
    this.#changed();
  }

  /** Lets another be heard at the same playhead; one that is still loading is heard once it can play on. */
  switchTo(side: Heard): void {
    this.#wanted = null;
    if (side === this.#heard || !this.#addresses[side]) {
      this.#changed();
      return;
    }
    const media = this.#media[side];
    if (media.error) media.load();
    media.preload = 'auto';
    if (!this.#playing) {
      this.#place(side);
      this.#hear(side);
    } else if (media.readyState >= HTMLMediaElement.HAVE_FUTURE_DATA && !media.paused && !media.seeking) {
      this.#hear(side);
    } else {
      this.#wanted = side;
      this.#step();
      this.#changed();
    }
  }

  destroy(): void {
    this.pause();
    this.#listening.abort();
    for (const side of heards) {
      this.#media[side].removeAttribute('src');
      this.#media[side].load();
    }
    void this.#context?.close();
  }

  get #quiet(): Heard[] {
    return heards.filter((side) => side !== this.#heard && this.#addresses[side] !== null);
  }

  /** Where a moment of the newer version stands in what is played. */
  #placeIn(side: Heard, newerSeconds: number): number {
    return side === 'older' ? this.#timeline.inOlder(newerSeconds) : newerSeconds;
  }

  #place(side: Heard): void {
    if (this.#addresses[side] && this.#media[side].readyState > 0)
      this.#media[side].currentTime = this.#placeIn(side, this.seconds);
  }

  #placeQuiet(): void {
    for (const side of this.#quiet) this.#place(side);
  }

  #hear(side: Heard): void {
    this.#heard = side;
    this.#wanted = null;
    this.#media[side].playbackRate = 1;
    this.#applyGains();
    this.#changed();
  }

  #ready(side: Heard): void {
    if (side === 'newer') for (const other of this.#quiet) this.#media[other].preload = 'auto';
    if (this.#playing) this.#step();
    this.#changed();
  }

  #failed(side: Heard): void {
    if (!this.#addresses[side]) return;
    if (side === this.#heard || side === this.#wanted) {
      this.#fault = faultWords[this.#media[side].error?.code ?? 4] ?? faultWords[4]!;
      this.#wanted = null;
      if (side === this.#heard) this.pause();
    }
    this.#changed();
  }

  /** Keeps the silent ones in step, and lets one be heard if that was asked for. */
  #step(): void {
    if (this.#playing) for (const side of this.#quiet) this.#keepInStep(side);
  }

  #keepInStep(side: Heard): void {
    const media = this.#media[side];
    if (media.error) return;
    const place = this.#placeIn(side, this.seconds);
    if (media.readyState === HTMLMediaElement.HAVE_NOTHING) {
      media.preload = 'auto';
      return;
    }
    if (place >= media.duration || media.seeking) return;
    if (media.paused) {
      media.currentTime = place;
      void media.play().catch(() => {});
      return;
    }
    if (media.readyState < HTMLMediaElement.HAVE_FUTURE_DATA) return;
    const correction = keepInStep(media.currentTime - place);
    if (correction.seek) media.currentTime = place;
    else {
      media.playbackRate = correction.playbackRate;
      if (this.#wanted === side) this.#hear(side);
    }
  }

  /** Leads the media elements through gains; only possible after a person's press. */
  #route(): void {
    if (this.#context) return;
    const context = new AudioContext({ latencyHint: 'interactive' });
    const lead = (side: Heard) => {
      const gain = context.createGain();
      context.createMediaElementSource(this.#media[side]).connect(gain).connect(context.destination);
      return gain;
    };
    this.#context = context;
    this.#gains = { newer: lead('newer'), older: lead('older'), change: lead('change') };
    for (const side of heards) this.#gains[side].gain.value = this.#targetOf(side);
  }

  #targetOf(side: Heard): number {
    const gainDb = side === 'older' ? this.#matching.olderGainDb : this.#matching.newerGainDb;
    return side === this.#heard ? Math.min(1, gainFactor(gainDb)) : 0;
  }

  #applyGains(): void {
    if (!this.#context || !this.#gains) return;
    const now = this.#context.currentTime;
    for (const side of heards) {
      const { gain } = this.#gains[side];
      gain.cancelScheduledValues(now);
      gain.setValueAtTime(gain.value, now);
      gain.linearRampToValueAtTime(this.#targetOf(side), now + switchSeconds);
    }
  }

  #changed(): void {
    this.dispatchEvent(new Event('change'));
  }
}
