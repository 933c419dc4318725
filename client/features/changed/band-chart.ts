import { html } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { hertzWords } from '../../elements/comparison-words.ts';
import { LightElement } from '../../elements/light-element.ts';

/** One bar: a third-octave's difference; `null` where either version has nothing there. */
export interface Bar {
  nominalHz: number;
  differenceDb: number | null;
}

const heightPixels = 260;
/** The scale never closes in further than this, so that a tenth of a decibel doesn't look like a cliff. */
const leastScaleDb = 3;
const labelledHz = [31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 16_000];
const narrowLabelledHz = [63, 250, 1000, 4000, 16_000];

/** Bars up and down from zero, one a third-octave band. */
@customElement('countoff-band-chart')
export class BandChart extends LightElement {
  @property({ attribute: false }) bars: readonly Bar[] = [];
  @property() label = '';
  private chart: uPlot | null = null;
  private width = 0;
  private readonly dark = matchMedia('(prefers-color-scheme: dark)');
  private readonly resized = new ResizeObserver(([entry]) => {
    const width = Math.floor(entry?.contentRect.width ?? 0);
    if (width === this.width || !width) return;
    this.width = width;
    this.draw();
  });

  override connectedCallback() {
    super.connectedCallback();
    this.dark.addEventListener('change', this.redraw);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.dark.removeEventListener('change', this.redraw);
    this.resized.disconnect();
    this.chart?.destroy();
    this.chart = null;
    this.width = 0;
  }

  private redraw = () => this.draw();

  protected override updated() {
    this.resized.observe(this.querySelector('.plot')!);
    this.draw();
  }

  private draw() {
    this.chart?.destroy();
    this.chart = null;
    const holder = this.querySelector<HTMLElement>('.plot');
    if (!holder || !this.width || !this.bars.length) return;
    const color = (name: string) => getComputedStyle(this).getPropertyValue(name).trim();
    const values = this.bars.map((bar) => bar.differenceDb);
    const reach = Math.max(leastScaleDb, ...values.map((value) => Math.abs(value ?? 0) * 1.1));
    const labels = this.width < 480 ? narrowLabelledHz : labelledHz;
    const axis = {
      stroke: color('--ink-2'),
      font: `12px ${color('--sans')}`,
      grid: { stroke: color('--hair'), width: 1 },
      ticks: { show: false },
    };
    this.chart = new uPlot(
      {
        width: this.width,
        height: heightPixels,
        legend: { show: false },
        cursor: { show: false },
        scales: {
          x: { time: false, range: [-0.75, this.bars.length - 0.25] },
          y: { range: [-reach, reach] },
        },
        axes: [
          {
            ...axis,
            grid: { show: false },
            size: 30,
            splits: () =>
              this.bars.flatMap(({ nominalHz }, index) => (labels.includes(nominalHz) ? [index] : [])),
            values: (_chart, splits) => splits.map((index) => hertzWords(this.bars[index]!.nominalHz)),
          },
          {
            ...axis,
            size: 52,
            values: (_chart, splits) =>
              splits.map((value) => (value > 0 ? `+${value}` : String(value).replace('-', '−'))),
          },
        ],
        series: [
          {},
          {
            stroke: color('--accent'),
            fill: color('--accent'),
            width: 0,
            points: { show: false },
            paths: uPlot.paths.bars!({ size: [0.7, 40, 1] }),
            // Bars start at zero, also where all of them point down.
            fillTo: 0,
          },
        ],
        hooks: {
          draw: [
            ({ ctx, bbox, valToPos }) => {
              ctx.save();
              ctx.strokeStyle = color('--ink-2');
              ctx.lineWidth = devicePixelRatio;
              ctx.beginPath();
              const zero = Math.round(valToPos(0, 'y', true));
              ctx.moveTo(bbox.left, zero);
              ctx.lineTo(bbox.left + bbox.width, zero);
              ctx.stroke();
              ctx.restore();
            },
          ],
        },
      },
      [this.bars.map((_bar, index) => index), values],
      holder,
    );
  }

  override render() {
    return html`<figure><figcaption>${this.label}</figcaption><div class="plot" role="img" aria-label=${this.label}></div></figure>`;
  }
}
