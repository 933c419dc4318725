import type { PropertyValues } from 'lit';
import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { LightElement } from '../elements/light-element.ts';
import { timeCode } from '../elements/time-code.ts';
import './plot.css';

/** What is drawn: uPlot's options without a width, which the page decides. */
export interface Drawing {
  options: Omit<uPlot.Options, 'width'>;
  data: uPlot.AlignedData;
}

/** A plot in its element's `.plot`: as wide as there is room, drawn anew when that, the data or the colour scheme changes. */
export abstract class PlotElement extends LightElement {
  protected chart: uPlot | null = null;
  protected width = 0;
  private readonly dark = matchMedia('(prefers-color-scheme: dark)');
  private readonly resized = new ResizeObserver(([entry]) => {
    const width = Math.floor(entry?.contentRect.width ?? 0);
    if (width === this.width || !width) return;
    this.width = width;
    this.draw();
  });

  /** What to draw; `null` for nothing. */
  protected abstract drawing(): Drawing | null;

  /** Whether a change of these properties changes the drawing. */
  protected redrawnBy(_changed: PropertyValues<this>): boolean {
    return true;
  }

  override connectedCallback() {
    super.connectedCallback();
    this.dark.addEventListener('change', this.draw);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.dark.removeEventListener('change', this.draw);
    this.resized.disconnect();
    this.chart?.destroy();
    this.chart = null;
    this.width = 0;
  }

  protected override updated(changed: PropertyValues<this>) {
    this.resized.observe(this.querySelector('.plot')!);
    if (this.redrawnBy(changed)) this.draw();
  }

  private draw = () => {
    this.chart?.destroy();
    this.chart = null;
    const holder = this.querySelector<HTMLElement>('.plot');
    const drawing = holder && this.width ? this.drawing() : null;
    if (holder && drawing)
      this.chart = new uPlot({ ...drawing.options, width: this.width }, drawing.data, holder);
  };

  protected color(name: string): string {
    return getComputedStyle(this).getPropertyValue(name).trim();
  }

  protected font(pixels: number): string {
    return `${pixels}px ${this.color('--sans')}`;
  }

  protected axis(): uPlot.Axis {
    return {
      stroke: this.color('--ink-2'),
      font: this.font(12),
      grid: { stroke: this.color('--hair'), width: 1 },
      ticks: { show: false },
    };
  }

  /** Minutes and seconds below, levels in decibels beside. */
  protected timeAndLevelAxes(): uPlot.Axis[] {
    const axis = this.axis();
    return [
      {
        ...axis,
        grid: { show: false },
        size: 30,
        incrs: [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200],
        values: (_chart, splits) => splits.map((each) => timeCode(each)),
      },
      {
        ...axis,
        size: 46,
        values: (_chart, splits) => splits.map((each) => String(each).replace('-', '−')),
      },
    ];
  }

  /** A line across the plot at a value of the upright scale. */
  protected levelLine({ ctx, bbox, valToPos }: uPlot, value: number, color: string, dash: number[] = []) {
    ctx.save();
    ctx.strokeStyle = color;
    ctx.lineWidth = devicePixelRatio;
    ctx.setLineDash(dash.map((length) => length * devicePixelRatio));
    ctx.beginPath();
    const y = Math.round(valToPos(value, 'y', true));
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
    ctx.restore();
  }
}
