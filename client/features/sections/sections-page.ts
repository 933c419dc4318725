import { html, nothing, type PropertyValues } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { newId, Refusal } from '../../api/call.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Section, SectionProposal, VersionView } from '../../api/types.ts';
import { announce, announceRefusal, attempt } from '../../elements/announcer.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { barAndBeat, barCount, parseTimeCode, timeCode } from '../../elements/time-code.ts';
import { TwoVersionPlayer } from '../../player/two-version-player.ts';
import { songAddress } from '../../route.ts';
import '../../waveform/close-up.ts';
import type { CloseUp, CloseUpSpan } from '../../waveform/close-up.ts';
import { loadWaveform, type Waveform } from '../../waveform/waveform-store.ts';
import {
  cutAt,
  draftFault,
  draftOf,
  drawSection,
  moveEdges,
  nameSuggestions,
  proposedDraft,
  type SectionDraft,
  snapToBar,
} from './section-draft.ts';
import { ProposalRequest } from './section-proposal.ts';

export const tag = 'countoff-sections';

const zoomSeconds = [8, 16, 32, 64, 128];
/** Under it a proposed start is called unsure. */
const sureStart = 0.4;

/** Names a song's sections: cut while listening, drawn on the waveform, or typed. */
@customElement(tag)
export class SectionsPage extends FeatureElement {
  @state() private draft: SectionDraft | null = null;
  @state() private waveform: Waveform | null = null;
  @state() private zoom = 3;
  @state() private snap = true;
  @state() private busy = false;
  @state() private outdated = false;
  /** A proposal that waits for a word, since there are sections already. */
  @state() private offered: SectionProposal | null = null;
  /** What the draft was before a proposal went into it; it can be taken back until the sections are saved. */
  @state() private beforeProposal: SectionDraft | null = null;
  @state() private nothingFound = false;
  private startConfidence = new Map<string, number>();
  private proposal = new ProposalRequest(this);
  private player = new TwoVersionPlayer();
  private frame = 0;
  private dirty = false;
  private loadedVersionId: string | null = null;
  private spans: CloseUpSpan[] = [];
  private spansOf: Section[] | null = null;

  private get calls() {
    return songCalls(this.recordId, this.songId);
  }

  private get draftName(): string {
    return `countoff:sections:${this.recordId}/${this.songId}`;
  }

  private get beforeName(): string {
    return `countoff:sections-before:${this.recordId}/${this.songId}`;
  }

  private get version(): VersionView | null {
    const versions = this.sheet?.versions ?? [];
    return versions.findLast((each) => each.gate === this.sheet?.gate) ?? versions.at(-1) ?? null;
  }

  private get durationSeconds(): number {
    return this.version?.file.durationSeconds ?? 0;
  }

  override connectedCallback() {
    super.connectedCallback();
    this.player.addEventListener('change', this.playerChanged);
    window.addEventListener('keydown', this.keys);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    window.removeEventListener('keydown', this.keys);
    cancelAnimationFrame(this.frame);
    this.player.removeEventListener('change', this.playerChanged);
    this.player.destroy();
  }

  protected override willUpdate(changed: PropertyValues<this>) {
    const { sheet, version } = this;
    if (!changed.has('sheet') || !sheet) return;
    const { sectionMap } = sheet.song;
    if (!this.draft) {
      const kept = this.kept(this.draftName);
      this.dirty = kept?.basedOnRevision === sectionMap.revision;
      this.draft = this.dirty ? kept : draftOf(sectionMap);
      this.beforeProposal = this.dirty ? this.kept(this.beforeName) : null;
    } else if (this.draft.basedOnRevision !== sectionMap.revision) {
      if (this.dirty) this.outdated = true;
      else this.draft = draftOf(sectionMap);
    }
    if (!version) return;
    if (version.id !== this.loadedVersionId) {
      this.loadedVersionId = version.id;
      this.player.load(this.calls.audioUrl(version.id), null);
    }
    if (!this.waveform && version.analysis.state !== 'waiting')
      void loadWaveform(this.calls.waveformUrl(version.id)).then((waveform) => {
        this.waveform = waveform;
      });
  }

  protected override updated() {
    this.paint();
  }

  private kept(name: string): SectionDraft | null {
    const kept = localStorage.getItem(name);
    return kept ? (JSON.parse(kept) as SectionDraft) : null;
  }

  private forgetKept() {
    localStorage.removeItem(this.draftName);
    localStorage.removeItem(this.beforeName);
    this.beforeProposal = null;
    this.startConfidence = new Map();
  }

  private change(part: Partial<SectionDraft>) {
    if (!this.draft) return;
    this.draft = { ...this.draft, ...part };
    this.dirty = true;
    localStorage.setItem(this.draftName, JSON.stringify(this.draft));
  }

  private takeSaved() {
    if (!this.sheet) return;
    this.forgetKept();
    this.draft = draftOf(this.sheet.song.sectionMap);
    this.dirty = false;
    this.outdated = false;
  }

  // Listening

  private playerChanged = () => {
    this.requestUpdate();
    cancelAnimationFrame(this.frame);
    if (this.player.playing) this.frame = requestAnimationFrame(this.tick);
    else this.paint();
  };

  private tick = () => {
    this.paint();
    if (this.player.playing) this.frame = requestAnimationFrame(this.tick);
  };

  private paint() {
    const { seconds } = this.player;
    this.querySelector<CloseUp>('countoff-close-up')?.moveTo(seconds);
    const where = this.querySelector('.now');
    if (!where || !this.draft) return;
    const place = barAndBeat(seconds, this.draft);
    where.textContent = `${timeCode(seconds, { tenths: true })}${place ? ` · bar ${place.bar}.${place.beat}` : ''}`;
  }

  private toggle() {
    if (this.player.playing) this.player.pause();
    else void this.player.play();
  }

  private keys = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector('dialog[open]')) return;
    const target = event.target as HTMLElement;
    if (target.closest('input, textarea, select') || (event.key === ' ' && target.closest('button, a')))
      return;
    const by = event.shiftKey ? 1 : 5;
    const deeds: Record<string, () => void> = {
      ' ': () => this.toggle(),
      m: () => this.cut(),
      ArrowLeft: () => this.player.seek(this.player.seconds - by),
      ArrowRight: () => this.player.seek(this.player.seconds + by),
    };
    const deed = deeds[event.key];
    if (!deed) return;
    event.preventDefault();
    deed();
  };

  // Changing

  private snapped(seconds: number): number {
    return this.snap && this.draft ? snapToBar(seconds, this.draft) : seconds;
  }

  private cut() {
    if (!this.draft) return;
    const before = this.draft.sections;
    const sections = cutAt(before, this.snapped(this.player.seconds), this.durationSeconds, newId);
    if (sections.length === before.length)
      announce('A cut here would leave hardly anything. Move on a little.');
    else this.change({ sections });
  }

  private draw({ detail: { from, to } }: CustomEvent<{ from: number; to: number }>) {
    if (this.draft)
      this.change({
        sections: drawSection(this.draft.sections, this.snapped(from), this.snapped(to), newId),
      });
  }

  private moveEdge({ detail }: CustomEvent<{ id: string; startSeconds: number; endSeconds: number }>) {
    this.setEdges(detail.id, this.snapped(detail.startSeconds), this.snapped(detail.endSeconds));
  }

  private setEdges(id: string, startSeconds: number, endSeconds: number) {
    if (this.draft)
      this.change({
        sections: moveEdges(this.draft.sections, id, startSeconds, endSeconds, this.durationSeconds),
      });
  }

  private rename(id: string, name: string) {
    const sections = this.draft?.sections.map((section) =>
      section.id === id ? { ...section, name } : section,
    );
    if (sections) this.change({ sections });
  }

  /** The stretch goes to the section before it, or stays unnamed when there is none. */
  private takeOut(id: string) {
    const { sections } = this.draft!;
    const index = sections.findIndex((section) => section.id === id);
    const gone = sections[index]!;
    const previous = sections[index - 1];
    const joins = previous && Math.abs(previous.endSeconds - gone.startSeconds) < 0.02;
    this.change({
      sections: sections.flatMap((section) =>
        section === gone
          ? []
          : joins && section === previous
            ? [{ ...section, endSeconds: gone.endSeconds }]
            : [section],
      ),
    });
  }

  // Proposing

  private async propose(version: VersionView) {
    this.offered = null;
    this.nothingFound = false;
    const proposal = await this.proposal.ask(this.calls.sectionsProposed, version.id);
    if (!proposal) return;
    if (!proposal.sections.length) this.nothingFound = true;
    else if (this.draft?.sections.length) this.offered = proposal;
    else this.takeProposal(proposal);
  }

  private async proposeAgain(version: VersionView) {
    if (await attempt(() => this.calls.proposeSectionsAgain(version.id))) await this.propose(version);
  }

  private takeProposal(proposal: SectionProposal) {
    if (!this.draft) return;
    const before = this.draft;
    const { draft, startConfidence } = proposedDraft(before, proposal, this.durationSeconds, newId);
    this.offered = null;
    this.startConfidence = startConfidence;
    this.beforeProposal = before;
    localStorage.setItem(this.beforeName, JSON.stringify(before));
    this.change(draft);
    announce(`${draft.sections.length} parts are proposed. Nothing is saved yet.`);
  }

  private takeBack() {
    const before = this.beforeProposal;
    if (!before) return;
    localStorage.removeItem(this.beforeName);
    this.beforeProposal = null;
    this.startConfidence = new Map();
    this.change(before);
    announce('The proposal is taken back.');
  }

  private async save() {
    const { draft } = this;
    if (!draft) return;
    this.busy = true;
    try {
      await this.calls.nameSections({
        ...draft,
        sections: draft.sections.map((section) => ({ ...section, name: section.name.trim() })),
      });
      this.forgetKept();
      this.dirty = false;
      announce('Saved. All versions of the song have these sections.');
    } catch (error) {
      if (error instanceof Refusal && error.code === 'sections_changed_meanwhile') this.outdated = true;
      announceRefusal(error);
    }
    this.busy = false;
  }

  // What is drawn

  /** The sections for the close-up: the same array while they are, so that an edge in the hand is not replaced. */
  private closeUpSpans(sections: Section[]): CloseUpSpan[] {
    if (sections !== this.spansOf) {
      this.spansOf = sections;
      this.spans = sections.map(({ id, name, startSeconds, endSeconds }) => ({
        id,
        startSeconds,
        endSeconds,
        label: name,
        editable: true,
      }));
    }
    return this.spans;
  }

  private row(section: Section, draft: SectionDraft) {
    const bars = barCount(section.startSeconds, section.endSeconds, draft);
    const first = barAndBeat(section.startSeconds, draft);
    const time = (label: string, seconds: number, set: (seconds: number) => void) => html`<label
      ><span class="unseen">${label} of ${section.name}</span
      ><input
        class="time"
        inputmode="decimal"
        .value=${timeCode(seconds, { tenths: true })}
        @change=${(event: Event) => {
          const field = event.target as HTMLInputElement;
          const typed = parseTimeCode(field.value);
          if (typed !== null && typed <= this.durationSeconds) set(typed);
          field.value = timeCode(typed === null ? seconds : Math.min(typed, this.durationSeconds), {
            tenths: true,
          });
        }}
    /></label>`;
    return html`<li>
      <label class="section-name"
        ><span class="unseen">Name</span
        ><input
          list="section-names"
          .value=${section.name}
          @change=${(event: Event) => this.rename(section.id, (event.target as HTMLInputElement).value)}
      /></label>
      <span class="times">
        ${time('Start', section.startSeconds, (seconds) => this.setEdges(section.id, seconds, section.endSeconds))}
        <span aria-hidden="true">–</span>
        ${time('End', section.endSeconds, (seconds) => this.setEdges(section.id, section.startSeconds, seconds))}
      </span>
      <span class="bars">${this.unsureStart(section)}${first ? `bar ${first.bar}${first.beat > 1 ? `.${first.beat}` : ''}, ` : ''}${bars ? `${bars} bar${bars === 1 ? '' : 's'}` : ''}</span>
      <span class="acts">
        <button
          type="button"
          aria-label=${`Play ${section.name}`}
          @click=${() => {
            this.player.seek(section.startSeconds);
            void this.player.play();
          }}
        >
          Play
        </button>
        <button type="button" aria-label=${`Remove ${section.name}`} @click=${() => this.takeOut(section.id)}>Remove</button>
      </span>
    </li>`;
  }

  private unsureStart({ id }: Section) {
    const confidence = this.startConfidence.get(id) ?? 1;
    return confidence < sureStart ? html`<span class="unsure">start unsure</span>` : nothing;
  }

  /** What stands where the sections come from the audio: the offer, how far it is, and what came of it. */
  private proposing(version: VersionView, draft: SectionDraft) {
    const { progress, fault } = this.proposal;
    if (this.offered)
      return html`<p class="aside" role="status">
        ${this.offered.sections.length} parts were found in ${version.name}. Your sections are as they were.
        <span class="acts">
          <button type="button" @click=${() => this.takeProposal(this.offered!)}>Put the proposal in their place</button>
          <button type="button" @click=${() => (this.offered = null)}>Keep mine</button>
        </span>
      </p>`;
    if (this.beforeProposal)
      return html`<p class="aside">
        Proposed from the audio, and not saved. Listen to each edge, move it where you hear it, and name the parts: what is a
        verse and what a chorus, only people know.
        <span class="acts"><button type="button" @click=${this.takeBack}>Take the proposal back</button></span>
      </p>`;
    return html`<div class="propose">
      <div class="acts">
        ${
          fault === null
            ? html`<button type="button" ?disabled=${progress !== null} @click=${() => this.propose(version)}>
                Propose from the audio
              </button>`
            : html`<button type="button" @click=${() => this.proposeAgain(version)}>Go through it again</button>`
        }
        ${
          progress === null
            ? nothing
            : html`<progress max="1" .value=${progress} aria-label="Going through ${version.name}"></progress>
                <button type="button" @click=${() => this.proposal.stop()}>Stop</button>`
        }
      </div>
      <p class="caution" role="status">
        ${
          fault ??
          (this.nothingFound
            ? `Nothing in ${version.name} stands out as a new part. Cut while you listen.`
            : draft.sections.length
              ? 'Looks for places where the sound changes. Your sections stay until you say so.'
              : 'Looks for places where the sound changes. Nothing is saved by itself.')
        }
      </p>
    </div>`;
  }

  private number(
    label: string,
    value: number | null,
    set: (value: number | null) => void,
    limits: { min: number; max: number; step: string },
  ) {
    return html`<label class="field"
      >${label}
      <input
        type="number"
        min=${limits.min}
        max=${limits.max}
        step=${limits.step}
        .value=${value === null ? '' : String(value)}
        @change=${(event: Event) => {
          const field = event.target as HTMLInputElement;
          const typed = field.value === '' ? null : Number(field.value);
          if (typed === null || (typed >= limits.min && typed <= limits.max)) set(typed);
          else field.value = value === null ? '' : String(value);
        }}
    /></label>`;
  }

  override render() {
    const { sheet, draft, version } = this;
    if (!sheet || !draft)
      return html`<div class="page"><p class="lede" role="status">Opening the song …</p></div>`;
    const listen = songAddress(this.recordId, this.songId);
    if (!sheet.reader.may.includes('nameSections'))
      return html`<div class="page narrow">
        <h1>Sections of ${sheet.song.title}</h1>
        <p class="lede">The engineer and the producer name the sections; everybody reads them on the song sheet.</p>
        <p><a href=${listen}>To the song sheet</a></p>
      </div>`;
    if (!version)
      return html`<div class="page narrow">
        <h1>Sections of ${sheet.song.title}</h1>
        <p class="lede">Sections are named on a version, and none has been posted yet.</p>
      </div>`;
    const fault = draftFault(draft);
    return html`<div class="page sections">
      <h1>Sections of ${sheet.song.title}</h1>
      <p class="lede">
        Play, and press <kbd>m</kbd> where a section starts; or drag over the waveform to draw one, and drag an edge to move
        it. Every version of the song has the same sections.
      </p>
      ${
        this.outdated
          ? html`<p class="aside">
              Somebody named the sections meanwhile. Yours are still here, but were made from the older ones.
              <button type="button" class="quiet" @click=${this.takeSaved}>Take the saved ones</button>
            </p>`
          : nothing
      }
      <div
        class="close-up"
        @drag-range=${this.draw}
        @drag-edge=${this.moveEdge}
        @seek=${({ detail }: CustomEvent<{ seconds: number }>) => this.player.seek(detail.seconds)}
      >
        <countoff-close-up
          .waveform=${this.waveform}
          .durationSeconds=${this.durationSeconds}
          .visibleSeconds=${Math.min(zoomSeconds[this.zoom] ?? 64, this.durationSeconds)}
          .spans=${this.closeUpSpans(draft.sections)}
          .draws=${true}
          .playing=${this.player.playing}
        ></countoff-close-up>
      </div>
      ${this.player.fault ? html`<p class="fault" role="alert">${this.player.fault}</p>` : nothing}
      <div class="acts tools">
        <button type="button" @click=${this.toggle}>${this.player.playing ? 'Pause' : 'Play'}</button>
        <span class="now"></span>
        <button type="button" @click=${this.cut}>Cut here <kbd>m</kbd></button>
        <button type="button" aria-label="Nearer" ?disabled=${this.zoom === 0} @click=${() => (this.zoom -= 1)}>+</button>
        <button
          type="button"
          aria-label="Farther"
          ?disabled=${this.zoom === zoomSeconds.length - 1}
          @click=${() => (this.zoom += 1)}
        >
          −
        </button>
        <label class="pick"
          ><input
            type="checkbox"
            .checked=${this.snap}
            ?disabled=${!draft.tempoBpm || !draft.beatsPerBar}
            @change=${(event: Event) => {
              this.snap = (event.target as HTMLInputElement).checked;
            }}
          />
          Edges on bars</label
        >
      </div>
      <div class="columns">
        <section aria-labelledby="list-heading">
          <h2 id="list-heading">${draft.sections.length ? 'In order' : 'No sections yet'}</h2>
          ${this.proposing(version, draft)}
          ${
            draft.sections.length
              ? html`<ol class="section-list">
                  ${draft.sections.map((section) => this.row(section, draft))}
                </ol>`
              : html`<p class="empty">The first cut makes two; name them as you go: intro, verse 1, chorus 1 …</p>`
          }
          <datalist id="section-names">
            ${nameSuggestions(draft.sections).map((name) => html`<option value=${name}></option>`)}
          </datalist>
        </section>
        <section aria-labelledby="grid-heading">
          <h2 id="grid-heading">Bars and beats</h2>
          <p class="caution">For a song to a click: times then also read in bars. Leave it empty where the tempo moves.</p>
          <div class="grid">
            ${this.number('Tempo, beats a minute', draft.tempoBpm, (tempoBpm) => this.change({ tempoBpm }), { min: 20, max: 400, step: 'any' })}
            ${this.number('Beats in a bar', draft.beatsPerBar, (beatsPerBar) => this.change({ beatsPerBar }), { min: 1, max: 32, step: '1' })}
            ${this.number('Bar 1 starts at, seconds', draft.firstBarSeconds, (seconds) => this.change({ firstBarSeconds: seconds ?? 0 }), { min: 0, max: 600, step: 'any' })}
          </div>
          <button type="button" @click=${() => this.change({ firstBarSeconds: Math.round(this.player.seconds * 1000) / 1000 })}>
            Bar 1 is at the playhead
          </button>
        </section>
      </div>
      <div class="acts saving">
        <button type="button" class="main" ?disabled=${this.busy || fault !== null || !this.dirty} @click=${this.save}>
          Save the sections
        </button>
        <a class="button" href=${listen}>To the song sheet</a>
        <span class="caution" role="status">${fault ?? (this.dirty ? 'Not saved yet; kept on this device.' : '')}</span>
      </div>
    </div>`;
  }
}
