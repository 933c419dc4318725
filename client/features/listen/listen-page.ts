import { html, nothing, type PropertyValues, type TemplateResult } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { songCalls } from '../../api/song-calls.ts';
import type { Level, NoteView, Range, RoundGate, SongSheet, VersionView } from '../../api/types.ts';
import { announce, attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { barAndBeat, timeCode } from '../../elements/time-code.ts';
import { gainFactor, unmatched } from '../../player/matching.ts';
import { type Heard, type Side, TwoVersionPlayer } from '../../player/two-version-player.ts';
import { songAddress } from '../../route.ts';
import '../../waveform/close-up.ts';
import type { CloseUp } from '../../waveform/close-up.ts';
import type { WaveformLine } from '../../waveform/waveform-line.ts';
import { hasWaveform, loadWaveform, type Waveform } from '../../waveform/waveform-store.ts';
import { ChangeAlone } from './change-alone.ts';
import './composer.ts';
import type { Composer, PartAnswer } from './composer.ts';
import { footWords } from './foot-words.ts';
import { lineChange } from './line-change.ts';
import { listenQuery } from './listen-query.ts';
import {
  initialView,
  type ListenAction,
  type ListenView,
  loopTurn,
  markedRange,
  noteRange,
  reduceListenView,
  visibleSeconds,
} from './listen-view.ts';
import { deedOfKey, type ListeningDeeds } from './listening-keys.ts';
import { type ListeningPair, listeningPair, pairWith } from './listening-pair.ts';
import { MarkedSpan } from './marked-span.ts';
import { NoteDraft } from './note-draft.ts';
import './note-entry.ts';
import type { NoteEntry } from './note-entry.ts';
import { PairComparison } from './pair-comparison.ts';
import { PlacedNotes, placeMark } from './placed-notes.ts';
import './round-desk.ts';
import type { Settlement } from './round-desk.ts';
import { type LineDrawing, sectionLine } from './section-line.ts';
import { sectionless, stripRow, versionStanding } from './sheet-head.ts';
import { lineAt, notesByLine, placeOfNote, type SheetLine, sheetLines } from './sheet-line.ts';
import { shortcutsDialog } from './shortcuts-dialog.ts';
import { answeredIn, authorWords, isCurrentNote } from './shown-notes.ts';
import { songFacts } from './song-facts.ts';
import { songLede } from './song-lede.ts';
import { transport } from './transport.ts';

export const tag = 'countoff-listen';

/** The least distance of two pins for a thumb and for a pointer. */
const thumbPixels = 44;
const pointerPixels = 26;
const phone = window.matchMedia('(max-width: 52rem)');

/** The song sheet with the composer at its foot: hear, compare, write, and for the spokesperson send. */
@customElement(tag)
export class ListenPage extends FeatureElement {
  @state() private pair: ListeningPair | null = null;
  @state() private waveforms: { newer: Waveform | null; older: Waveform | null } = {
    newer: null,
    older: null,
  };
  @state() private busy = false;
  @state() private allNotes = false;
  @state() private closeUpOpen = false;
  @state() private keysOpen = false;
  @state() private currentNoteId: string | null = null;
  @state() private heardOn = localStorage.getItem('countoff:heard-on') ?? '';
  @state() private lineWidth = 700;
  private view: ListenView = initialView;
  private player = new TwoVersionPlayer();
  private frame = 0;
  private addressTimer: ReturnType<typeof setTimeout> | undefined;
  private startSeconds: number | null = null;
  /** The address asks for the change alone. */
  private changeAsked = false;
  private shownVersionId: string | null = null;
  private readonly sized = new ResizeObserver((entries) => this.measure(entries));

  private get calls() {
    return songCalls(this.recordId, this.songId);
  }

  private readonly marked = new MarkedSpan();
  private readonly draft = new NoteDraft(
    this,
    () => `countoff:draft:${this.recordId}/${this.songId}`,
    (text, chosen, signal) =>
      this.calls.sort({ text, chosen, versionId: this.notedVersion.id, range: noteRange(this.view) }, signal),
  );
  private readonly compared = new PairComparison(this, (older, newer, signal, onProgress) =>
    this.calls.comparison(older, newer, signal, onProgress),
  );

  private readonly alone = new ChangeAlone(
    this,
    (older, newer, signal, onProgress) => this.calls.change(older, newer, signal, onProgress),
    () => {
      this.loadPlayer();
      if (this.alone.wished) this.hear('change');
    },
  );

  /** Counts the sheets that came in: each may have brought a comparison that joins two versions. */
  private sheetsRead = 0;
  private readonly placed = new PlacedNotes(this, (versionId, signal) =>
    this.calls.notePlaces(versionId, signal),
  );

  override connectedCallback() {
    super.connectedCallback();
    this.closeUpOpen =
      (localStorage.getItem('countoff:close-up') ?? (phone.matches ? 'closed' : 'open')) === 'open';
    this.player.addEventListener('change', this.playerChanged);
    window.addEventListener('keydown', this.keys);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    window.removeEventListener('keydown', this.keys);
    cancelAnimationFrame(this.frame);
    clearTimeout(this.addressTimer);
    this.sized.disconnect();
    this.player.removeEventListener('change', this.playerChanged);
    this.player.destroy();
    document.documentElement.style.removeProperty('--foot');
  }

  protected override firstUpdated() {
    this.draft.restore();
  }

  protected override willUpdate(changed: PropertyValues<this>) {
    if (changed.has('query') && this.query.has('t')) {
      const seconds = Number(this.query.get('t'));
      if (seconds >= 0) this.startSeconds = seconds;
    }
    if (changed.has('query')) this.changeAsked = this.query.get('hear') === 'change';
    if ((changed.has('sheet') || changed.has('query')) && this.sheet) {
      this.pair = this.nextPair(this.sheet, changed);
      this.takePair();
    }
    if (changed.has('sheet')) this.sheetsRead += 1;
    if (this.pair) this.placed.follow(this.pair.newer.id, String(this.sheetsRead));
    this.player.timeline = this.compared.timeline;
  }

  /**
   * The pair that the address asks for, or else the one at the playhead. A version that arrives meanwhile is put there by
   * itself only where nobody listens or writes; else it is announced.
   */
  private nextPair(sheet: SongSheet, changed: PropertyValues<this>): ListeningPair | null {
    const { pair } = this;
    if (changed.has('query') || !pair) return listeningPair(sheet, this.query.get('v'), this.query.get('a'));
    const known = changed.get('sheet');
    const newest = listeningPair(sheet, null, null);
    if (known && newest && !known.versions.some((version) => version.id === newest.newer.id)) {
      const listened = listeningPair(known, null, null)?.newer.id;
      if (pair.newer.id === listened && !this.player.playing && !this.draft.text.trim()) return newest;
      announce(`${newest.newer.name} is up. It stands in the strip of versions.`);
    }
    return listeningPair(sheet, pair.newer.id, pair.older?.id ?? null);
  }

  protected override updated() {
    for (const element of this.querySelectorAll('.foot, .sheet .wave')) this.sized.observe(element);
    this.paint();
    this.showPressedVersion();
  }

  /** Brings the version that is heard into view where the strip is longer than the screen. */
  private showPressedVersion() {
    const heardId = this.pair && this.notedVersion.id;
    if (heardId === this.shownVersionId) return;
    this.shownVersionId = heardId;
    const strip = this.querySelector<HTMLElement>('.versions');
    const pressed = strip?.querySelector<HTMLElement>('[aria-pressed=true]');
    if (strip && pressed) strip.scrollLeft = pressed.offsetLeft - strip.offsetLeft - strip.clientWidth / 3;
  }

  private measure(entries: ResizeObserverEntry[]) {
    for (const { target } of entries) {
      if (target.classList.contains('foot')) {
        const height = `${Math.ceil(target.getBoundingClientRect().height)}px`;
        document.documentElement.style.setProperty('--foot', height);
      } else if (Math.abs(target.clientWidth - this.lineWidth) > 1) this.lineWidth = target.clientWidth;
    }
  }

  // The two versions

  private takePair() {
    const { pair } = this;
    if (!pair) return;
    const { newer, older } = pair;
    this.act({ type: 'durationKnown', seconds: newer.file.durationSeconds });
    this.alone.follow(pair);
    this.loadPlayer();
    this.compared.follow(pair, this.sheet?.song.sectionMap.revision ?? 0);
    this.player.matching = this.compared.matching;
    if (this.startSeconds !== null) {
      this.seek(this.startSeconds);
      this.startSeconds = null;
    }
    if (this.changeAsked) {
      this.changeAsked = false;
      this.hear('change');
    }
    void this.takeWaveform('newer', newer);
    void this.takeWaveform('older', older);
  }

  private loadPlayer() {
    if (!this.pair) return;
    const { newer, older } = this.pair;
    const { audioUrl, changeUrl } = this.calls;
    this.player.load(
      audioUrl(newer.id),
      older && audioUrl(older.id),
      older && this.alone.figures && changeUrl(older.id, newer.id),
    );
  }

  private async takeWaveform(side: Side, version: VersionView | null) {
    const address = version && this.calls.waveformUrl(version.id);
    const drawn = address && (version.analysis.state !== 'waiting' || hasWaveform(address));
    const waveform = drawn ? await loadWaveform(address) : null;
    const current = side === 'newer' ? this.pair?.newer : (this.pair?.older ?? null);
    if (current?.id === version?.id && waveform !== this.waveforms[side])
      this.waveforms = { ...this.waveforms, [side]: waveform };
  }

  private hear(side: Heard) {
    const made = side !== 'change' || this.alone.figures !== null;
    this.alone.wished = !made && this.pair?.older != null;
    this.alone.fault = null;
    if (made) this.player.switchTo(side);
    else if (this.pair) void this.alone.ask(this.pair);
    this.requestUpdate();
  }

  private pressVersion(versionId: string) {
    const version = this.sheet?.versions.find((each) => each.id === versionId);
    if (!this.pair || !version) return;
    const pair = pairWith(this.pair, version);
    if (pair !== this.pair) {
      this.pair = pair;
      this.takePair();
      this.writeAddress();
    }
    this.hear(pair.newer.id === versionId ? 'newer' : 'older');
  }

  // The playhead

  private act(action: ListenAction) {
    const before = this.view;
    this.view = reduceListenView(before, action);
    if (this.view.place !== before.place && this.draft.text.trim()) this.draft.sortSoon();
    if (action.type === 'playheadMoved') this.paint();
    else if (this.view !== before) this.requestUpdate();
  }

  private playerChanged = () => {
    this.requestUpdate();
    cancelAnimationFrame(this.frame);
    if (this.player.playing) this.frame = requestAnimationFrame(this.tick);
    else this.act({ type: 'playheadMoved', seconds: this.player.seconds });
  };

  private tick = () => {
    const turn = loopTurn(this.view, this.player.seconds);
    if (turn !== null) this.player.seek(turn);
    this.act({ type: 'playheadMoved', seconds: this.player.seconds });
    if (this.player.playing) this.frame = requestAnimationFrame(this.tick);
  };

  /** Moves what follows the playhead, without rendering the page anew on every frame. */
  private paint() {
    const { playheadSeconds } = this.view;
    for (const line of this.querySelectorAll<WaveformLine>('countoff-waveform-line'))
      line.playheadSeconds = Math.max(line.startSeconds, Math.min(line.endSeconds, playheadSeconds));
    this.querySelector<CloseUp>('countoff-close-up')?.moveTo(playheadSeconds);
    const composer = this.querySelector<Composer>('countoff-composer');
    if (composer) composer.playheadSeconds = Math.floor(playheadSeconds * 10) / 10;
    const time = this.querySelector('.where b');
    if (time) time.textContent = timeCode(playheadSeconds, { tenths: true });
    const place = this.querySelector('.where small');
    if (place) place.textContent = this.placeWords;
  }

  private get lines(): SheetLine[] {
    return this.sheet && this.pair
      ? sheetLines(this.sheet.song.sectionMap, this.pair.newer.file.durationSeconds)
      : [];
  }

  private get placeWords(): string {
    const { playheadSeconds } = this.view;
    const line = lineAt(this.lines, playheadSeconds);
    const bar = this.sheet ? barAndBeat(playheadSeconds, this.sheet.song.sectionMap) : null;
    return [line?.name, bar ? `bar ${bar.bar}.${bar.beat}` : ''].filter(Boolean).join(' · ');
  }

  private seek(seconds: number) {
    this.player.seek(Math.min(seconds, this.view.durationSeconds));
    this.act({ type: 'playheadMoved', seconds });
    this.writeAddress();
  }

  private togglePlay() {
    if (this.player.playing) {
      this.player.pause();
      this.writeAddress();
    } else void this.player.play();
  }

  private playSpot(seconds: number, range: Range | null) {
    if (range) this.act({ type: 'rangeTyped', range });
    this.seek(seconds);
    if (!this.player.playing) void this.player.play();
  }

  /** Keeps the address that of what is heard, so that it can be passed on or come back to. */
  private writeAddress() {
    clearTimeout(this.addressTimer);
    this.addressTimer = setTimeout(() => {
      const { pair, sheet } = this;
      if (!pair || !sheet) return;
      const query = listenQuery(sheet, pair, this.view.playheadSeconds);
      history.replaceState(history.state, '', songAddress(this.recordId, this.songId, 'listen', query));
    }, 400);
  }

  private step(direction: 1 | -1) {
    const { lines } = this;
    const at = this.view.playheadSeconds;
    const line =
      direction === 1
        ? lines.find((each) => each.startSeconds > at + 0.05)
        : lines.findLast((each) => each.startSeconds < at - 1);
    this.seek(line?.startSeconds ?? (direction === 1 ? this.view.durationSeconds : 0));
  }

  private readonly deeds: ListeningDeeds = {
    togglePlay: () => this.togglePlay(),
    seekBy: (seconds) => this.seek(this.view.playheadSeconds + seconds),
    hear: (what) => this.hear(what),
    markStart: () => this.act({ type: 'startMarked' }),
    markEnd: () => this.markEnd(),
    toggleLoop: () => this.act({ type: 'loopSet', loop: !this.view.loop }),
    write: () => this.querySelector<Composer>('countoff-composer')?.focus(),
    stepLine: (direction) => this.step(direction),
    zoom: (by) => this.act({ type: 'zoomed', by }),
    clearPlace: () => this.act({ type: 'placeCleared' }),
    showKeys: () => {
      this.keysOpen = true;
    },
  };

  private keys = (event: KeyboardEvent) => {
    const deed = deedOfKey(event, this.deeds);
    if (!deed) return;
    event.preventDefault();
    deed();
  };

  private markEnd() {
    const line = lineAt(this.lines, this.view.playheadSeconds);
    this.act({ type: 'endMarked', sectionStartSeconds: line?.startSeconds ?? 0 });
  }

  // Writing

  private drafted(text: string) {
    if (!this.draft.text.trim() && text.trim()) this.act({ type: 'typingStarted' });
    this.draft.write(text);
  }

  private async answerPart({ part, delivered, question }: PartAnswer) {
    if (delivered === null) {
      this.draft.leaveOpen(question);
      announce('Left open: whoever does the work settles it.');
      return;
    }
    const said = `Noted for everybody: ${part}, ${delivered ? 'in the recording already' : 'not in the recording'}.`;
    if (await this.deed(() => this.calls.answerPart(part, delivered), said)) await this.draft.sortAgain();
  }

  /** A note belongs to the version that is heard. */
  private get notedVersion() {
    const { newer, older } = this.pair!;
    return this.player.wanted === 'older' && older ? older : newer;
  }

  private async pin() {
    if (!this.pair) return;
    this.busy = true;
    await this.draft.settle();
    const { noteId, text, levels } = this.draft;
    const version = this.notedVersion;
    const range = this.rangeIn(version);
    const heardOn = this.heardOn || null;
    const pinned = await attempt(
      () => this.calls.writeNote({ noteId, versionId: version.id, range, text, heardOn, levels }),
      'Pinned.',
    );
    this.busy = false;
    if (!pinned) return;
    this.currentNoteId = noteId;
    this.draft.finish();
    this.act({ type: 'placeCleared' });
  }

  /** Where the note stands in the version that it is about. */
  private rangeIn(version: VersionView): Range | null {
    const range = noteRange(this.view);
    if (!range || version === this.pair?.newer) return range;
    const { inOlder } = this.compared.timeline;
    return {
      startSeconds: inOlder(range.startSeconds),
      endSeconds: range.endSeconds === null ? null : inOlder(range.endSeconds),
    };
  }

  private chooseHeardOn(value: string) {
    this.heardOn = value;
    if (value) localStorage.setItem('countoff:heard-on', value);
    else localStorage.removeItem('countoff:heard-on');
  }

  private async deed(call: () => Promise<unknown>, said?: string): Promise<boolean> {
    this.busy = true;
    const done = await attempt(call, said);
    this.busy = false;
    return done;
  }

  private async withdraw(noteId: string) {
    const sure = await ask({
      heading: 'Withdraw this note?',
      words: 'It leaves the list; the ledger keeps that it was written and withdrawn.',
      confirm: 'Withdraw it',
    });
    if (sure !== null) await this.deed(() => this.calls.withdrawNote(noteId), 'Withdrawn.');
  }

  private async leaveOut(requestId: string) {
    const reason = await ask({
      heading: 'Leave this out of the round?',
      words: 'It stays readable with your reason, and can be taken back in before sending.',
      label: 'Why, for the person who asked for it',
      confirm: 'Leave it out',
    });
    if (reason !== null) await this.deed(() => this.calls.leaveOut(requestId, reason), 'Left out.');
  }

  private async reply(event: CustomEvent<{ noteId: string; text: string }>) {
    const entry = event.target as NoteEntry;
    if (await this.deed(() => this.calls.reply(event.detail.noteId, event.detail.text))) entry.replied();
  }

  // Notes in view

  private secondsOf = (note: NoteView): number | null => {
    const range = placeOfNote(note);
    return range && (this.placed.of(note)?.seconds ?? range.startSeconds);
  };

  private markOf = (note: NoteView): string => placeMark(this.placed.of(note), note.versionName);

  /** The notes that the sheet shows: of the open list, of lists not yet answered, and of the one answered by this version. */
  private get shownNotes(): NoteView[] {
    const { sheet, pair } = this;
    if (!sheet || !pair) return [];
    if (this.allNotes) return sheet.notes;
    return sheet.notes.filter((note) => isCurrentNote(sheet, pair.newer, note));
  }

  // What is drawn

  private showRound = (event: Event) => {
    event.preventDefault();
    this.querySelector('#round')?.scrollIntoView({ block: 'start' });
  };

  private head(sheet: SongSheet, pair: ListeningPair) {
    const { newer } = pair;
    const address = (page: 'sections' | 'figures' | 'stems', query = {}) =>
      songAddress(this.recordId, this.songId, page, query);
    const addresses = {
      sections: address('sections'),
      figures: address('figures', { v: newer.id }),
      stems: address('stems', { v: newer.id }),
    };
    return html`${stripRow(sheet, pair, this.notedVersion.id, this.closeUpOpen, addresses, {
      ...this.deeds,
      pressVersion: (id) => this.pressVersion(id),
      toggleCloseUp: () => this.toggleCloseUp(),
    })}
      ${newer.warnings.map(({ words }) => html`<p class="measuring">${newer.name}: ${words}</p>`)} ${this.closeUp()}
      ${versionStanding(newer)} ${sectionless(sheet, addresses.sections)}`;
  }

  private toggleCloseUp() {
    this.closeUpOpen = !this.closeUpOpen;
    localStorage.setItem('countoff:close-up', this.closeUpOpen ? 'open' : 'closed');
  }

  private closeUp() {
    if (!this.closeUpOpen) return nothing;
    const range = markedRange(this.view);
    return html`<section
      class="close-up"
      aria-label="Close-up"
      @seek=${this.sought}
      @drag-range=${this.dragged}
      @drag-edge=${({ detail: { startSeconds, endSeconds } }: CustomEvent<Range>) =>
        this.act({ type: 'rangeTyped', range: { startSeconds, endSeconds } })}
    >
      <countoff-close-up
        .waveform=${this.waveforms.newer}
        .durationSeconds=${this.view.durationSeconds}
        .visibleSeconds=${visibleSeconds(this.view)}
        .spans=${this.marked.of(range)}
        .draws=${true}
        .playing=${this.player.playing}
      ></countoff-close-up>
    </section>`;
  }

  private sought(event: CustomEvent<{ seconds: number }>) {
    this.seek(event.detail.seconds);
  }

  private dragged(event: CustomEvent<{ from: number; to: number }>) {
    this.act({ type: 'rangeDragged', ...event.detail });
  }

  private note(sheet: SongSheet, note: NoteView): TemplateResult {
    return html`<countoff-note
      id=${`note-${note.id}`}
      .note=${note}
      .author=${authorWords(sheet, note)}
      .answeredBy=${answeredIn(sheet, note)}
      .placedSeconds=${this.secondsOf(note)}
      .placedRange=${this.placed.of(note)?.range ?? null}
      .placeMark=${this.markOf(note)}
      ?current=${note.id === this.currentNoteId}
    ></countoff-note>`;
  }

  private showNote(note: NoteView) {
    this.currentNoteId = note.id;
    const seconds = this.secondsOf(note);
    if (seconds !== null) this.seek(seconds);
    this.querySelector(`#note-${CSS.escape(note.id)}`)?.scrollIntoView({ block: 'nearest' });
  }

  private get drawing(): Omit<LineDrawing, 'grid'> {
    const { newer, older } = this.waveforms;
    const matching = this.compared.matching ?? unmatched;
    const newerGain = gainFactor(matching.newerGainDb);
    const olderGain = gainFactor(matching.olderGainDb);
    return {
      newer,
      older,
      newerGain,
      olderGain,
      fullHeight: Math.max((newer?.highestBar ?? 0) * newerGain, (older?.highestBar ?? 0) * olderGain) || 1,
      timeline: this.compared.timeline,
      selection: markedRange(this.view),
      pinRoom: Math.min(0.5, (phone.matches ? thumbPixels : pointerPixels) / this.lineWidth),
    };
  }

  private songSheet(sheet: SongSheet, { newer }: ListeningPair) {
    const { lines } = this;
    const { comparison } = this.compared;
    const byLine = notesByLine(this.shownNotes, lines, this.secondsOf);
    const whole = byLine.get(null) ?? [];
    const hidden = sheet.notes.filter((note) => !isCurrentNote(sheet, newer, note)).length;
    const drawing = { ...this.drawing, grid: sheet.song.sectionMap };
    return html`<div
        class="sheet"
        @seek=${this.sought}
        @drag-range=${this.dragged}
        @play-spot=${(event: CustomEvent<{ seconds: number }>) => {
          this.currentNoteId = (event.target as NoteEntry).note?.id ?? null;
          this.playSpot(event.detail.seconds, null);
        }}
        @withdraw-note=${(event: CustomEvent<{ noteId: string }>) => this.withdraw(event.detail.noteId)}
        @reply-note=${this.reply}
        @choose-level=${({
          detail: { requestId, level },
        }: CustomEvent<{ requestId: string; level: Level }>) =>
          this.deed(() => this.calls.chooseLevel(requestId, level))}
      >
        ${lines.map((line) =>
          sectionLine(
            line,
            drawing,
            comparison && lineChange(comparison, line),
            byLine.get(line) ?? [],
            this.secondsOf,
            this.markOf,
            (note) => this.note(sheet, note),
            (note) => this.showNote(note),
          ),
        )}
        ${
          whole.length
            ? html`<section class="line whole" aria-labelledby="line-song">
                <div class="name"><h2 id="line-song" class="nameless">The whole song</h2></div>
                <div class="margin">${whole.map((note) => this.note(sheet, note))}</div>
              </section>`
            : nothing
        }
      </div>
      ${
        hidden
          ? html`<p class="earlier">
              <button
                type="button"
                class="quiet"
                @click=${() => {
                  this.allNotes = !this.allNotes;
                }}
              >
                ${this.allNotes ? 'Only the notes of now' : `Show ${hidden} earlier note${hidden === 1 ? '' : 's'} too`}
              </button>
            </p>`
          : nothing
      }`;
  }

  private async renderAgain() {
    const { pair } = this;
    if (!pair?.older) return;
    const { newer, older } = pair;
    if (await attempt(() => this.calls.renderChangeAgain(older.id, newer.id))) this.hear('change');
  }

  private foot(pair: ListeningPair) {
    const { player, view } = this;
    const changed = pair.older
      ? songAddress(this.recordId, this.songId, 'changed', { a: pair.older.id, b: pair.newer.id })
      : null;
    return html`<section
      class="foot"
      aria-label="Playing and writing"
      @draft=${(event: CustomEvent<{ text: string }>) => this.drafted(event.detail.text)}
      @pin-note=${() => this.pin()}
      @choose-level=${({ detail }: CustomEvent<{ index: number; level: Level }>) => this.draft.choose(detail.index, detail.level)}
      @answer-part=${({ detail }: CustomEvent<PartAnswer>) => this.answerPart(detail)}
      @start-here=${() => this.act({ type: 'startMarked' })}
      @end-here=${() => this.markEnd()}
      @type-range=${(event: CustomEvent<{ range: Range }>) =>
        this.act({ type: 'rangeTyped', range: event.detail.range })}
      @whole-song=${() => this.act({ type: 'wholeSongChosen' })}
      @clear-place=${() => this.act({ type: 'placeCleared' })}
      @loop-range=${() => this.act({ type: 'loopSet', loop: !view.loop })}
    >
      <div class="foot-inside">
        ${footWords(pair, player, this.alone, () => this.renderAgain())}
        ${transport(
          pair,
          player,
          this.alone,
          this.compared.matching,
          changed,
          () => this.togglePlay(),
          (heard) => this.hear(heard),
        )}
        <countoff-composer
          .place=${view.place}
          .durationSeconds=${view.durationSeconds}
          .versionName=${this.notedVersion.name}
          .sorting=${this.draft.sorting}
          .question=${this.draft.question}
          .parts=${this.sheet?.song.parts ?? []}
          .sections=${this.sheet?.song.sectionMap.sections ?? []}
          .chosen=${this.draft.levels}
          .text=${this.draft.text}
          .busy=${this.busy}
          .loop=${view.loop}
        ></countoff-composer>
      </div>
    </section>`;
  }

  private desk(sheet: SongSheet) {
    return html`<div
      @play-spot=${({ detail }: CustomEvent<{ seconds: number; range: Range }>) =>
        this.playSpot(detail.seconds, detail.range)}
      @settle=${(event: CustomEvent<Settlement>) => this.deed(() => this.calls.settle(event.detail), 'Settled.')}
      @leave-out=${(event: CustomEvent<{ requestId: string }>) => this.leaveOut(event.detail.requestId)}
      @take-back=${(event: CustomEvent<{ requestId: string }>) =>
        this.deed(() => this.calls.takeBackIn(event.detail.requestId), 'Taken back in.')}
      @merge=${({ detail }: CustomEvent<{ into: string; others: string[] }>) =>
        this.deed(
          () => this.calls.merge(detail.into, detail.others),
          'One request now, with all its authors.',
        )}
      @keep-apart=${({ detail }: CustomEvent<{ requestIds: string[] }>) =>
        this.deed(() => this.calls.keepApart(detail.requestIds), 'They stay different wishes.')}
      @unmerge=${({ detail }: CustomEvent<{ into: string }>) =>
        this.deed(() => this.calls.unmerge(detail.into), 'Taken apart again.')}
      @send-round=${({ detail }: CustomEvent<{ gate: RoundGate; agreedFeeMinorUnits: number | null }>) =>
        this.deed(
          () => this.calls.sendRound(detail.gate, detail.agreedFeeMinorUnits),
          'Sent. The engineer has the list now.',
        )}
    >
      <countoff-round-desk .sheet=${sheet} .busy=${this.busy}></countoff-round-desk>
    </div>`;
  }

  override render() {
    const { sheet, pair } = this;
    if (!sheet) return html`<div class="page"><p class="lede" role="status">Opening the song …</p></div>`;
    return html`<div class="page listen">
        <div class="opening">
          <h1>${sheet.song.title}</h1>
          ${songLede(sheet, pair?.older ?? null, this.compared, this.showRound)} ${songFacts(sheet, this.heardOn, (heardOn) => this.chooseHeardOn(heardOn))}
          ${
            pair?.newer.printNotes
              ? html`<p class="print-notes"><b>Print notes of ${pair.newer.name}</b><span>${pair.newer.printNotes}</span></p>`
              : nothing
          }
        </div>
        ${
          pair
            ? [this.head(sheet, pair), this.songSheet(sheet, pair)]
            : html`<div class="empty">
                <p>No version has been posted yet. As soon as one is, it can be heard here.</p>
                ${
                  sheet.reader.may.includes('postVersion')
                    ? html`<a class="button main" href=${songAddress(this.recordId, this.songId, 'post-version')}
                        >Post the first version</a
                      >`
                    : nothing
                }
              </div>`
        }
        ${this.desk(sheet)}
        <p class="caution">
          Ears tire: take breaks, and listen at a moderate level. Loudness is matched by BS.1770, which says nothing about
          the balance of a voice. This music is unreleased and your link is personal: please pass neither on.
          <a href="/glossary">What the words and figures mean</a>
        </p>
      </div>
      ${pair ? this.foot(pair) : nothing}
      ${shortcutsDialog(this.keysOpen, () => {
        this.keysOpen = false;
      })}`;
  }
}
