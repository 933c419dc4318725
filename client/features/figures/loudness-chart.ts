import { html, nothing, type PropertyValues } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type uPlot from 'uplot';
import type { Series } from '../../api/series.ts';
import { figure } from '../../elements/figures-table.ts';
import { timeCode } from '../../elements/time-code.ts';
import { type Drawing, PlotElement } from '../../plot/plot-element.ts';

export interface NamedStretch {
  name: string;
  start: number;
  end: number;
}

const heightPixels = 300;
const labelPixels = 22;
/** What lies further under the loudest is silence between notes, and would flatten the rest. */
const mostScaleDb = 40;
/** The scale never closes in further than this, so that a tenth of a decibel doesn't look like a cliff. */
const leastScaleDb = 20;
const arrowSeconds = 1;
const farArrowSeconds = 10;

/**
 * Momentary and short-term loudness over a song, its sections as stripes, its integrated loudness as a line.
 *
 * @fires choose-time `{ seconds }` where a place is pressed; a finger only reads it, and follows the link.
 */
@customElement('countoff-loudness-chart')
export class LoudnessChart extends PlotElement {
  @property({ attribute: false }) series: Series | null = null;
  @property({ attribute: false }) sections: readonly NamedStretch[] = [];
  @property({ attribute: false }) integratedLoudnessLufs: number | null = null;
  @property({ type: Boolean }) peaks = false;
  @property({ attribute: false }) listenAddress: (seconds: number) => string = () => '';
  @state() private place: number | null = null;
  private byFinger = false;

  protected override redrawnBy(changed: PropertyValues<this>): boolean {
    const drawn: (keyof LoudnessChart)[] = ['series', 'sections', 'integratedLoudnessLufs', 'peaks'];
    return drawn.some((name) => changed.has(name));
  }

  private get durationSeconds(): number {
    return this.series ? this.series.columns.momentaryLoudnessLufs.length * this.series.hopSeconds : 0;
  }

  protected drawing(): Drawing | null {
    const { series } = this;
    if (!series) return null;
    const { momentaryLoudnessLufs, shortTermLoudnessLufs, truePeakDbtp } = series.columns;
    const seconds = momentaryLoudnessLufs.map((_value, hop) => (hop + 1) * series.hopSeconds);
    const columns = [momentaryLoudnessLufs, shortTermLoudnessLufs, ...(this.peaks ? [truePeakDbtp] : [])];
    const line = (color: string, width: number): uPlot.Series => ({
      stroke: this.color(color),
      width,
      points: { show: false },
    });
    return {
      options: {
        height: heightPixels,
        padding: [labelPixels, 8, 0, 0],
        legend: { show: false },
        cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
        scales: {
          x: { time: false, range: [0, this.durationSeconds] },
          y: { range: scaleOf(columns) },
        },
        axes: this.timeAndLevelAxes(),
        series: [
          {},
          line('--edge', 1),
          line('--accent', 2.5),
          ...(this.peaks ? [line('--production', 1)] : []),
        ],
        hooks: {
          drawClear: [(chart) => this.stripes(chart)],
          draw: [
            (chart) => {
              if (this.integratedLoudnessLufs !== null)
                this.levelLine(chart, this.integratedLoudnessLufs, this.color('--ink'), [6, 4]);
            },
          ],
          setCursor: [
            (chart) => {
              const { left } = chart.cursor;
              if (left !== undefined && left >= 0) this.place = this.inside(chart.posToVal(left, 'x'));
            },
          ],
        },
      },
      data: [seconds, ...columns],
    };
  }

  /** Every other section shaded, its name above where there is room. */
  private stripes({ ctx, bbox, valToPos }: uPlot) {
    const ratio = devicePixelRatio;
    ctx.save();
    ctx.font = `600 ${12 * ratio}px ${this.color('--serif')}`;
    ctx.textBaseline = 'middle';
    for (const [index, { name, start, end }] of this.sections.entries()) {
      const from = valToPos(Math.max(0, start), 'x', true);
      const to = valToPos(Math.min(this.durationSeconds, end), 'x', true);
      if (!(to > from)) continue;
      const label = labelPixels * ratio;
      ctx.fillStyle = this.color('--tape');
      ctx.fillRect(from + ratio, bbox.top - label, to - from - 2 * ratio, label - 3 * ratio);
      ctx.globalAlpha = 0.45;
      if (index % 2 === 0) ctx.fillRect(from, bbox.top, to - from, bbox.height);
      ctx.globalAlpha = 1;
      ctx.fillStyle = this.color('--ink-2');
      const fitting = [name, initials(name)].find(
        (each) => ctx.measureText(each).width < to - from - 6 * ratio,
      );
      if (fitting) ctx.fillText(fitting, from + 4 * ratio, bbox.top - label / 2 - ratio);
    }
    ctx.restore();
  }

  private inside(seconds: number): number {
    return Math.max(0, Math.min(this.durationSeconds, seconds));
  }

  private pressed = (event: MouseEvent) => {
    const over = this.chart?.over;
    if (!over || this.byFinger || !over.contains(event.target as Node)) return;
    const seconds = this.inside(this.chart!.posToVal(event.clientX - over.getBoundingClientRect().left, 'x'));
    this.choose(seconds);
  };

  private choose(seconds: number) {
    this.dispatchEvent(new CustomEvent('choose-time', { detail: { seconds }, bubbles: true }));
  }

  private keys = (event: KeyboardEvent) => {
    const step = event.shiftKey ? farArrowSeconds : arrowSeconds;
    const at = this.place ?? 0;
    const places: Record<string, number> = {
      ArrowLeft: at - step,
      ArrowDown: at - step,
      ArrowRight: at + step,
      ArrowUp: at + step,
      Home: 0,
      End: this.durationSeconds,
    };
    const next = places[event.key];
    if (next !== undefined) {
      event.preventDefault();
      this.place = this.inside(next);
      const left = this.chart?.valToPos(this.place, 'x') ?? 0;
      this.chart?.setCursor({ left, top: 0 }, false);
    } else if (event.key === 'Enter') this.choose(at);
  };

  private get placeWords(): string {
    const { series, place } = this;
    if (!series || place === null) return '';
    const { momentaryLoudnessLufs, shortTermLoudnessLufs, truePeakDbtp } = series.columns;
    const last = momentaryLoudnessLufs.length - 1;
    const hop = Math.max(0, Math.min(last, Math.round(place / series.hopSeconds) - 1));
    const section = this.sections.find(({ start, end }) => place >= start && place < end);
    return [
      [timeCode(place, { tenths: true }), section?.name].filter(Boolean).join(' '),
      `momentary ${figure(momentaryLoudnessLufs[hop], 'LUFS')}`,
      `short-term ${figure(shortTermLoudnessLufs[hop], 'LUFS')}`,
      `true peak ${figure(truePeakDbtp[hop], 'dBTP')}`,
    ].join(' · ');
  }

  override render() {
    const { place } = this;
    return html`<figure>
      <figcaption class="key">
        <span class="momentary">momentary</span> <span class="short-term">short-term</span>
        <span class="integrated">integrated</span>
        ${this.peaks ? html`<span class="true-peak">true peak, dBTP</span>` : nothing} <small>LUFS over time</small>
      </figcaption>
      <div
        class="plot"
        role="slider"
        tabindex="0"
        aria-label="Place in the song; Enter listens there"
        aria-valuemin="0"
        aria-valuemax=${Math.round(this.durationSeconds)}
        aria-valuenow=${Math.round(place ?? 0)}
        aria-valuetext=${this.placeWords || 'no place chosen'}
        @pointerdown=${(event: PointerEvent) => {
          this.byFinger = event.pointerType === 'touch';
        }}
        @click=${this.pressed}
        @keydown=${this.keys}
      ></div>
      <p class="readout">
        ${
          place === null
            ? 'Point at a place to read it; press to listen there.'
            : html`<span>${this.placeWords}</span>
                <a href=${this.listenAddress(place)}>Listen at ${timeCode(place)}</a>`
        }
      </p>
    </figure>`;
  }
}

/** From the loudest value down, in steps of five. */
function scaleOf(columns: readonly (number | null)[][]): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const column of columns)
    for (const value of column) {
      if (value === null) continue;
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
  if (low > high) return [-mostScaleDb, 0];
  const top = Math.ceil((high + 0.5) / 5) * 5;
  const bottom = Math.min(top - leastScaleDb, Math.floor(low / 5) * 5);
  return [Math.max(top - mostScaleDb, bottom), top];
}

/** `Pre-chorus 2` as `P2`, for a narrow stripe. */
const initials = (name: string) =>
  name
    .split(/\s+/)
    .map((word) => word.charAt(0).toUpperCase())
    .join('');
