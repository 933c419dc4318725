import { html, nothing, type PropertyValues } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import uPlot from 'uplot';
import { hertzWords } from '../elements/comparison-words.ts';
import { type Drawing, PlotElement } from './plot-element.ts';

/** One bar; `value` is `null` where there is nothing in the band. */
export interface Bar {
  nominalHz: number;
  value: number | null;
}

const labelledHz = [31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 16_000];
const narrowLabelledHz = [63, 250, 1000, 4000, 16_000];
const narrowPixels = 480;

/** A bar for each third-octave band; pointing at one reads it. */
@customElement('countoff-third-octaves')
export class ThirdOctaveChart extends PlotElement {
  @property({ attribute: false }) bars: readonly Bar[] = [];
  @property() label = '';
  /** Lowest and highest value of the scale. */
  @property({ attribute: false }) range: readonly [number, number] = [-1, 1];
  /** Where the bars begin. */
  @property({ type: Number }) base = 0;
  @property({ type: Number }) heightPixels = 260;
  /** A value as it is read out. */
  @property({ attribute: false }) words: (value: number | null) => string = String;
  /** A step of the scale as it is written beside it. */
  @property({ attribute: false }) stepWords: (value: number) => string = (value) =>
    String(value).replace('-', '−');
  @state() private pointed: number | null = null;

  protected override redrawnBy(changed: PropertyValues<this>): boolean {
    return !(changed.size === 1 && changed.has('pointed' as keyof ThirdOctaveChart));
  }

  protected drawing(): Drawing | null {
    const { bars, base } = this;
    if (!bars.length) return null;
    const labels = this.width < narrowPixels ? narrowLabelledHz : labelledHz;
    const axis = this.axis();
    return {
      options: {
        height: this.heightPixels,
        legend: { show: false },
        cursor: { x: false, y: false, points: { show: false }, drag: { x: false, y: false } },
        scales: {
          x: { time: false, range: [-0.75, bars.length - 0.25] },
          y: { range: [...this.range] },
        },
        axes: [
          {
            ...axis,
            grid: { show: false },
            size: 30,
            splits: () => bars.flatMap(({ nominalHz }, index) => (labels.includes(nominalHz) ? [index] : [])),
            values: (_chart, splits) => splits.map((index) => hertzWords(bars[index]!.nominalHz)),
          },
          { ...axis, size: 46, values: (_chart, splits) => splits.map(this.stepWords) },
        ],
        series: [
          {},
          {
            stroke: this.color('--accent'),
            fill: this.color('--accent'),
            width: 0,
            points: { show: false },
            paths: uPlot.paths.bars!({ size: [0.7, 40, 1] }),
            // Bars start at the base, also where all of them point down.
            fillTo: base,
          },
        ],
        hooks: {
          draw: [(chart) => this.levelLine(chart, base, this.color('--ink-2'))],
          setCursor: [
            ({ cursor: { idx, left } }) => {
              if (typeof idx === 'number' && (left ?? -1) >= 0) this.pointed = idx;
            },
          ],
        },
      },
      data: [bars.map((_bar, index) => index), bars.map(({ value }) => value)],
    };
  }

  override render() {
    const bar = this.pointed === null ? null : this.bars[this.pointed];
    return html`<figure>
      <figcaption>${this.label}</figcaption>
      <div class="plot" role="img" aria-label=${this.label}></div>
      <p class="readout" aria-hidden="true">
        ${bar ? html`${hertzWords(bar.nominalHz)} <b>${this.words(bar.value)}</b>` : nothing}
      </p>
    </figure>`;
  }
}
