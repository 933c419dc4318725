import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../../api/call.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Comparison, SongSheet, VersionView } from '../../api/types.ts';
import { announceRefusal, attempt } from '../../elements/announcer.ts';
import { AskedBetween } from '../../elements/asked-between.ts';
import { askedList } from '../../elements/asked-list.ts';
import {
  type ComparedSection,
  hertzWords,
  isChanged,
  largestBands,
  oneChangeWords,
} from '../../elements/comparison-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { difference, figure } from '../../elements/figures-table.ts';
import { hashGroups } from '../../elements/file-hash.ts';
import { timeCode } from '../../elements/time-code.ts';
import '../../elements/unasked-list.ts';
import type { ExplainedChange } from '../../elements/unasked-list.ts';
import { navigate } from '../../navigate.ts';
import '../../plot/third-octave-chart.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import './change-map.ts';
import './loudness-pair.ts';
import './stem-changes.ts';
import './changed.css';

export const tag = 'countoff-changed';

interface Pair {
  older: VersionView;
  newer: VersionView;
}

/** The scale never closes in further than this, so that a tenth of a decibel doesn't look like a cliff. */
const leastScaleDb = 3;
const differenceWords = (value: number | null) => difference(value, 'dB');
const date = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeStyle: 'short', timeZone: 'UTC' });
const dateWords = (at: string | number) => `${date.format(new Date(at))} UTC`;
const stepWords = (value: number) => (value > 0 ? `+${value}` : String(value).replace('-', '−'));

const doubtWords: Record<NonNullable<ComparedSection['doubt']>, string> = {
  outside_file: 'reaches outside the newer version',
  too_short: 'too short to judge',
  little_in_common: 'too little sounds in both',
};

/**
 * What changed from one version to another: a sentence, what was asked with its verdicts, what nobody asked for, then the
 * sections and the third-octaves of each. Printed, it is a record of all that without the controls.
 */
@customElement(tag)
export class ChangedPage extends FeatureElement {
  @state() private comparison: Comparison | null = null;
  @state() private progress = 0;
  @state() private fault: string | null = null;
  /** Which section the plot shows; −1 is the whole song. */
  @state() private chosen = -1;
  private compared = '';
  private stop: AbortController | null = null;
  private readonly asked = new AskedBetween(this);

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.stop?.abort();
    this.compared = '';
  }

  /** The versions that the address names, else the newest one and the one before it. */
  private pair(sheet: SongSheet): Pair | null {
    const { versions } = sheet;
    const named = (name: string) => versions.find((version) => version.id === this.query.get(name));
    const newer = named('b') ?? versions.at(-1);
    if (!newer) return null;
    const before = versions.filter((version) => version !== newer && version.postedAt <= newer.postedAt);
    const older = named('a') ?? before.findLast((version) => version.gate === newer.gate) ?? before.at(-1);
    return older && older !== newer ? { older, newer } : null;
  }

  protected override willUpdate() {
    const { sheet } = this;
    if (!sheet || !this.isConnected) return;
    const pair = this.pair(sheet);
    this.asked.follow(
      pair && `${pair.older.id} ${pair.newer.id}`,
      `${sheet.song.sectionMap.revision} ${sheet.record.sequence}`,
      (signal, onProgress) =>
        songCalls(this.recordId, this.songId).asked(
          pair?.older.id ?? '',
          pair?.newer.id ?? '',
          signal,
          onProgress,
        ),
    );
    const key = pair ? `${pair.older.id} ${pair.newer.id} ${sheet.song.sectionMap.revision}` : '';
    if (key === this.compared) return;
    this.compared = key;
    this.stop?.abort();
    this.comparison = null;
    this.fault = null;
    this.progress = 0;
    if (pair) void this.compare(pair, key);
  }

  private async compare({ older, newer }: Pair, key: string) {
    const stop = new AbortController();
    this.stop = stop;
    try {
      const comparison = await songCalls(this.recordId, this.songId).comparison(
        older.id,
        newer.id,
        stop.signal,
        (progress) => {
          this.progress = progress;
        },
      );
      if (key !== this.compared) return;
      this.comparison = comparison;
      this.chosen = comparison.sections.findIndex(isChanged);
    } catch (error) {
      if (stop.signal.aborted) return;
      if (error instanceof Refusal) this.fault = error.message;
      else announceRefusal(error);
    }
  }

  private choose(name: 'a' | 'b', event: Event) {
    const pair = this.sheet && this.pair(this.sheet);
    const query = { a: pair?.older.id ?? '', b: pair?.newer.id ?? '' };
    query[name] = (event.target as HTMLSelectElement).value;
    navigate(songAddress(this.recordId, this.songId, 'changed', query), { replace: true });
  }

  private versionChoice(sheet: SongSheet, label: string, name: 'a' | 'b', chosen: VersionView | undefined) {
    return html`<label class="field"
      >${label}<select @change=${(event: Event) => this.choose(name, event)}>
        ${sheet.versions.map((version) => html`<option value=${version.id} ?selected=${version === chosen}>${version.name}</option>`)}
      </select></label
    >`;
  }

  private listenAt({ older, newer }: Pair, seconds: number): string {
    const t = String(Math.round(seconds * 10) / 10);
    return songAddress(this.recordId, this.songId, 'listen', { v: newer.id, a: older.id, t });
  }

  private explain({ older, newer }: Pair, { place, text }: ExplainedChange) {
    void attempt(
      () =>
        songCalls(this.recordId, this.songId).explainChange(older.id, newer.id, {
          place,
          text,
        }),
      'Explained. Everybody on the record reads it here.',
    );
  }

  private askedSection(pair: Pair) {
    const { told, progress, fault } = this.asked;
    const rounds = told?.rounds.map(({ gate, number }) => `${gate} round ${number}`).join(' and ');
    const heading = html`<h2>Asked <small>${rounds ? `${rounds}, held against what was measured in ${pair.newer.name}` : ''}</small></h2>`;
    if (!told)
      return html`<section class="list">${heading}
        <p class="said" role="status">${fault ?? `Comparing … ${Math.round((progress ?? 0) * 100)} %`}</p></section>`;
    const noRequest = told.answersList
      ? 'The list held no request that this version was to answer.'
      : `No list was sent between ${pair.older.name} and ${pair.newer.name}, so nothing was asked of it${pair.newer.printNotes ? '; its print notes say what was done' : ''}.`;
    return html`<section class="list">
      ${heading}
      ${told.asked.length ? askedList(told.asked, (view) => this.listenAt(pair, view.playSeconds)) : html`<p class="said">${noRequest}</p>`}
      ${told.asked.length ? html`<p class="said">${told.stems === null ? 'The measurement sees bands and places, not parts.' : told.stems === 'pending' ? 'The stems are still being compared; until they are, the measurement sees bands and places.' : told.stems === 'failed' ? 'The stems could not be compared, so the measurement sees bands and places.' : 'Where stems tell the part, its own gain decides; elsewhere the measurement sees bands and places.'} Whether a request is done is for the ear of whoever asked.</p>` : nothing}
    </section>`;
  }

  private unaskedSection(pair: Pair) {
    const { told } = this.asked;
    if (!told || told.fault) return nothing;
    const { unasked, answersList, mayExplain } = told;
    return html`<section
      class="list"
      @explain-change=${({ detail }: CustomEvent<ExplainedChange>) => this.explain(pair, detail)}
    >
      <h2>${answersList ? 'Not asked' : 'Changed'} <small>${answersList ? 'measured, and in no request; the biggest first' : 'the biggest first'}</small></h2>
      ${
        unasked.length
          ? html`<countoff-unasked-list
              .changes=${unasked}
              .answersList=${answersList}
              .mayExplain=${mayExplain}
              .listenAddress=${({ place }: (typeof unasked)[number]) => this.listenAt(pair, Math.max(0, (place?.startSeconds ?? 0) - 1))}
            ></countoff-unasked-list>`
          : html`<p class="said">No change measured outside what was asked for. A section without a measured change can still differ by less than can be measured.</p>`
      }
    </section>`;
  }

  /** What stands at the head of the printed page alone. */
  private printedRecord(sheet: SongSheet, { older, newer }: Pair) {
    const version = ({ name, file, postedAt, postedBy }: VersionView) => html`<div>
      <dt>${name}</dt>
      <dd>${file.fileName}, posted by ${postedBy.name}, ${dateWords(postedAt)}<br /><span class="hash">SHA-256 ${hashGroups(file.sha256)}</span></dd>
    </div>`;
    return html`<dl class="pairs printed">
      <div><dt>Record</dt><dd>${sheet.record.title} · ${sheet.record.act}</dd></div>
      ${version(older)} ${version(newer)}
      <div><dt>Printed</dt><dd>${dateWords(Date.now())}, at ledger entry ${sheet.record.sequence}</dd></div>
    </dl>`;
  }

  private facts({ older, newer }: Pair, comparison: Comparison) {
    const { offsetFrames, alignment, gainDb } = comparison;
    const milliseconds = Math.abs(alignment.offsetSeconds * 1000);
    return html`<div class="facts">
      <span
        >${newer.name} starts
        <b>${offsetFrames === 0 ? 'at the same place' : `${milliseconds.toFixed(milliseconds < 10 ? 2 : 0)} ms ${offsetFrames > 0 ? 'later' : 'earlier'}`}</b>; aligned</span
      >
      <span>As a whole <b>${Math.abs(gainDb) < 0.005 ? 'at the same gain' : difference(gainDb, 'dB', 2)}</b>; ${older.name} was matched to it</span>
      ${alignment.polarity === -1 ? html`<span>Polarity <b>turned over</b></span>` : nothing}
      ${comparison.nullDepthDb === null ? nothing : html`<span>Best null <b>${figure(comparison.nullDepthDb, 'dB')}</b>${comparison.nullLimit ? `, limited by ${comparison.nullLimit}` : ''}</span>`}
    </div>`;
  }

  private sectionRow(section: ComparedSection, index: number, pair: Pair) {
    const still = !isChanged(section);
    const bands = largestBands(section);
    return html`<tr class=${still ? 'still' : ''} aria-current=${index === this.chosen ? 'true' : nothing}>
      <th scope="row">
        <button
          type="button"
          class="quiet"
          aria-pressed=${index === this.chosen}
          @click=${() => {
            this.chosen = index;
          }}
        >${section.name}</button>
        <small
          ><a href=${songAddress(this.recordId, this.songId, 'listen', { v: pair.newer.id, a: pair.older.id, t: String(section.start) })}
            >${timeCode(section.start)}–${timeCode(section.end)}</a
          >${
            still
              ? nothing
              : html` <a href=${songAddress(this.recordId, this.songId, 'listen', { v: pair.newer.id, a: pair.older.id, t: String(section.start), hear: 'change' })}
                  >Hear the change</a
                >`
          }</small
        >
      </th>
      <td class="verdict">
        ${section.doubt ? doubtWords[section.doubt] : still ? 'no change measured' : section.changes.length ? section.changes.map((change) => html`<span>${oneChangeWords(change)} <small>${Math.round(change.confidence * 100)} % sure of the kind</small></span>`) : 'changed'}
      </td>
      <td class="num" data-label="Loudness">${difference(section.matchedLoudnessDifferenceLu, 'LU')}</td>
      <td class="num" data-label="RMS">${difference(section.rmsDifferenceDb, 'dB')}</td>
      <td class="num" data-label="Largest bands">
        ${bands.length ? bands.map((band) => html`<span>${hertzWords(band.nominalHz)} ${difference(band.differenceDb, 'dB')}</span>`) : '–'}
      </td>
      <td class="num" data-label="Residual">${section.residualDb === null ? '–' : section.residualDb <= -150 ? '≤ −150 dB' : figure(section.residualDb, 'dB')}</td>
    </tr>`;
  }

  private table(comparison: Comparison, pair: Pair) {
    return html`<table class="changes">
      <caption class="unseen">What changed in each section</caption>
      <thead>
        <tr>
          <th scope="col">Section</th>
          <th scope="col">What is seen</th>
          <th scope="col" class="num">Loudness, matched</th>
          <th scope="col" class="num">RMS</th>
          <th scope="col" class="num">Largest bands, matched</th>
          <th scope="col" class="num">Residual</th>
        </tr>
      </thead>
      <tbody>
        ${comparison.sections.map((section, index) => this.sectionRow(section, index, pair))}
      </tbody>
    </table>`;
  }

  private stems({ older, newer }: Pair, sheet: SongSheet) {
    return html`<countoff-stem-changes
      .recordId=${this.recordId}
      .songId=${this.songId}
      .older=${older}
      .newer=${newer}
      .revision=${sheet.song.sectionMap.revision}
      .mayAttach=${sheet.reader.may.includes('attachStems')}
    ></countoff-stem-changes>`;
  }

  private map(comparison: Comparison, { older, newer }: Pair, sheet: SongSheet) {
    return html`<countoff-change-map
      .recordId=${this.recordId}
      .songId=${this.songId}
      .older=${older}
      .newer=${newer}
      .comparison=${comparison}
      .notes=${sheet.notes}
    ></countoff-change-map>`;
  }

  private loudness(comparison: Comparison, { older, newer }: Pair) {
    return html`<countoff-loudness-pair
      .recordId=${this.recordId}
      .songId=${this.songId}
      .older=${older}
      .newer=${newer}
      .comparison=${comparison}
    ></countoff-loudness-pair>`;
  }

  private plot(comparison: Comparison, pair: Pair) {
    const section = comparison.sections[this.chosen];
    const { bands } = section ?? comparison;
    const where = section?.name ?? 'the whole song';
    const bars = bands.map(({ nominalHz, matchedDifferenceDb }) => ({
      nominalHz,
      value: matchedDifferenceDb,
    }));
    const reachDb = Math.max(leastScaleDb, ...bars.map(({ value }) => Math.abs(value ?? 0) * 1.1));
    return html`<section class="sheet plot-sheet">
      <h2>Third-octave bands, ${where}</h2>
      <div class="acts">
        <button
          type="button"
          aria-pressed=${this.chosen === -1}
          @click=${() => {
            this.chosen = -1;
          }}
        >Whole song</button>
        ${comparison.sections.map(
          (each, index) => html`<button
            type="button"
            aria-pressed=${index === this.chosen}
            @click=${() => {
              this.chosen = index;
            }}
          >${each.name}</button>`,
        )}
      </div>
      <countoff-third-octaves
        label="Difference of ${pair.newer.name} from ${pair.older.name} in ${where}, after matching, in dB by frequency"
        .bars=${bars}
        .range=${[-reachDb, reachDb]}
        .words=${differenceWords}
        .stepWords=${stepWords}
      ></countoff-third-octaves>
      <details>
        <summary>The same as a table</summary>
        <div class="bands-table">
          <table>
            <caption class="unseen">Third-octave bands, ${where}</caption>
            <thead><tr><th scope="col">Band</th><th scope="col" class="num">As it is</th><th scope="col" class="num">Matched</th></tr></thead>
            <tbody>
              ${bands.map((band) => html`<tr><th scope="row">${hertzWords(band.nominalHz)}</th><td class="num">${difference(band.differenceDb, 'dB')}</td><td class="num">${difference(band.matchedDifferenceDb, 'dB')}</td></tr>`)}
            </tbody>
          </table>
        </div>
      </details>
    </section>`;
  }

  private figures(comparison: Comparison) {
    const rows: [string, string][] = [
      ['Integrated loudness', difference(comparison.loudnessDifferenceLu, 'LU')],
      ['Loudest short-term', difference(comparison.maxShortTermLoudnessDifferenceLu, 'LU')],
      ['Loudness range', difference(comparison.loudnessRangeDifferenceLu, 'LU')],
      ['True peak', difference(comparison.truePeakDifferenceDb, 'dB')],
      ['RMS', difference(comparison.rmsDifferenceDb, 'dB')],
      ['Stereo correlation', difference(comparison.correlationDifference, '', 2)],
      ['Mid over side', difference(comparison.midSideDifferenceDb, 'dB')],
      [
        'Length',
        `${timeCode(comparison.durationSeconds.a, { tenths: true })} → ${timeCode(comparison.durationSeconds.b, { tenths: true })}`,
      ],
    ];
    return html`<section class="list">
      <h2>Whole song <small>newer less older, as the files are</small></h2>
      <dl class="pairs inside">${rows.map(([name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>
    </section>`;
  }

  private cautions(comparison: Comparison) {
    return html`<section class="caution cautions">
      <h2>How it was measured, and what it can’t tell</h2>
      <ul>
        ${comparison.notes.map((note) => html`<li>${note}</li>`)}
        <li>“No change measured” means that no difference over the noise of the comparison was found, not that nothing changed. A poor null is no proof of a change either.</li>
        <li>Loudness of the whole mix hardly moves when one voice does: a voice up by 1 dB may move it by 0.1 to 0.4 LU. Look at the bands, and listen.</li>
        <li>Matched by ${comparison.standards.loudness}; bands by ${comparison.standards.spectrum}; ${comparison.engine.name} ${comparison.engine.version}.</li>
      </ul>
    </section>`;
  }

  override render() {
    const { sheet, comparison, fault } = this;
    if (!sheet) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const pair = this.pair(sheet);
    const sentence = !pair
      ? html`There are no two versions to compare yet.`
      : fault
        ? html`${fault}`
        : comparison
          ? html`${comparison.summary.plain}`
          : html`Comparing ${pair.newer.name} with ${pair.older.name} …`;
    return html`<div class="page changed">
      <h1>${sheet.song.title} · what changed</h1>
      ${pair ? this.printedRecord(sheet, pair) : nothing}
      <p class="lede" role="status">${sentence}</p>
      ${pair && !comparison && !fault ? html`<progress max="1" .value=${this.progress} aria-label="Comparison"></progress>` : nothing}
      ${comparison ? html`<p class="figures-sentence">${comparison.summary.figures}</p>` : nothing}
      ${
        sheet.versions.length > 1
          ? html`<div class="choices">
              ${this.versionChoice(sheet, 'From', 'a', pair?.older)} ${this.versionChoice(sheet, 'To', 'b', pair?.newer)}
              ${
                pair
                  ? html`<a class="button main" href=${songAddress(this.recordId, this.songId, 'listen', { v: pair.newer.id, a: pair.older.id })}>Listen to both</a>
                      <button type="button" @click=${() => window.print()}>Print</button>`
                  : nothing
              }
            </div>`
          : nothing
      }
      ${pair ? html`${this.askedSection(pair)} ${this.unaskedSection(pair)} ${this.stems(pair, sheet)}` : nothing}
      ${comparison && pair ? html`${this.facts(pair, comparison)} ${this.table(comparison, pair)} ${this.map(comparison, pair, sheet)} ${this.loudness(comparison, pair)} ${this.plot(comparison, pair)} ${this.figures(comparison)} ${this.cautions(comparison)}` : nothing}
    </div>`;
  }
}
