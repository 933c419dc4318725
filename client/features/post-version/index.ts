import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { songCalls } from '../../api/song-calls.ts';
import type { Gate, LockBreakView, SongSheet } from '../../api/types.ts';
import type { Inspection } from '../../api/uploads.ts';
import { announceRefusal, attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import { AskedBetween } from '../../elements/asked-between.ts';
import { askedList } from '../../elements/asked-list.ts';
import { asSentence, countWords } from '../../elements/count-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { fileHash } from '../../elements/file-hash.ts';
import { fileSizeWords, formatWords } from '../../elements/format-words.ts';
import { gateOrder, versionWord } from '../../elements/gate-words.ts';
import { timeCode } from '../../elements/time-code.ts';
import '../../elements/unasked-list.ts';
import type { ExplainedChange } from '../../elements/unasked-list.ts';
import { navigate } from '../../navigate.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import { hasFault } from '../stems/stem-desk.ts';
import { type StemUploads, stemUploadsOf } from '../stems/stem-uploads.ts';
import './post-version.css';
import { type VersionUpload, versionUploadOf } from './version-upload.ts';

export const tag = 'countoff-post-version';

/** What may be chosen; the server reads the file itself and has the last word. */
const audioTypes = '.wav,.wave,.aif,.aiff,.aifc,.flac,.mp3,audio/*';

/** Posts the next version: the file with its progress and check, the print notes, and what it contains. */
@customElement(tag)
export class PostVersion extends FeatureElement {
  @state() private busy = false;
  @state() private over = false;
  private upload: VersionUpload | null = null;
  private stems: StemUploads | null = null;
  /** What the checked file answers and changes, seen before anybody else sees it. */
  private readonly preview = new AskedBetween(this);
  private explanations: readonly ExplainedChange[] = [];

  private get postingGate(): Gate {
    const asked = this.query.get('gate');
    const known = gateOrder.find((gate) => gate === asked);
    return known ?? this.sheet?.gate ?? 'mix';
  }

  private get notesKey(): string {
    return `print notes ${this.recordId} ${this.songId} ${this.postingGate}`;
  }

  private changed = () => this.requestUpdate();

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.upload?.removeEventListener('changed', this.changed);
    this.upload = null;
  }

  protected override willUpdate() {
    if (!this.sheet || !this.isConnected) return;
    const place = { recordId: this.recordId, songId: this.songId, gate: this.postingGate };
    this.stems = stemUploadsOf(place);
    const upload = versionUploadOf(place);
    const ready = upload.state.step === 'ready' ? upload.state.uploadId : null;
    this.preview.follow(
      this.sheet.versions.length ? ready : null,
      `${this.sheet.song.sectionMap.revision}`,
      (signal, onProgress) =>
        songCalls(this.recordId, this.songId).askedBefore(ready ?? '', signal, onProgress),
    );
    if (upload === this.upload) return;
    this.upload?.removeEventListener('changed', this.changed);
    this.upload = upload;
    upload.addEventListener('changed', this.changed);
  }

  private take(file: File | undefined) {
    if (file) void this.upload?.take(file).catch(announceRefusal);
  }

  private choose = (event: Event) => {
    const input = event.target as HTMLInputElement;
    this.take(input.files?.[0]);
    input.value = '';
  };

  private drop = (event: DragEvent) => {
    event.preventDefault();
    this.over = false;
    this.take(event.dataTransfer?.files[0]);
  };

  private dragOver = (event: DragEvent) => {
    event.preventDefault();
    this.over = true;
  };

  private discard = async () => {
    const yes = await ask({
      heading: 'Let go of this file?',
      words:
        'It is removed from the server, unless it is a version or a stem already. The file on your machine and your print notes stay.',
      confirm: 'Let go of it',
    });
    if (yes !== null) await this.upload?.discard();
  };

  private submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const { upload } = this;
    if (upload?.state.step !== 'ready') return;
    const { uploadId } = upload.state;
    const fields = new FormData(event.target as HTMLFormElement);
    const gate = this.postingGate;
    const { versionId } = upload;
    // Read now: once the version is posted, the round is no longer the one that waits.
    const answers = this.sheet?.rounds.find(
      (round) => round.gate === gate && round.status === 'sent',
    )?.number;
    const older = this.preview.told?.olderVersionId;
    const { explanations } = this;
    this.busy = true;
    const done = await attempt(
      () =>
        songCalls(this.recordId, this.songId).postVersion({
          versionId,
          uploadId,
          gate,
          printNotes: String(fields.get('printNotes') ?? '').trim(),
          changes: fields.getAll('changes').map(Number),
        }),
      `${this.nextName} is posted. Everybody on the record sees it now; its measurement is under way.`,
    );
    if (done && older)
      for (const explanation of explanations)
        await attempt(() =>
          songCalls(this.recordId, this.songId).explainChange(older, versionId, explanation),
        );
    const stemsWait = done && (await this.attachStems(versionId));
    this.busy = false;
    if (!done) return;
    sessionStorage.removeItem(this.notesKey);
    upload.posted();
    if (stemsWait) {
      navigate(songAddress(this.recordId, this.songId, 'stems', { v: versionId }));
      return;
    }
    navigate(
      gate === 'production'
        ? songAddress(this.recordId, this.songId, 'scope')
        : songAddress(this.recordId, this.songId, 'queue', answers ? { round: `${gate}-${answers}` } : {}),
    );
  };

  /** Attaches the stems that have arrived with the version; true where some still wait, to be attached on their own page. */
  private async attachStems(versionId: string): Promise<boolean> {
    const { stems } = this;
    if (!stems?.stems.length) return false;
    const attached =
      stems.ready &&
      (await attempt(() =>
        songCalls(this.recordId, this.songId).attachStems(versionId, { stems: stems.sent, reason: '' }),
      ));
    if (!attached) return true;
    stems.attached();
    return false;
  }

  private stemsStep(sheet: SongSheet) {
    const { stems, upload } = this;
    if (!stems) return nothing;
    const print = this.printFile;
    const waits = stems.stems.length > 0 && !stems.ready;
    return html`<details class="with-stems" ?open=${stems.stems.length > 0}>
      <summary>Its stems, if you have them</summary>
      <p>With stems the product says which part moved and by how much, in place of which range. They can be attached later, too, and are for the engineers and the producer alone.</p>
      <countoff-stem-desk
        .uploads=${stems}
        .print=${print}
        .known=${[sheet.song.title, this.nextName, sheet.record.title, sheet.record.act]}
        @stems-changed=${() => this.requestUpdate()}
      ></countoff-stem-desk>
      ${waits && upload?.state.step === 'ready' ? html`<p class="aside">Posting doesn’t wait for stems: those that are still on their way are attached on the next page.</p>` : nothing}
      ${stems.ready && hasFault(stems, print) ? html`<p class="aside">As they are, the stems would be refused. Put right what is said beside them, or attach them after posting.</p>` : nothing}
    </details>`;
  }

  /** What the checked file will be as a version, as far as stems are held against it. */
  private get printFile() {
    const { upload } = this;
    if (upload?.state.step !== 'ready') return null;
    const { sha256, format, durationSeconds, byteLength, fileName } = upload.state.inspection;
    if (!sha256 || !format || durationSeconds === null) return null;
    const { sampleRateHz, channelCount, bitDepth } = format;
    return { sha256, fileName, byteLength, sampleRateHz, channelCount, bitDepth, durationSeconds };
  }

  private get nextName(): string {
    const gate = this.postingGate;
    const count = this.sheet?.versions.filter((version) => version.gate === gate).length ?? 0;
    return `${versionWord[gate]} v${count + 1}`;
  }

  /** What stands in the way of posting now, whatever the file; the server decides again. */
  private obstacle(sheet: SongSheet): string | null {
    const gate = this.postingGate;
    if (!sheet.reader.may.includes('postVersion'))
      return 'Versions are posted by the engineers and the producer.';
    if (gate === 'production')
      return sheet.lock.status === 'locked'
        ? 'The production is locked: approved and frozen. A change to it starts as a request, is priced by the producer and accepted by the payer.'
        : null;
    if (sheet.lock.status === 'open')
      return 'The production is not signed yet. A mix starts once it is, so that everybody mixes the same song.';
    if (gate === 'master' && sheet.gates.mix.status === 'open')
      return 'Mastering starts on the signed mix, and the mix gate is still open.';
    if (sheet.gates[gate].status === 'closed')
      return `The ${gate} gate is closed on ${sheet.gates[gate].versionName}. It can be reopened on the sign-off page, with its price.`;
    const waiting = sheet.rounds.find((round) => round.gate === gate && round.waitsForGoAhead);
    return waiting
      ? `Round ${waiting.number} is beyond the contract and waits for the payer’s go-ahead. A file that you upload now is kept, and can be posted then.`
      : null;
  }

  private sentence(sheet: SongSheet) {
    const gate = this.postingGate;
    if (gate === 'production') {
      return sheet.lock.status === 'open for changes'
        ? html`The lock is open for <b>change ${sheet.lock.changes.join(', ')}</b> only. Deliver the new production; it is locked again when it is signed.`
        : html`Post the rough, the production’s quick balance, to be approved and locked.`;
    }
    const sent = sheet.rounds.find((round) => round.gate === gate && round.status === 'sent');
    if (!sent)
      return html`${this.nextName} answers no round${sheet.versions.some((version) => version.gate === gate) ? '' : ': the first version counts none'}.`;
    const requests = sheet.notes
      .flatMap((note) => note.requests)
      .filter((request) => sent.requestIds.includes(request.id) && request.level !== 'none');
    const open = requests.filter(
      (request) => !request.answer && !request.parked && !request.lockBreak,
    ).length;
    return html`${this.nextName} answers <b>round ${sent.number}</b>, ${countWords(requests.length, 'request')} on ${sent.versionName}. ${open ? html`<b>${asSentence(countWords(open, 'of them has', 'of them have'))} no answer yet</b>; they can still be answered afterwards.` : 'All of them are answered.'}`;
  }

  private fileStep() {
    const { upload } = this;
    if (!upload) return nothing;
    const { state } = upload;
    switch (state.step) {
      case 'empty':
        return html`<div class="drop" ?data-over=${this.over} @dragover=${this.dragOver} @dragleave=${() => {
          this.over = false;
        }} @drop=${this.drop}>
          <label class="button main" for="version-file">Choose the file…</label>
          <input id="version-file" class="unseen" type="file" accept=${audioTypes} @change=${this.choose} />
          <p>or drop it here. WAV, AIFF, FLAC or MP3; WAV or AIFF as it left your session is best. A broken upload goes on where it stopped.</p>
        </div>`;
      case 'sending':
      case 'paused':
      case 'broken': {
        const share = state.byteLength ? state.sentBytes / state.byteLength : 0;
        return html`<div class="transfer">
          <p><b>${state.fileName}</b> · ${fileSizeWords(state.byteLength)}</p>
          <progress max="1" .value=${share} aria-label="Upload of ${state.fileName}"></progress>
          <p role="status">${
            state.step === 'sending'
              ? `${Math.floor(share * 100)} % sent${state.resumed ? ', going on where it stopped' : ''}`
              : state.step === 'paused'
                ? `Paused at ${Math.floor(share * 100)} %. What has arrived is kept.`
                : nothing
          }</p>
          ${state.step === 'broken' ? html`<p class="aside serious" role="alert">${state.words}</p>` : nothing}
          <div class="acts">
            ${
              state.step === 'sending'
                ? html`<button type="button" @click=${() => upload.pause()}>Pause</button>`
                : html`<button type="button" class="main" @click=${() => upload.goOn()}>Go on</button>`
            }
            <button type="button" class="quiet" @click=${this.discard}>Let go of this file…</button>
          </div>
        </div>`;
      }
      case 'checking':
        return html`<div class="transfer">
          <p><b>${state.fileName || 'Your file'}</b></p>
          <progress max="1" .value=${state.progress} aria-label="Check of the file"></progress>
          <p role="status">The server reads it from start to end: format, length, SHA-256, silence.</p>
        </div>`;
      case 'refused':
        return html`<div class="transfer">
          <p><b>${state.inspection.fileName}</b></p>
          <p class="aside serious" role="alert">${state.inspection.refusal}</p>
          <div class="acts">
            <button type="button" class="main" @click=${() => upload.discard()}>Choose another file</button>
          </div>
        </div>`;
      case 'ready':
        return this.inspection(state.inspection);
    }
  }

  private inspection(inspection: Inspection) {
    return html`<div class="transfer">
      <p><b>${inspection.fileName}</b></p>
      <dl class="pairs">
        <div><dt>Format</dt><dd>${inspection.format ? formatWords(inspection.format) : '–'}</dd></div>
        <div><dt>Length</dt><dd>${inspection.durationSeconds === null ? '–' : timeCode(inspection.durationSeconds, { tenths: true })} · ${fileSizeWords(inspection.byteLength)}</dd></div>
        <div><dt>SHA-256</dt><dd>${inspection.sha256 ? fileHash(inspection.sha256) : '–'}</dd></div>
      </dl>
      ${
        inspection.warnings.length
          ? html`<ul class="aside">${inspection.warnings.map((warning) => html`<li>${warning.words}</li>`)}</ul>`
          : html`<p class="ok" role="status">The file is whole.</p>`
      }
      <div class="acts"><button type="button" class="quiet" @click=${this.discard}>Let go of this file…</button></div>
    </div>`;
  }

  /** Comparing takes a while on a long song; posting never waits for it. */
  private beforePosting() {
    if (this.upload?.state.step !== 'ready' || !this.sheet?.versions.length) return nothing;
    const { told, progress, fault } = this.preview;
    const heading = html`<h2>Before you post</h2>`;
    if (!told || told.fault)
      return html`<section class="before">${heading}
        <p role="status">${told?.fault ?? fault ?? `Compared with the version before it: ${Math.round((progress ?? 0) * 100)} %. You can post without waiting.`}</p>
      </section>`;
    return html`<section
      class="before"
      @draft-explanations=${({ detail }: CustomEvent<ExplainedChange[]>) => {
        this.explanations = detail;
      }}
    >
      ${heading}
      <p>Only you see this now. Everybody sees the same as soon as it is posted.</p>
      ${told.asked.length ? html`<h3>Asked</h3>${askedList(told.asked, null)}` : nothing}
      <h3>${told.answersList ? 'Not asked' : 'Changed'}</h3>
      ${
        told.unasked.length
          ? html`<p>What you write here is posted with the version.</p>
              <countoff-unasked-list
                .changes=${told.unasked}
                .answersList=${told.answersList}
                .mayExplain=${told.mayExplain}
                .later=${true}
              ></countoff-unasked-list>`
          : html`<p>No change measured outside what was asked for.</p>`
      }
    </section>`;
  }

  private changeChoice(sheet: SongSheet) {
    if (this.postingGate !== 'production' || sheet.lock.status !== 'open for changes') return nothing;
    const open = sheet.lock.changes;
    const words = (each: LockBreakView) =>
      'price' in each ? each.price.words : (each.request?.text ?? `change ${each.number}`);
    return html`<fieldset>
      <legend>Changes that this production contains</legend>
      ${sheet.lockBreaks
        .filter((each) => open.includes(each.number))
        .map(
          (each) => html`<label class="check"
            ><input type="checkbox" name="changes" value=${each.number} ?checked=${open.length === 1} /><span
              >Change ${each.number}: ${words(each)} <small>“${each.request?.text}”, ${each.request?.author.name}</small></span
            ></label
          >`,
        )}
    </fieldset>`;
  }

  override render() {
    const { sheet } = this;
    if (!sheet) return html`<div class="page narrow"><p class="lede" role="status">One moment …</p></div>`;
    const obstacle = this.obstacle(sheet);
    const ready = this.upload?.state.step === 'ready';
    const mayPost = sheet.reader.may.includes('postVersion');
    return html`<div class="page narrow post-version">
      <h1>${sheet.song.title} · ${this.nextName}</h1>
      <p class="lede">${this.sentence(sheet)}</p>
      ${obstacle ? html`<p class="aside">${obstacle}</p>` : nothing}
      ${
        mayPost
          ? html`<section class="sheet">
              <h2>The file</h2>
              ${this.fileStep()} ${this.stemsStep(sheet)}
              <form @submit=${this.submit}>
                <label class="field"
                  >Print notes: what you changed, as the others will read it<textarea
                    name="printNotes"
                    rows="6"
                    .defaultValue=${sessionStorage.getItem(this.notesKey) ?? ''}
                    @input=${(event: InputEvent) =>
                      sessionStorage.setItem(this.notesKey, (event.target as HTMLTextAreaElement).value)}
                  ></textarea>
                </label>
                ${this.beforePosting()} ${this.changeChoice(sheet)}
                <div class="acts">
                  <button class=${ready ? 'main' : nothing} ?disabled=${!ready || this.busy || obstacle !== null}>Post as ${this.nextName}</button>
                  <a href=${songAddress(this.recordId, this.songId, this.postingGate === 'production' ? 'scope' : 'queue')}>Back without posting</a>
                </div>
                <p class="caution">Versions are numbered and never overwritten. A posted file stays on the record under its SHA-256.</p>
              </form>
            </section>`
          : nothing
      }
    </div>`;
  }
}
