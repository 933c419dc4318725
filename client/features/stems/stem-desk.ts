import { html, nothing } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { StemRole, VersionView } from '../../api/types.ts';
import { announceRefusal } from '../../elements/announcer.ts';
import { countWords } from '../../elements/count-words.ts';
import { fileSizeWords, formatWords } from '../../elements/format-words.ts';
import { LightElement } from '../../elements/light-element.ts';
import { type CheckedStem, stemFault } from './stem-fault.ts';
import './stem-desk.css';
import { mostStems, type StemDraft, type StemUploads } from './stem-uploads.ts';

const audioTypes = '.wav,.wave,.aif,.aiff,.aifc,.flac,.mp3,audio/*';

const roleWords: Record<StemRole, string> = {
  part: 'a part or group',
  instrumental: 'instrumental',
  'a cappella': 'a cappella',
  'TV track': 'TV track',
  clean: 'clean version',
};

const checked = ({ key, name, upload }: StemDraft): CheckedStem => ({
  key,
  name,
  inspection: upload.state.step === 'ready' ? upload.state.inspection : null,
});

/** Whether one of the stems on their way would be refused, as far as that can be said here. */
export function hasFault(uploads: StemUploads, print: VersionView['file'] | null): boolean {
  const all = uploads.stems.map(checked);
  return all.some((stem) => stemFault(stem, all, print) !== null);
}

/** Where stems are put down: several files at once, each with its name, its progress, and what stands in its way. */
@customElement('countoff-stem-desk')
export class StemDesk extends LightElement {
  @property({ attribute: false }) uploads: StemUploads | null = null;
  /** The file that the stems are of; `null` while it is not known. */
  @property({ attribute: false }) print: VersionView['file'] | null = null;
  /** What file names may hold that is no part: the song, the version, the record, the act. */
  @property({ attribute: false }) known: string[] = [];
  @state() private over = false;
  @state() private leftOut = 0;
  private followed: StemUploads | null = null;

  private changed = () => {
    this.requestUpdate();
    this.dispatchEvent(new Event('stems-changed', { bubbles: true }));
  };

  protected override willUpdate() {
    if (this.uploads === this.followed || !this.isConnected) return;
    this.followed?.removeEventListener('changed', this.changed);
    this.followed = this.uploads;
    this.followed?.addEventListener('changed', this.changed);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.followed?.removeEventListener('changed', this.changed);
    this.followed = null;
  }

  private take(files: FileList | undefined | null) {
    if (files?.length) this.leftOut = this.uploads?.add([...files], this.known) ?? 0;
  }

  private choose = (event: Event) => {
    const input = event.target as HTMLInputElement;
    this.take(input.files);
    input.value = '';
  };

  private drop = (event: DragEvent) => {
    event.preventDefault();
    this.over = false;
    this.take(event.dataTransfer?.files);
  };

  private standing({ upload, fileName }: StemDraft, fault: string | null) {
    const { state } = upload;
    const bar = (share: number) =>
      html`<progress max="1" .value=${share} aria-label="Upload of ${fileName}"></progress>`;
    switch (state.step) {
      case 'empty':
        return html`<p>Waits for those before it.</p>`;
      case 'sending':
      case 'paused': {
        const share = state.byteLength ? state.sentBytes / state.byteLength : 0;
        return html`${bar(share)}<p>${Math.floor(share * 100)} % of ${fileSizeWords(state.byteLength)} sent</p>`;
      }
      case 'broken':
        return html`<p class="fault" role="alert">${state.words}</p>
          <button type="button" @click=${() => upload.goOn()}>Go on</button>`;
      case 'checking':
        return html`${bar(state.progress)}<p>The server reads it from start to end.</p>`;
      case 'refused':
        return html`<p class="fault" role="alert">${state.inspection.refusal}</p>`;
      case 'ready': {
        const { format, byteLength } = state.inspection;
        return html`${fault ? html`<p class="fault" role="alert">${fault}</p>` : nothing}
          <p>${format ? formatWords(format) : ''} · ${fileSizeWords(byteLength)}</p>`;
      }
    }
  }

  private row(stem: StemDraft, all: readonly CheckedStem[]) {
    const { key, name, role, fileName } = stem;
    const own = all.find((each) => each.key === key)!;
    const fault = stemFault(own, all, this.print);
    return html`<li ?data-fault=${fault !== null || stem.upload.state.step === 'refused'}>
      <label class="field"
        >Name<input
          .value=${name}
          maxlength="60"
          aria-invalid=${fault !== null && !own.name.trim() ? 'true' : nothing}
          @change=${({ target }: Event) => this.uploads?.change(key, { name: (target as HTMLInputElement).value })}
      /></label>
      <label class="field"
        >Holds<select
          @change=${({ target }: Event) => this.uploads?.change(key, { role: (target as HTMLSelectElement).value as StemRole })}
        >
          ${(Object.keys(roleWords) as StemRole[]).map((each) => html`<option value=${each} ?selected=${each === role}>${roleWords[each]}</option>`)}
        </select></label
      >
      <div class="standing"><p class="file">${fileName}</p>${this.standing(stem, fault)}</div>
      <button
        type="button"
        class="quiet"
        aria-label="Let go of ${fileName}"
        @click=${() => void this.uploads?.remove(key).catch(announceRefusal)}
      >Let go</button>
    </li>`;
  }

  override render() {
    const stems = this.uploads?.stems ?? [];
    const all = stems.map(checked);
    return html`<div
        class="drop"
        ?data-over=${this.over}
        @dragover=${(event: DragEvent) => {
          event.preventDefault();
          this.over = true;
        }}
        @dragleave=${() => {
          this.over = false;
        }}
        @drop=${this.drop}
      >
        <label class="button" for="stem-files">${stems.length ? 'Choose more…' : 'Choose stems…'}</label>
        <input id="stem-files" class="unseen" type="file" multiple accept=${audioTypes} @change=${this.choose} />
        <p>or drop them here, up to ${mostStems}: from the start of the song, at the rate of the print. Each is named by its file; put right what is wrong.</p>
      </div>
      ${this.leftOut ? html`<p class="aside" role="alert">A version takes up to ${mostStems} stems; ${countWords(this.leftOut, 'file')} of these ${this.leftOut === 1 ? 'was' : 'were'} left out. Print groups together.</p>` : nothing}
      ${stems.length ? html`<ul class="stem-drafts">${stems.map((stem) => this.row(stem, all))}</ul>` : nothing}`;
  }
}
