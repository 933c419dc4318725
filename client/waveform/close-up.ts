import { html, type PropertyValues } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import type { PeaksInstance, PlayerAdapter, Segment } from 'peaks.js';
import { LightElement } from '../elements/light-element.ts';
import { timeCode } from '../elements/time-code.ts';
import type { Waveform } from './waveform-store.ts';

/** A stretch shown on the close-up: a section under its name, or the marked range. */
export interface CloseUpSpan {
  id: string;
  startSeconds: number;
  endSeconds: number;
  label: string;
  /** Its edges can be dragged. */
  editable: boolean;
}

type PeaksEvents = Parameters<PlayerAdapter['init']>[0];

const darkScheme = window.matchMedia('(prefers-color-scheme: dark)');
const shortestSpanSeconds = 0.1;
/** How much of the height the loudest place takes: near by there is room for names above and times below. */
const nearFill = 0.62;
const songFill = 0.9;

/**
 * The whole song in small, and a stretch of it near by, for placing ranges and edges. Reports `seek` (seconds),
 * `drag-range` (from, to) where `draws` is on, and `drag-edge` (id, startSeconds, endSeconds) when an edge was let go.
 */
@customElement('countoff-close-up')
export class CloseUp extends LightElement {
  @property({ attribute: false }) waveform: Waveform | null = null;
  @property({ attribute: false }) spans: CloseUpSpan[] = [];
  @property({ attribute: false }) durationSeconds = 0;
  @property({ attribute: false }) visibleSeconds = 16;
  /** A drag over the close-up marks a range; else it moves the close-up along. */
  @property({ attribute: false }) draws = false;
  @property({ attribute: false }) playing = false;
  private seconds = 0;
  private peaks: PeaksInstance | null = null;
  private events: PeaksEvents | null = null;
  private making = 0;
  private readonly resized = new ResizeObserver(() => this.fit());
  private readonly recolour = () => void this.make();

  override connectedCallback() {
    super.connectedCallback();
    darkScheme.addEventListener('change', this.recolour);
    this.resized.observe(this);
    if (this.hasUpdated) void this.make();
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    darkScheme.removeEventListener('change', this.recolour);
    this.resized.disconnect();
    this.unmake();
  }

  /** Where the playhead is; called on every frame while it moves, so it is no property. */
  moveTo(seconds: number) {
    if (seconds === this.seconds) return;
    this.seconds = seconds;
    this.events?.emit('player.timeupdate', seconds);
  }

  protected override updated(changed: PropertyValues<this>) {
    if (changed.has('waveform')) {
      void this.make();
      return;
    }
    if (changed.has('playing'))
      this.events?.emit(this.playing ? 'player.playing' : 'player.pause', this.seconds);
    if (changed.has('spans')) this.putSpans();
    const view = this.peaks?.views.getView('zoomview');
    if (changed.has('visibleSeconds')) view?.setZoom({ seconds: this.visibleSeconds });
    if (changed.has('draws')) view?.setWaveformDragMode(this.draws ? 'insert-segment' : 'scroll');
  }

  private unmake() {
    this.making += 1;
    this.peaks?.destroy();
    this.peaks = null;
    this.events = null;
  }

  private async make() {
    this.unmake();
    const mine = this.making;
    const { waveform } = this;
    const zoomview = this.querySelector<HTMLElement>('.near');
    const overview = this.querySelector<HTMLElement>('.song');
    if (!waveform || !zoomview?.clientWidth || !overview) return;
    // peaks.js and its canvas library are most of the page's weight, so they come after the first sound.
    const { default: Peaks } = await import('peaks.js');
    if (mine !== this.making) return;
    const style = getComputedStyle(this);
    const ink = (name: string) => style.getPropertyValue(name).trim();
    const shared = {
      waveformColor: ink('--wave'),
      playedWaveformColor: ink('--wave-played'),
      playheadColor: ink('--accent'),
      axisLabelColor: ink('--ink-2'),
      axisGridlineColor: ink('--rule'),
      formatAxisTime: (seconds: number) => timeCode(seconds),
    };
    Peaks.init(
      {
        waveformData: { arraybuffer: waveform.bytes.slice(0) },
        player: this.adapter(),
        zoomLevels: [waveform.data.scale, waveform.data.scale * 2],
        fontFamily: 'sans-serif',
        zoomview: {
          ...shared,
          container: zoomview,
          playheadTextColor: ink('--ink'),
          showPlayheadTime: false,
          wheelMode: 'scroll',
          autoScroll: true,
        },
        overview: {
          ...shared,
          container: overview,
          highlightColor: ink('--accent'),
          highlightStrokeColor: ink('--accent'),
          highlightOpacity: 0.15,
          highlightOffset: 0,
          showAxisLabels: false,
          // Names have no room there and would lie on one another.
          enableSegments: false,
        },
        segmentOptions: {
          markers: true,
          overlay: true,
          overlayColor: ink('--accent'),
          overlayOpacity: 0.14,
          overlayBorderColor: ink('--accent'),
          overlayBorderWidth: 1,
          overlayCornerRadius: 0,
          overlayOffset: 0,
          overlayLabelColor: ink('--ink'),
          overlayLabelPadding: 4,
          overlayFontFamily: 'serif',
          overlayFontSize: 13,
          startMarkerColor: ink('--accent'),
          endMarkerColor: ink('--accent'),
        },
      },
      (error, peaks) => {
        if (error || !peaks) {
          console.error(error);
          return;
        }
        if (mine !== this.making) return peaks.destroy();
        this.peaks = peaks;
        this.listen(peaks);
      },
    );
  }

  private listen(peaks: PeaksInstance) {
    const view = peaks.views.getView('zoomview')!;
    const peak = Math.max(0.1, this.waveform!.peak);
    view.setAmplitudeScale(nearFill / peak);
    peaks.views.getView('overview')?.setAmplitudeScale(songFill / peak);
    view.setZoom({ seconds: this.visibleSeconds });
    view.setWaveformDragMode(this.draws ? 'insert-segment' : 'scroll');
    view.enableMarkerEditing(true);
    view.setStartTime(Math.max(0, this.seconds - this.visibleSeconds / 2));
    this.putSpans();
    const report = (name: string, detail: object) =>
      this.dispatchEvent(new CustomEvent(name, { bubbles: true, detail }));
    peaks.on('segments.insert', ({ segment }) => {
      peaks.segments.removeById(segment.id!);
      const inside = (seconds: number) => Math.max(0, Math.min(this.durationSeconds, seconds));
      report('drag-range', { from: inside(segment.startTime), to: inside(segment.endTime) });
    });
    peaks.on('segments.dragend', ({ segment }) => {
      const { startSeconds, endSeconds } = this.clamp(segment);
      report('drag-edge', { id: segment.id, startSeconds, endSeconds });
    });
  }

  /** An edge can be dragged past the song's end; it is brought back. */
  private clamp(segment: Segment) {
    const startSeconds = Math.max(0, Math.min(segment.startTime, this.durationSeconds - shortestSpanSeconds));
    const endSeconds = Math.max(
      startSeconds + shortestSpanSeconds,
      Math.min(segment.endTime, this.durationSeconds),
    );
    if (startSeconds !== segment.startTime || endSeconds !== segment.endTime)
      segment.update({ startTime: startSeconds, endTime: endSeconds });
    return { startSeconds, endSeconds };
  }

  private putSpans() {
    const { peaks } = this;
    if (!peaks) return;
    peaks.segments.removeAll();
    const style = getComputedStyle(this);
    const accent = style.getPropertyValue('--accent').trim();
    peaks.segments.add(
      this.spans.map((span) => ({
        id: span.id,
        startTime: span.startSeconds,
        endTime: span.endSeconds,
        labelText: span.label,
        editable: span.editable,
        markers: span.editable,
        overlay: true,
        color: accent,
      })),
    );
  }

  private fit() {
    if (!this.peaks) {
      if (this.waveform && this.clientWidth) void this.make();
      return;
    }
    this.peaks.views.getView('zoomview')?.fitToContainer();
    this.peaks.views.getView('overview')?.fitToContainer();
  }

  /** Lets peaks.js follow our player and steer it. */
  private adapter(): PlayerAdapter {
    return {
      init: async (events) => {
        this.events = events;
        queueMicrotask(() => events.emit('player.canplay'));
      },
      destroy: () => {},
      play: async () => {},
      pause: () => {},
      isPlaying: () => this.playing,
      isSeeking: () => false,
      getCurrentTime: () => this.seconds,
      getDuration: () => this.durationSeconds,
      seek: (seconds) => {
        this.dispatchEvent(new CustomEvent('seek', { bubbles: true, detail: { seconds } }));
      },
    };
  }

  override render() {
    return html`<div class="near" aria-hidden="true"></div><div class="song" aria-hidden="true"></div>`;
  }
}
