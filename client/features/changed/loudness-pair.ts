import { html, nothing, type PropertyValues } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type uPlot from 'uplot';
import type { Series } from '../../api/series.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Comparison, VersionView } from '../../api/types.ts';
import { difference, figure } from '../../elements/figures-table.ts';
import { timeCode } from '../../elements/time-code.ts';
import { type Drawing, PlotElement } from '../../plot/plot-element.ts';

const heightPixels = 220;
/** What lies further under the loudest is silence between notes, and would flatten the rest. */
const mostScaleDb = 30;

/** Short-term loudness of two versions over time, the older one laid where it lies in the newer one. */
@customElement('countoff-loudness-pair')
export class LoudnessPair extends PlotElement {
  @property({ attribute: false }) recordId = '';
  @property({ attribute: false }) songId = '';
  @property({ attribute: false }) older: VersionView | null = null;
  @property({ attribute: false }) newer: VersionView | null = null;
  @property({ attribute: false }) comparison: Comparison | null = null;
  @state() private both: { older: Series; newer: Series } | null = null;
  @state() private hop: number | null = null;
  private stop: AbortController | null = null;
  private read = '';

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.stop?.abort();
    this.read = '';
  }

  protected override willUpdate() {
    const { older, newer } = this;
    const wanted = older && newer && this.isConnected ? `${older.id} ${newer.id}` : '';
    if (wanted === this.read) return;
    this.read = wanted;
    this.both = null;
    this.hop = null;
    this.stop?.abort();
    if (older && newer && wanted) void this.load(older, newer);
  }

  private async load(older: VersionView, newer: VersionView) {
    const stop = new AbortController();
    this.stop = stop;
    const { series } = songCalls(this.recordId, this.songId);
    try {
      const [olderSeries, newerSeries] = await Promise.all([
        series(older.id, stop.signal),
        series(newer.id, stop.signal),
      ]);
      if (this.stop === stop) this.both = { older: olderSeries, newer: newerSeries };
    } catch {
      // The page says what it can without the curves; the figures page says why a version has none.
    }
  }

  protected override redrawnBy(changed: PropertyValues<this>): boolean {
    return changed.has('both' as keyof LoudnessPair) || changed.has('comparison');
  }

  /** The newer version's loudness by hop, and the older one's where the two are laid over each other. */
  private curves(): { newer: (number | null)[]; older: (number | null)[]; hopSeconds: number } | null {
    const { both, comparison } = this;
    if (!both || !comparison) return null;
    const { hopSeconds } = both.newer;
    const newer = both.newer.columns.shortTermLoudnessLufs;
    const source = both.older.columns.shortTermLoudnessLufs;
    const older = newer.map((_value, hop) => {
      const end = (hop + 1) * hopSeconds;
      const piece = comparison.alignment.pieces.find(
        ({ startSecondsB, lengthSeconds }) => end >= startSecondsB && end <= startSecondsB + lengthSeconds,
      );
      if (!piece) return null;
      const place = end - piece.startSecondsB + piece.startSecondsA;
      return source[Math.round(place / both.older.hopSeconds) - 1] ?? null;
    });
    return { newer, older, hopSeconds };
  }

  protected drawing(): Drawing | null {
    const curves = this.curves();
    if (!curves) return null;
    const { newer, older, hopSeconds } = curves;
    const seconds = newer.map((_value, hop) => (hop + 1) * hopSeconds);
    const loudest = [...newer, ...older].reduce<number>(
      (most, value) => Math.max(most, value ?? -Infinity),
      -70,
    );
    const top = Math.ceil((loudest + 0.5) / 5) * 5;
    const line = (color: string, width: number, dash?: number[]): uPlot.Series => ({
      stroke: this.color(color),
      width,
      dash,
      points: { show: false },
    });
    return {
      options: {
        height: heightPixels,
        legend: { show: false },
        cursor: { y: false, drag: { x: false, y: false }, points: { show: false } },
        scales: {
          x: { time: false, range: [0, newer.length * hopSeconds] },
          y: { range: [top - mostScaleDb, top] },
        },
        axes: this.timeAndLevelAxes(),
        series: [{}, line('--ink-2', 1.5, [4, 3]), line('--accent', 2.5)],
        hooks: {
          setCursor: [
            (chart) => {
              const { idx } = chart.cursor;
              if (idx !== null && idx !== undefined) this.hop = idx;
            },
          ],
        },
      },
      data: [seconds, older, newer],
    };
  }

  private get words(): string {
    const curves = this.curves();
    if (!curves || this.hop === null) return 'Point at a place to read it.';
    const { older, newer, hopSeconds } = curves;
    const [before, now] = [older[this.hop] ?? null, newer[this.hop] ?? null];
    const moved = before === null || now === null ? '–' : difference(now - before, 'LU');
    return [
      timeCode((this.hop + 1) * hopSeconds, { tenths: true }),
      `${this.older?.name} ${figure(before, 'LUFS')}`,
      `${this.newer?.name} ${figure(now, 'LUFS')}`,
      moved,
    ].join(' · ');
  }

  override render() {
    const { older, newer, both } = this;
    return html`<section class="sheet plot-sheet">
      <h2>Loudness of both over time</h2>
      <figure>
        <figcaption class="pair-key">
          <span class="newer">${newer?.name}</span> <span class="older">${older?.name}, laid where it lies in ${newer?.name}</span>
          <small>short-term, LUFS, as the files are</small>
        </figcaption>
        <div class="plot" role="img" aria-label="Short-term loudness of ${newer?.name} and ${older?.name} over time"></div>
        ${both ? html`<p class="readout">${this.words}</p>` : nothing}
      </figure>
    </section>`;
  }
}
