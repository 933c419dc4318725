import { html, nothing, type PropertyValues } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { ChangeMap } from '../../api/change.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Comparison, NoteView, VersionView } from '../../api/types.ts';
import { hertzWords } from '../../elements/comparison-words.ts';
import { difference, figure } from '../../elements/figures-table.ts';
import { levelShape } from '../../elements/level-mark.ts';
import { LightElement } from '../../elements/light-element.ts';
import { timeCode } from '../../elements/time-code.ts';
import { WorkedOut } from '../../elements/worked-out.ts';
import { navigate } from '../../navigate.ts';
import { timelineOf } from '../../player/version-timeline.ts';
import '../../plot/plot.css';
import { songAddress } from '../../route.ts';
import { groupPins } from '../../waveform/pin-groups.ts';
import { sharedPieces } from '../listen/line-change.ts';
import { noteLevel } from '../listen/note-entry.ts';
import { placeOfNote } from '../listen/sheet-line.ts';
import './change-map.css';
import { mapScaleDb, strongestCell } from './map-picture.ts';

/** Around the map: frequencies at the left, the sections' names above, times below. */
const gutterPixels = 52;
const labelPixels = 22;
const timePixels = 22;
const mapPixels = 270;
const labelledHz = [63, 125, 250, 500, 1000, 2000, 4000, 8000, 16_000];
const timeSteps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600];
const leastTimePixels = 56;
const arrowSeconds = 1;
const farArrowSeconds = 10;
/** The least distance of two pins for a thumb and for a pointer. */
const thumbPixels = 46;
const pointerPixels = 28;
/** The faintest change that is drawn is still seen. */
const leastStrength = 0.3;

const dark = matchMedia('(prefers-color-scheme: dark)');
const phone = matchMedia('(max-width: 52rem)');

/** Time against frequency: where one version is louder or softer than the other, or differs without being either. */
@customElement('countoff-change-map')
export class ChangeMapPicture extends LightElement {
  @property({ attribute: false }) recordId = '';
  @property({ attribute: false }) songId = '';
  @property({ attribute: false }) older: VersionView | null = null;
  @property({ attribute: false }) newer: VersionView | null = null;
  @property({ attribute: false }) comparison: Comparison | null = null;
  @property({ attribute: false }) notes: readonly NoteView[] = [];
  private readonly drawn = new WorkedOut<ChangeMap>(this, 'The map could not be drawn.');
  @state() private place: { seconds: number; band: number } | null = null;
  @state() private width = 0;
  private byFinger = false;
  private readonly resized = new ResizeObserver(([entry]) => {
    this.width = Math.floor(entry?.contentRect.width ?? 0);
  });
  private readonly recolour = () => this.requestUpdate();

  override connectedCallback() {
    super.connectedCallback();
    dark.addEventListener('change', this.recolour);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    dark.removeEventListener('change', this.recolour);
    this.resized.disconnect();
  }

  protected override willUpdate() {
    const { older, newer, drawn } = this;
    if (!older || !newer || !this.isConnected) return;
    drawn.follow(`${older.id} ${newer.id}`, (signal, onProgress) => {
      this.place = null;
      return songCalls(this.recordId, this.songId).changeMap(older.id, newer.id, signal, onProgress);
    });
  }

  private again = () => {
    const { older, newer } = this;
    if (older && newer)
      void this.drawn.again(() => songCalls(this.recordId, this.songId).drawMapAgain(older.id, newer.id));
  };

  protected override updated(_changed: PropertyValues<this>) {
    const holder = this.querySelector('.map');
    if (holder) this.resized.observe(holder);
    this.draw();
  }

  private get map(): ChangeMap | null {
    return this.drawn.value;
  }

  private get durationSeconds(): number {
    return this.comparison?.durationSeconds.b ?? 0;
  }

  private get plotWidth(): number {
    return Math.max(0, this.width - gutterPixels);
  }

  private listenAddress(seconds: number, hear?: 'change'): string {
    return songAddress(this.recordId, this.songId, 'listen', {
      v: this.newer?.id ?? '',
      a: this.older?.id ?? '',
      t: seconds.toFixed(1),
      ...(hear ? { hear } : {}),
    });
  }

  // Drawing

  private draw() {
    const { map, plotWidth } = this;
    const canvas = this.querySelector('canvas');
    if (!canvas || !map || !plotWidth) return;
    const density = window.devicePixelRatio || 1;
    const height = labelPixels + mapPixels + timePixels;
    canvas.width = Math.round(this.width * density);
    canvas.height = Math.round(height * density);
    const pen = canvas.getContext('2d');
    if (!pen) return;
    const style = getComputedStyle(this);
    const ink = (name: string) => style.getPropertyValue(name).trim();
    pen.scale(density, density);
    this.drawCells(pen, map, plotWidth, density, ink);
    this.drawSections(pen, ink);
    this.drawAxes(pen, map, ink);
    this.drawPlace(pen, map, ink('--ink'));
  }

  /** Cells are painted on a small picture, one pixel a band, and laid over the map. */
  private drawCells(
    pen: CanvasRenderingContext2D,
    map: ChangeMap,
    plotWidth: number,
    density: number,
    ink: (name: string) => string,
  ) {
    const columns = Math.round(plotWidth * density);
    const bands = map.nominalHz.length;
    const small = document.createElement('canvas');
    small.width = columns;
    small.height = bands;
    const smallPen = small.getContext('2d');
    if (!smallPen) return;
    const scaleDb = mapScaleDb(map) ?? 1;
    const hopsInSong = this.durationSeconds / map.hopSeconds;
    const colours = {
      up: ink('--change-up'),
      down: ink('--change-down'),
      'as loud': ink('--change-as-loud'),
      still: '',
      undefined: ink('--tape'),
    };
    for (let column = 0; column < columns; column++) {
      const fromHop = Math.floor((column / columns) * hopsInSong);
      const endHop = Math.max(fromHop + 1, Math.floor(((column + 1) / columns) * hopsInSong));
      for (let band = 0; band < bands; band++) {
        const { sign, differenceDb } = strongestCell(map, band, fromHop, endHop);
        if (sign === 'still') continue;
        smallPen.fillStyle = colours[sign];
        smallPen.globalAlpha =
          sign === 'up' || sign === 'down'
            ? leastStrength + (1 - leastStrength) * Math.min(1, Math.abs(differenceDb ?? 0) / scaleDb)
            : sign === 'as loud'
              ? 0.55
              : 0.8;
        smallPen.fillRect(column, bands - 1 - band, 1, 1);
      }
    }
    pen.imageSmoothingEnabled = false;
    pen.fillStyle = ink('--sheet');
    pen.fillRect(gutterPixels, labelPixels, plotWidth, mapPixels);
    pen.drawImage(small, gutterPixels, labelPixels, plotWidth, mapPixels);
  }

  private drawSections(pen: CanvasRenderingContext2D, ink: (name: string) => string) {
    pen.font = `600 12px ${ink('--serif')}`;
    pen.textBaseline = 'middle';
    pen.textAlign = 'left';
    for (const { name, start, end } of this.comparison?.sections ?? []) {
      const [from, to] = [this.xOf(Math.max(0, start)), this.xOf(Math.min(this.durationSeconds, end))];
      if (!(to > from)) continue;
      pen.fillStyle = ink('--tape');
      pen.fillRect(from + 1, 0, to - from - 2, labelPixels - 3);
      pen.fillStyle = ink('--rule');
      pen.fillRect(from, labelPixels - 3, 1, mapPixels + 3);
      pen.fillStyle = ink('--ink');
      const fitting = [name, initials(name)].find((each) => pen.measureText(each).width < to - from - 8);
      if (fitting) pen.fillText(fitting, from + 5, labelPixels / 2 - 1);
    }
  }

  private drawAxes(pen: CanvasRenderingContext2D, map: ChangeMap, ink: (name: string) => string) {
    pen.font = `12px ${ink('--sans')}`;
    pen.fillStyle = ink('--ink-2');
    pen.textBaseline = 'middle';
    pen.textAlign = 'right';
    const bandPixels = mapPixels / map.nominalHz.length;
    for (const [band, hertz] of map.nominalHz.entries())
      if (labelledHz.includes(hertz))
        pen.fillText(
          hertzWords(hertz),
          gutterPixels - 6,
          labelPixels + mapPixels - (band + 0.5) * bandPixels,
        );
    const most = this.plotWidth / leastTimePixels;
    const step = timeSteps.find((each) => this.durationSeconds / each <= most) ?? timeSteps.at(-1)!;
    pen.textAlign = 'center';
    for (let seconds = 0; seconds < this.durationSeconds; seconds += step) {
      const x = this.xOf(seconds);
      if (x + 14 > this.width) break;
      pen.fillText(timeCode(seconds), Math.max(x, gutterPixels + 12), labelPixels + mapPixels + 13);
    }
    pen.strokeStyle = ink('--rule');
    pen.strokeRect(gutterPixels + 0.5, labelPixels - 0.5, this.plotWidth - 1, mapPixels + 1);
  }

  private drawPlace(pen: CanvasRenderingContext2D, map: ChangeMap, ink: string) {
    if (!this.place) return;
    const bandPixels = mapPixels / map.nominalHz.length;
    const x = Math.round(this.xOf(this.place.seconds));
    pen.fillStyle = ink;
    pen.fillRect(x, labelPixels, 1, mapPixels);
    pen.strokeStyle = ink;
    pen.strokeRect(
      x - 3.5,
      labelPixels + mapPixels - (this.place.band + 1) * bandPixels + 0.5,
      8,
      bandPixels - 1,
    );
  }

  private xOf(seconds: number): number {
    return gutterPixels + (seconds / (this.durationSeconds || 1)) * this.plotWidth;
  }

  // Reading

  private read(seconds: number, band: number) {
    const bands = this.map?.nominalHz.length ?? 1;
    this.place = {
      seconds: Math.max(0, Math.min(this.durationSeconds, seconds)),
      band: Math.max(0, Math.min(bands - 1, band)),
    };
  }

  private pointed = (event: PointerEvent) => {
    const box = (event.currentTarget as Element).getBoundingClientRect();
    const across = (event.clientX - box.left - gutterPixels) / this.plotWidth;
    const up = 1 - (event.clientY - box.top - labelPixels) / mapPixels;
    this.read(across * this.durationSeconds, Math.floor(up * (this.map?.nominalHz.length ?? 1)));
  };

  private pressed = () => {
    // A finger reads first, and follows the link.
    if (this.place && !this.byFinger) navigate(this.listenAddress(this.place.seconds));
  };

  private keys = (event: KeyboardEvent) => {
    const { seconds, band } = this.place ?? { seconds: 0, band: 0 };
    const step = event.shiftKey ? farArrowSeconds : arrowSeconds;
    const places: Record<string, [number, number]> = {
      ArrowLeft: [seconds - step, band],
      ArrowRight: [seconds + step, band],
      ArrowUp: [seconds, band + 1],
      ArrowDown: [seconds, band - 1],
      Home: [0, band],
      End: [this.durationSeconds, band],
    };
    const next = places[event.key];
    if (next) {
      event.preventDefault();
      this.read(...next);
    } else if (event.key === 'Enter') navigate(this.listenAddress(seconds));
  };

  private get placeWords(): string {
    const { map, place } = this;
    if (!map || !place) return '';
    const hop = Math.min(map.hopCount - 1, Math.floor(place.seconds / map.hopSeconds));
    const { sign, differenceDb, residualDb } = strongestCell(map, place.band, hop, hop + 1);
    const section = this.comparison?.sections.find(
      ({ start, end }) => place.seconds >= start && place.seconds < end,
    );
    const found = {
      up: difference(differenceDb, 'dB'),
      down: difference(differenceDb, 'dB'),
      'as loud': 'different, as loud',
      still: 'no change measured',
      undefined: 'no sound to compare',
    }[sign];
    return [
      [timeCode(place.seconds, { tenths: true }), section?.name].filter(Boolean).join(' '),
      hertzWords(map.nominalHz[place.band]!),
      found,
      residualDb === null ? '' : `residual ${figure(residualDb, 'dB', 0)}`,
    ]
      .filter(Boolean)
      .join(' · ');
  }

  // What stands around it

  private pins() {
    const { comparison, durationSeconds } = this;
    if (!comparison || !durationSeconds || !this.plotWidth) return nothing;
    const { inNewer } = timelineOf(sharedPieces(comparison));
    const placed = this.notes.flatMap((note) => {
      const range = placeOfNote(note);
      if (!range || (note.versionId !== this.newer?.id && note.versionId !== this.older?.id)) return [];
      const seconds = note.versionId === this.older?.id ? inNewer(range.startSeconds) : range.startSeconds;
      return [{ at: seconds / durationSeconds, seconds, note }];
    });
    const room = (phone.matches ? thumbPixels : pointerPixels) / this.plotWidth;
    return groupPins(placed, room).map(({ at, members }) => {
      const { seconds, note } = members[0]!;
      const words =
        members.length === 1
          ? `${timeCode(seconds)} ${note.text}`
          : `${members.length} notes from ${timeCode(seconds)}`;
      return html`<a
        class="map-pin ${noteLevel(note)}"
        style=${`left: ${Math.round(gutterPixels + at * this.plotWidth)}px`}
        href=${this.listenAddress(seconds)}
        aria-label=${words}
        title=${words}
        >${levelShape(noteLevel(note))}${members.length > 1 ? html`<i>${members.length}</i>` : nothing}</a
      >`;
    });
  }

  private key(map: ChangeMap) {
    const scaleDb = mapScaleDb(map);
    return html`<figcaption>
      ${
        scaleDb === null
          ? html`<span>Nothing went up or down by half a decibel in any band.</span>`
          : html`<span class="scale"
              ><span>−${scaleDb} dB</span><i class="ramp"></i><span>+${scaleDb} dB</span></span
            >`
      }
      <span class="sign as-loud">different, as loud</span>
      <span class="sign bare">nothing to compare</span>
    </figcaption>`;
  }

  private picture(map: ChangeMap) {
    const { place } = this;
    const words = this.placeWords;
    return html`<figure>
      ${this.key(map)}
      <div class="map">
        <div class="pins">${this.pins()}</div>
        <div
          class="cells"
          role="slider"
          tabindex="0"
          aria-label="Place on the map: left and right in time, up and down in frequency; Enter listens there"
          aria-valuemin="0"
          aria-valuemax=${Math.round(this.durationSeconds)}
          aria-valuenow=${Math.round(place?.seconds ?? 0)}
          aria-valuetext=${words || 'no place chosen'}
          @pointerdown=${(event: PointerEvent) => {
            this.byFinger = event.pointerType === 'touch';
            this.pointed(event);
          }}
          @pointermove=${this.pointed}
          @click=${this.pressed}
          @keydown=${this.keys}
        >
          <canvas
            aria-hidden="true"
            style=${`height: ${labelPixels + mapPixels + timePixels}px`}
          ></canvas>
        </div>
      </div>
      <p class="readout">
        ${
          place
            ? html`<span>${words}</span>
                <a href=${this.listenAddress(place.seconds)}>Listen at ${timeCode(place.seconds)}</a>
                <a href=${this.listenAddress(place.seconds, 'change')}>Hear the change alone there</a>`
            : 'Point at a place to read it; press to listen there.'
        }
      </p>
      ${
        map.limited
          ? html`<p class="quiet-words">
              Something differs throughout these two, so only what moves steadily for some seconds is drawn.
            </p>`
          : nothing
      }
    </figure>`;
  }

  override render() {
    const { map, older, newer } = this;
    const { fault, progress } = this.drawn;
    if (!older || !newer) return nothing;
    return html`<section class="sheet plot-sheet" aria-labelledby="change-map-heading">
      <h2 id="change-map-heading">
        Where it changed <small>${newer.name} over ${older.name}, matched, third-octave by third-octave</small>
      </h2>
      ${
        fault
          ? html`<p class="readout">
              <span role="alert">${fault}</span>
              <button type="button" @click=${this.again}>Draw it again</button>
            </p>`
          : map
            ? this.picture(map)
            : html`<p class="readout" role="status">The map is being drawn …</p>
                <progress max="1" .value=${progress} aria-label="Map of the change"></progress>`
      }
    </section>`;
  }
}

/** `Pre-chorus 2` as `P2`, for a narrow stripe. */
const initials = (name: string) =>
  name
    .split(/\s+/)
    .map((word) => word.charAt(0).toUpperCase())
    .join('');
