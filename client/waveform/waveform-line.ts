import { html, type PropertyValues } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import type { Range } from '../api/types.ts';
import { LightElement } from '../elements/light-element.ts';
import { timeCode } from '../elements/time-code.ts';
import type { VersionTimeline } from '../player/version-timeline.ts';
import { waveformBars } from './waveform-bars.ts';
import type { Waveform } from './waveform-store.ts';

const barPitch = 4;
const barWidth = 2;
const ghostWidth = 3.4;
/** How far a press may wander and still be a press. */
const pressTolerance = 6;

const darkScheme = window.matchMedia('(prefers-color-scheme: dark)');

/** Reports: `seek` with seconds; `drag` with a range while one is dragged; `step` with seconds from the keys. */
@customElement('countoff-waveform-line')
export class WaveformLine extends LightElement {
  @property({ attribute: false }) waveform: Waveform | null = null;
  /** The older version, drawn pale behind; at the gain that it is matched with. */
  @property({ attribute: false }) ghost: Waveform | null = null;
  @property({ attribute: false }) timeline: VersionTimeline | null = null;
  @property({ attribute: false }) gain = 1;
  @property({ attribute: false }) ghostGain = 1;
  /** The value drawn at full height. */
  @property({ attribute: false }) fullHeight = 1;
  @property({ attribute: false }) startSeconds = 0;
  @property({ attribute: false }) endSeconds = 0;
  /** Within the line; the line's end when it has been played, its start when not. */
  @property({ attribute: false }) playheadSeconds = 0;
  @property({ attribute: false }) selection: Range | null = null;
  @property({ attribute: false }) name = '';
  private canvas: HTMLCanvasElement | null = null;
  private pressed: { pointerId: number; x: number; seconds: number; dragged: boolean } | null = null;
  private bars: Float32Array = new Float32Array();
  private ghostBars: Float32Array = new Float32Array();
  private width = 0;
  private readonly resized = new ResizeObserver(() => this.measure());
  private readonly recolour = () => this.draw();

  override connectedCallback() {
    super.connectedCallback();
    darkScheme.addEventListener('change', this.recolour);
    if (this.canvas) this.resized.observe(this.canvas);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    darkScheme.removeEventListener('change', this.recolour);
    this.resized.disconnect();
  }

  protected override firstUpdated() {
    this.canvas = this.querySelector('canvas');
    if (this.canvas) this.resized.observe(this.canvas);
  }

  protected override updated(changed: PropertyValues<this>) {
    const shape = ['waveform', 'ghost', 'timeline', 'startSeconds', 'endSeconds'] as const;
    if (shape.some((name) => changed.has(name))) this.measure();
    else this.draw();
  }

  /** The moment of a place on the screen, if it lies within the line's height or the line holds the press. */
  secondsAt(clientX: number): number {
    const box = this.getBoundingClientRect();
    const fraction = Math.max(0, Math.min(1, (clientX - box.left) / box.width));
    return this.startSeconds + fraction * (this.endSeconds - this.startSeconds);
  }

  private measure() {
    const { canvas, waveform, ghost, timeline, startSeconds, endSeconds } = this;
    if (!canvas) return;
    this.width = canvas.clientWidth;
    const count = Math.max(1, Math.floor(this.width / barPitch));
    this.bars = waveform ? waveformBars(waveform.data, startSeconds, endSeconds, count) : new Float32Array();
    const inOlder = timeline?.inOlder ?? ((seconds: number) => seconds);
    this.ghostBars = ghost
      ? waveformBars(ghost.data, inOlder(startSeconds), inOlder(endSeconds), count)
      : new Float32Array();
    this.draw();
  }

  private draw() {
    const { canvas, width } = this;
    if (!canvas || !width) return;
    const height = canvas.clientHeight;
    const density = window.devicePixelRatio || 1;
    if (canvas.width !== Math.round(width * density) || canvas.height !== Math.round(height * density)) {
      canvas.width = Math.round(width * density);
      canvas.height = Math.round(height * density);
    }
    const pen = canvas.getContext('2d');
    if (!pen) return;
    const style = getComputedStyle(this);
    const ink = (name: string) => style.getPropertyValue(name).trim();
    const xOf = (seconds: number) =>
      ((seconds - this.startSeconds) / (this.endSeconds - this.startSeconds)) * width;
    pen.setTransform(density, 0, 0, density, 0, 0);
    pen.clearRect(0, 0, width, height);
    const draw = (bars: Float32Array, gain: number, thickness: number, colourOf: (x: number) => string) => {
      for (let bar = 0; bar < bars.length; bar++) {
        const x = bar * barPitch + barPitch / 2;
        const half = Math.max(0.5, Math.min(1, (bars[bar]! * gain) / this.fullHeight) * (height / 2 - 1));
        pen.fillStyle = colourOf(x);
        pen.fillRect(x - thickness / 2, height / 2 - half, thickness, half * 2);
      }
    };
    const [wave, played, pale] = [ink('--wave'), ink('--wave-played'), ink('--wave-ghost')];
    const playedTo = xOf(this.playheadSeconds);
    draw(this.ghostBars, this.ghostGain, ghostWidth, () => pale);
    draw(this.bars, this.gain, barWidth, (x) => (x <= playedTo ? played : wave));
    this.drawSelection(pen, xOf, height, ink('--accent'));
    if (this.playheadSeconds > this.startSeconds && this.playheadSeconds < this.endSeconds) {
      pen.fillStyle = ink('--accent');
      pen.fillRect(playedTo - 1, 0, 2, height);
    }
  }

  private drawSelection(
    pen: CanvasRenderingContext2D,
    xOf: (seconds: number) => number,
    height: number,
    accent: string,
  ) {
    const { selection } = this;
    if (!selection) return;
    const end = selection.endSeconds ?? selection.startSeconds;
    if (end < this.startSeconds || selection.startSeconds >= this.endSeconds) return;
    const left = Math.max(-2, xOf(selection.startSeconds));
    const right = Math.min(this.width + 2, xOf(end));
    pen.fillStyle = accent;
    pen.globalAlpha = 0.14;
    pen.fillRect(left, 0, right - left, height);
    pen.globalAlpha = 1;
    pen.fillRect(left - 0.5, 0, 1, height);
    pen.fillRect(right - 0.5, 0, 1, height);
  }

  private press(event: PointerEvent) {
    if (event.button !== 0) return;
    const seconds = this.secondsAt(event.clientX);
    this.pressed = { pointerId: event.pointerId, x: event.clientX, seconds, dragged: false };
    (event.currentTarget as Element).setPointerCapture(event.pointerId);
  }

  private move(event: PointerEvent) {
    const { pressed } = this;
    if (pressed?.pointerId !== event.pointerId) return;
    if (!pressed.dragged && Math.abs(event.clientX - pressed.x) < pressTolerance) return;
    pressed.dragged = true;
    // A range may end on another line than it began on.
    const under = document
      .elementsFromPoint(event.clientX, event.clientY)
      .find((element): element is WaveformLine => element instanceof WaveformLine);
    const to = (under ?? this).secondsAt(event.clientX);
    this.dispatchEvent(
      new CustomEvent('drag-range', { bubbles: true, detail: { from: pressed.seconds, to } }),
    );
  }

  private release(event: PointerEvent) {
    const { pressed } = this;
    if (pressed?.pointerId !== event.pointerId) return;
    this.pressed = null;
    if (!pressed.dragged) this.seek(pressed.seconds);
  }

  private cancel() {
    this.pressed = null;
  }

  private seek(seconds: number) {
    this.dispatchEvent(new CustomEvent('seek', { bubbles: true, detail: { seconds } }));
  }

  private keys(event: KeyboardEvent) {
    if (event.key === 'Home') this.seek(this.startSeconds);
    else if (event.key === 'End') this.seek(this.endSeconds);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  override render() {
    const now = Math.floor(Math.max(this.startSeconds, Math.min(this.endSeconds, this.playheadSeconds)));
    return html`<div
      class="strip"
      role="slider"
      tabindex="0"
      aria-label=${`Playhead in ${this.name}`}
      aria-valuemin=${Math.floor(this.startSeconds)}
      aria-valuemax=${Math.ceil(this.endSeconds)}
      aria-valuenow=${now}
      aria-valuetext=${timeCode(now)}
      @pointerdown=${this.press}
      @pointermove=${this.move}
      @pointerup=${this.release}
      @pointercancel=${this.cancel}
      @keydown=${this.keys}
    ><canvas aria-hidden="true"></canvas></div>`;
  }
}
