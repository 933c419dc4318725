import { html, nothing, type TemplateResult } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { songCalls } from '../../api/song-calls.ts';
import type { Figures, Measurement, SectionFigures, SongSheet, VersionView } from '../../api/types.ts';
import { attempt } from '../../elements/announcer.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { storedFormatWords } from '../../elements/format-words.ts';
import { navigate } from '../../navigate.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import { listeningPair } from '../listen/listening-pair.ts';
import { figureName, figureValue, type NumberName } from './figure-value.ts';
import './figures.css';
import { findingSentence, findingsOf } from './finding.ts';
import './loudness-chart.ts';
import { MeasuredVersion } from './measured-version.ts';
import { overList } from './over-list.ts';
import { type SectionColumn, sectionTable } from './section-table.ts';
import { correlationView, spectrumView } from './spectrum-view.ts';
import { wholeSong } from './whole-song.ts';

export const tag = 'countoff-figures';

/** The four that answer how loud and how clean, each with what it says. */
const headlines: [NumberName, string, string][] = [
  ['integratedLoudnessLufs', 'Loudness', 'of the song as a whole'],
  ['truePeakDbtp', 'True peak', 'full scale is 0'],
  ['loudnessRangeLu', 'Loudness range', 'from quieter to louder parts'],
  ['correlation', 'Stereo', '+1 is mono, below 0 cancels'],
];

const levelColumns: SectionColumn[] = [
  ['integratedLoudnessLufs', 'Integrated'],
  ['maxMomentaryLoudnessLufs', 'Loudest momentary'],
  ['maxShortTermLoudnessLufs', 'Loudest short-term'],
  ['loudnessRangeLu', 'Range'],
  ['truePeakDbtp', 'True peak'],
  ['samplePeakDbfs', 'Sample peak'],
  ['rmsDbfs', 'RMS'],
  ['crestFactorDb', 'Crest'],
  ['plrDb', 'PLR'],
  ['clippedRuns', 'Clipped runs'],
];

const imageColumns: SectionColumn[] = [
  ['correlation', 'Correlation'],
  ['midSideBalanceDb', 'Mid over side'],
  ['monoFoldDownLossLu', 'Lost in mono'],
];

/** All that is measured of one version: first whether something is wrong, then everything behind it. */
@customElement(tag)
export class FiguresPage extends FeatureElement {
  /** Which section the spectrum shows; −1 is the whole song. */
  @state() private chosen = -1;
  @state() private peaks = false;
  @state() private allSpots = false;
  private readonly figures = new MeasuredVersion(this, () => this.calls);

  private get calls() {
    return songCalls(this.recordId, this.songId);
  }

  private get version(): VersionView | null {
    const { sheet } = this;
    return sheet ? (listeningPair(sheet, this.query.get('v'), null)?.newer ?? null) : null;
  }

  protected override willUpdate() {
    const { sheet, version } = this;
    if (!sheet || !version || !this.isConnected) return;
    const failed = version.analysis.state === 'failed';
    this.figures.follow(version.id, `${sheet.song.sectionMap.revision} ${failed}`);
    const sections = this.figures.measurement?.sections;
    if (sections && this.chosen >= sections.length) this.chosen = -1;
  }

  private listenAddress = (seconds: number): string =>
    songAddress(this.recordId, this.songId, 'listen', {
      v: this.version?.id ?? '',
      t: String(Math.round(seconds * 100) / 100),
    });

  private async measureAgain(version: VersionView) {
    if (await attempt(() => this.calls.measureAgain(version.id))) this.figures.read(version.id);
  }

  private head(sheet: SongSheet, version: VersionView) {
    return html`<div class="choices">
      <label class="field"
        >Version<select
          @change=${(event: Event) =>
            navigate(
              songAddress(this.recordId, this.songId, 'figures', {
                v: (event.target as HTMLSelectElement).value,
              }),
              { replace: true },
            )}
        >
          ${sheet.versions.map(
            (each) => html`<option value=${each.id} ?selected=${each === version}>${each.name}</option>`,
          )}
        </select></label
      >
      <a class="button" href=${songAddress(this.recordId, this.songId, 'listen', { v: version.id })}
        >Listen to ${version.name}</a
      >
    </div>`;
  }

  private headlineFigures(measurement: Measurement) {
    return html`<dl class="headlines">
      ${headlines.map(([name, words, says]) => {
        const unreliable = name === 'loudnessRangeLu' && !measurement.loudnessRangeReliable;
        return html`<div>
          <dt>${figureName(name, words)}</dt>
          <dd>${figureValue(name, measurement, measurement.channelCount)}</dd>
          <dd class="says">${unreliable && measurement.loudnessRangeLu !== null ? 'under 60 s it says little' : says}</dd>
        </div>`;
      })}
    </dl>`;
  }

  private loudness(measurement: Measurement) {
    const { series, seriesFault } = this.figures;
    return html`<section class="sheet plot-sheet" aria-labelledby="loudness">
      <h2 id="loudness">Loudness over time</h2>
      ${
        series
          ? html`<countoff-loudness-chart
                .series=${series}
                .sections=${measurement.sections}
                .integratedLoudnessLufs=${measurement.integratedLoudnessLufs}
                .listenAddress=${this.listenAddress}
                ?peaks=${this.peaks}
                @choose-time=${({ detail }: CustomEvent<{ seconds: number }>) =>
                  navigate(this.listenAddress(detail.seconds))}
              ></countoff-loudness-chart>
              <label class="check"
                ><input
                  type="checkbox"
                  .checked=${this.peaks}
                  @change=${(event: Event) => {
                    this.peaks = (event.target as HTMLInputElement).checked;
                  }}
                />
                Show the true peak too</label
              >`
          : html`<p class="said" role="status">${seriesFault ?? 'Reading the figures over time …'}</p>`
      }
    </section>`;
  }

  private chosenStretch(measurement: Measurement): { figures: Figures | SectionFigures; where: string } {
    const section = measurement.sections[this.chosen];
    return section
      ? { figures: section, where: section.name }
      : { figures: measurement, where: 'the whole song' };
  }

  private stretchChoice(measurement: Measurement) {
    if (!measurement.sections.length) return nothing;
    return html`<label class="field stretch"
      >Of<select
        @change=${(event: Event) => {
          this.chosen = Number((event.target as HTMLSelectElement).value);
        }}
      >
        <option value="-1" ?selected=${this.chosen === -1}>the whole song</option>
        ${measurement.sections.map(
          ({ name }, index) =>
            html`<option value=${index} ?selected=${this.chosen === index}>${name}</option>`,
        )}
      </select></label
    >`;
  }

  private spectrum(measurement: Measurement) {
    const { figures, where } = this.chosenStretch(measurement);
    return html`<section class="sheet plot-sheet" aria-labelledby="spectrum">
      <div class="plot-head">
        <h2 id="spectrum">${figureName('bands', 'Spectrum')}</h2>
        ${this.stretchChoice(measurement)}
      </div>
      ${spectrumView(figures, where, measurement.sampleRateHz)}
      ${
        measurement.channelCount === 2 && figures.bands.some(({ correlation }) => correlation !== null)
          ? correlationView(figures, where)
          : nothing
      }
    </section>`;
  }

  private image(measurement: Measurement) {
    return html`<section class="list" aria-labelledby="image">
      <h2 id="image">Image</h2>
      ${
        measurement.channelCount === 2
          ? sectionTable('Stereo image by section', imageColumns, measurement, this.listenAddress)
          : html`<p class="said">– ${measurement.channelCount === 1 ? 'The file is mono' : 'The file is not stereo'}, so it has no left against right.</p>`
      }
    </section>`;
  }

  private cautions({ standards, engine }: Measurement) {
    return html`<section class="caution cautions">
      <h2>How it was measured, and what it can’t tell</h2>
      <ul>
        <li>
          A figure says how the file is, not how good it is. Loudness of the whole mix doesn’t measure a voice’s balance,
          and two songs at one loudness need not seem equally loud.
        </li>
        <li>A dash means that a figure is undefined there, and says why where that is known. It never means “very quiet”.</li>
        <li>Measured of the exact file that was posted, not of a listening copy.</li>
      </ul>
      <dl class="pairs">
        <div><dt>Loudness</dt><dd>${standards.loudness}; meters by ${standards.meter}</dd></div>
        <div><dt>Loudness range</dt><dd>${standards.loudnessRange}</dd></div>
        <div><dt>True peak</dt><dd>${standards.truePeak}</dd></div>
        <div><dt>RMS</dt><dd>${standards.rms}</dd></div>
        <div><dt>Spectrum</dt><dd>${standards.spectrum}</dd></div>
        <div><dt>Engine</dt><dd>${engine.name} ${engine.version}</dd></div>
      </dl>
      <p><a class="way" href="/glossary">All words and figures in the glossary</a></p>
    </section>`;
  }

  private measured(measurement: Measurement, version: VersionView): TemplateResult {
    const findings = findingsOf(measurement);
    return html`${
      findings.length
        ? html`<ul class="findings">
            ${findings.map(
              ({ figure, words }) =>
                html`<li class="aside">
                  ${words}
                  ${figure === 'clippedRuns' || figure === 'oversCount' ? html`<a href="#spots">See where</a>` : figureName(figure, 'What this means')}
                </li>`,
            )}
          </ul>`
        : nothing
    }
    ${this.headlineFigures(measurement)} ${this.loudness(measurement)}
    <section class="list" aria-labelledby="spots">
      <h2 id="spots"><span>${figureName('oversCount', 'Overs')} and ${figureName('clippedRuns', 'clipped runs')}</span></h2>
      ${overList(measurement, this.listenAddress, this.allSpots, () => {
        this.allSpots = true;
      })}
    </section>
    ${this.spectrum(measurement)}
    <section class="list" aria-labelledby="whole">
      <h2 id="whole">Whole song</h2>
      ${wholeSong(measurement, storedFormatWords(version.file))}
    </section>
    <section class="list" aria-labelledby="sections">
      <h2 id="sections">By section</h2>
      ${sectionTable('Loudness and peaks by section', levelColumns, measurement, this.listenAddress)}
    </section>
    ${this.image(measurement)} ${this.cautions(measurement)}`;
  }

  private lede(version: VersionView): string {
    const { measurement, fault } = this.figures;
    if (measurement) return findingSentence(findingsOf(measurement));
    return fault ? `${version.name} could not be measured.` : `${version.name} is being measured …`;
  }

  private pending(sheet: SongSheet, version: VersionView) {
    const { fault, progress } = this.figures;
    if (fault)
      return html`<p class="aside">${fault}</p>
        ${
          sheet.reader.may.includes('postVersion')
            ? html`<p><button type="button" class="main" @click=${() => this.measureAgain(version)}>Measure again</button></p>`
            : html`<p>An engineer or the producer can measure it again.</p>`
        }`;
    return html`<progress max="1" .value=${progress ?? 0} aria-label="Measurement"></progress>
      <p class="said">It can be heard already.</p>`;
  }

  override render() {
    const { sheet, version } = this;
    const { measurement } = this.figures;
    if (!sheet) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    return html`<div class="page figures-page">
      <h1>${sheet.song.title} · figures</h1>
      ${
        version
          ? html`<p class="lede" role="status">${this.lede(version)}</p>
              ${this.head(sheet, version)}
              ${measurement ? this.measured(measurement, version) : this.pending(sheet, version)}`
          : html`<p class="empty">No version has been posted yet. As soon as one is, its figures stand here.</p>`
      }
    </div>`;
  }
}
