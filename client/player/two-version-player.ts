import { keepInStep } from './keep-in-step.ts';
import { gainFactor, type Matching, unmatched } from './matching.ts';
import { sameTimeline, type VersionTimeline } from './version-timeline.ts';

/** Which of the two versions: the newer one, or the older one that it is compared with. */
export type Side = 'newer' | 'older';

export const sides: readonly Side[] = ['newer', 'older'];

const switchSeconds = 0.01;
const stepMilliseconds = 200;

const faultWords: Record<number, string> = {
  1: 'The sound was stopped on the way.',
  2: 'The connection broke while the sound was loading. Press play to go on.',
  3: 'This browser can’t decode the file.',
  4: 'The sound can’t be loaded. It may still be in the making; try again in a moment.',
};

/**
 * Plays two versions of a song at one playhead. Both stream and run in step; only one is heard. Switching moves two
 * gains across 10 ms, so it never jumps in time, and matching only ever turns down. All times are seconds of the newer
 * version. Sends `change` when anything but the playhead changed; the playhead is read from `seconds`.
 */
export class TwoVersionPlayer extends EventTarget {
  readonly #media: Record<Side, HTMLAudioElement> = { newer: new Audio(), older: new Audio() };
  #addresses: Record<Side, string | null> = { newer: null, older: null };
  #context: AudioContext | null = null;
  #gains: Record<Side, GainNode> | null = null;
  #timeline: VersionTimeline = sameTimeline;
  #matching: Matching = unmatched;
  #heard: Side = 'newer';
  /** The side asked for while it was still loading. */
  #wanted: Side | null = null;
  #playing = false;
  #stepTimer: ReturnType<typeof setInterval> | undefined;
  #fault: string | null = null;
  readonly #listening = new AbortController();

  constructor() {
    super();
    for (const side of sides) {
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

  /** The side that is heard. */
  get heard(): Side {
    return this.#heard;
  }

  /** The side that will be heard as soon as it has loaded. */
  get wanted(): Side {
    return this.#wanted ?? this.#heard;
  }

  /** Playing, and out of data for the moment. */
  get waiting(): boolean {
    return this.#playing && this.#media[this.#heard].readyState < HTMLMediaElement.HAVE_FUTURE_DATA;
  }

  get fault(): string | null {
    return this.#fault;
  }

  /** How far the silent version is from where it should be; `null` when nothing is compared. */
  get driftSeconds(): number | null {
    const quiet = this.#quiet;
    return this.#addresses[quiet] ? this.#media[quiet].currentTime - this.#placeOf(quiet) : null;
  }

  get seconds(): number {
    const { currentTime } = this.#media[this.#heard];
    return this.#heard === 'newer' ? currentTime : this.#timeline.inNewer(currentTime);
  }

  /** `null` until the file's head has been read. */
  get durationSeconds(): number | null {
    const { duration } = this.#media.newer;
    return Number.isFinite(duration) ? duration : null;
  }

  /** Puts in the addresses of the two versions; what stays the same plays on, and the playhead stays where it is. */
  load(newer: string, older: string | null): void {
    const place = this.seconds;
    const before = this.#addresses;
    this.#addresses = { newer, older };
    if (older === null && this.#heard === 'older') this.#hear('newer');
    for (const side of sides) {
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
        media.currentTime = side === 'newer' ? place : this.#timeline.inOlder(place);
        if (this.#playing) void media.play().catch(() => {});
      }
    }
    this.#changed();
  }

  /** Where the same place stands in the two versions, once they have been compared. */
  set timeline(timeline: VersionTimeline) {
    this.#timeline = timeline;
    if (!this.#playing) this.#place(this.#quiet);
  }

  set matching(matching: Matching | null) {
    this.#matching = matching ?? unmatched;
    this.#applyGains();
  }

  /** Starts both; must come from a person's own press, as browsers ask for. */
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
    for (const side of sides) {
      this.#media[side].pause();
      this.#media[side].playbackRate = 1;
    }
    this.#place(this.#quiet);
    this.#changed();
  }

  seek(seconds: number): void {
    const end = this.durationSeconds ?? Number.POSITIVE_INFINITY;
    const place = Math.max(0, Math.min(seconds, end));
    this.#media.newer.currentTime = place;
    if (this.#addresses.older) this.#media.older.currentTime = this.#timeline.inOlder(place);
    this.#changed();
  }

  /** Lets the other version be heard at the same playhead; one that is still loading is heard once it can play on. */
  switchTo(side: Side): void {
    this.#wanted = null;
    if (side === this.#heard || !this.#addresses[side]) {
      this.#changed();
      return;
    }
    const media = this.#media[side];
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
    for (const side of sides) {
      this.#media[side].removeAttribute('src');
      this.#media[side].load();
    }
    void this.#context?.close();
  }

  get #quiet(): Side {
    return this.#heard === 'newer' ? 'older' : 'newer';
  }

  /** Where a side should be, by the one that is heard. */
  #placeOf(side: Side): number {
    return side === 'newer' ? this.seconds : this.#timeline.inOlder(this.seconds);
  }

  #place(side: Side): void {
    if (this.#addresses[side] && this.#media[side].readyState > 0)
      this.#media[side].currentTime = this.#placeOf(side);
  }

  #hear(side: Side): void {
    this.#heard = side;
    this.#wanted = null;
    this.#media[side].playbackRate = 1;
    this.#applyGains();
    this.#changed();
  }

  #ready(side: Side): void {
    if (side === 'newer' && this.#addresses.older) this.#media.older.preload = 'auto';
    if (this.#playing) this.#step();
    this.#changed();
  }

  #failed(side: Side): void {
    if (!this.#addresses[side]) return;
    if (side === this.#heard || side === this.#wanted) {
      this.#fault = faultWords[this.#media[side].error?.code ?? 4] ?? faultWords[4]!;
      this.#wanted = null;
      if (side === this.#heard) this.pause();
    }
    this.#changed();
  }

  /** Keeps the silent version in step, and lets it be heard if that was asked for. */
  #step(): void {
    const quiet = this.#quiet;
    const media = this.#media[quiet];
    if (!this.#playing || !this.#addresses[quiet] || media.error) return;
    const place = this.#placeOf(quiet);
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
      if (this.#wanted === quiet) this.#hear(quiet);
    }
  }

  /** Leads both media elements through gains; only possible after a person's press. */
  #route(): void {
    if (this.#context) return;
    const context = new AudioContext({ latencyHint: 'interactive' });
    const lead = (side: Side) => {
      const gain = context.createGain();
      context.createMediaElementSource(this.#media[side]).connect(gain).connect(context.destination);
      return gain;
    };
    this.#context = context;
    this.#gains = { newer: lead('newer'), older: lead('older') };
    for (const side of sides) this.#gains[side].gain.value = this.#targetOf(side);
  }

  #targetOf(side: Side): number {
    const gainDb = side === 'newer' ? this.#matching.newerGainDb : this.#matching.olderGainDb;
    return side === this.#heard ? Math.min(1, gainFactor(gainDb)) : 0;
  }

  #applyGains(): void {
    if (!this.#context || !this.#gains) return;
    const now = this.#context.currentTime;
    for (const side of sides) {
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
