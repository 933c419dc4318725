import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../../api/call.ts';
import { type AttachedStems, songCalls } from '../../api/song-calls.ts';
import type { SongSheet, Stem, VersionView } from '../../api/types.ts';
import { attempt } from '../../elements/announcer.ts';
import { asSentence, countWords } from '../../elements/count-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { fileHash } from '../../elements/file-hash.ts';
import { fileSizeWords, storedFormatWords } from '../../elements/format-words.ts';
import { navigate } from '../../navigate.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import { hasFault } from './stem-desk.ts';
import './stem-sum.ts';
import { type StemUploads, stemUploadsOf } from './stem-uploads.ts';
import './stems.css';

export const tag = 'countoff-stems';

/** The stems of one version: what it has, whether they sum to it, and where they are attached or replaced. */
@customElement(tag)
export class StemsPage extends FeatureElement {
  @state() private attached: AttachedStems[] | null = null;
  /** Whoever may list stems may attach them only at the gates where they post. */
  @state() private mayAttach = false;
  @state() private fault: string | null = null;
  @state() private busy = false;
  /** SHA-256 of stems that are not to stay. */
  @state() private dropped: ReadonlySet<string> = new Set();
  private uploads: StemUploads | null = null;
  private read = '';
  private stop: AbortController | null = null;

  override disconnectedCallback() {
    super.disconnectedCallback();
    this.stop?.abort();
    this.read = '';
  }

  private version(sheet: SongSheet): VersionView | undefined {
    const named = this.query.get('v');
    return named ? sheet.versions.find(({ id }) => id === named) : sheet.versions.at(-1);
  }

  private may(sheet: SongSheet): boolean {
    return sheet.reader.may.includes('attachStems');
  }

  protected override willUpdate() {
    const { sheet } = this;
    if (!sheet || !this.isConnected) return;
    const version = this.version(sheet);
    this.uploads = version
      ? stemUploadsOf({ recordId: this.recordId, songId: this.songId, gate: version.gate })
      : null;
    const wanted = version && this.may(sheet) ? `${version.id} ${version.stems?.at ?? ''}` : '';
    if (wanted === this.read) return;
    this.read = wanted;
    this.stop?.abort();
    this.attached = null;
    this.fault = null;
    this.dropped = new Set();
    if (version && wanted) void this.load(version);
  }

  private async load(version: VersionView) {
    const stop = new AbortController();
    this.stop = stop;
    try {
      const { attached, mayAttach } = await songCalls(this.recordId, this.songId).stems(
        version.id,
        stop.signal,
      );
      if (this.stop !== stop) return;
      this.attached = attached;
      this.mayAttach = mayAttach;
    } catch (error) {
      if (stop.signal.aborted) return;
      this.fault = error instanceof Refusal ? error.message : 'The stems could not be read.';
    }
  }

  private get held(): Stem[] {
    return this.attached?.at(-1)?.stems ?? [];
  }

  /** What stays of the stems that the version has: all but those let go of, and those that a new one takes the name of. */
  private get staying(): Stem[] {
    const names = new Set(this.uploads?.stems.map(({ name }) => name.trim().toLowerCase()));
    return this.held.filter(
      ({ name, file }) => !this.dropped.has(file.sha256) && !names.has(name.toLowerCase()),
    );
  }

  private attach = async (event: SubmitEvent) => {
    event.preventDefault();
    const version = this.sheet && this.version(this.sheet);
    const { uploads } = this;
    if (!version || !uploads) return;
    const reason = String(new FormData(event.target as HTMLFormElement).get('reason') ?? '').trim();
    const staying = this.staying.map(({ name, role, file }) => ({
      name,
      role,
      uploadId: null,
      sha256: file.sha256,
    }));
    this.busy = true;
    const done = await attempt(
      () =>
        songCalls(this.recordId, this.songId).attachStems(version.id, {
          stems: [...staying, ...uploads.sent],
          reason,
        }),
      `The stems of ${version.name} are on the record. They are summed, and held against the version before.`,
    );
    this.busy = false;
    if (!done) return;
    uploads.attached();
    (event.target as HTMLFormElement).reset();
  };

  private heldRow(stem: Stem, version: VersionView) {
    const { name, role, file } = stem;
    const stays = this.staying.includes(stem);
    return html`<li class=${stays ? '' : 'leaving'}>
      <label class="check"
        ><input
          type="checkbox"
          ?disabled=${!this.mayAttach}
          ?checked=${!this.dropped.has(file.sha256)}
          @change=${({ target }: Event) => {
            const dropped = new Set(this.dropped);
            if ((target as HTMLInputElement).checked) dropped.delete(file.sha256);
            else dropped.add(file.sha256);
            this.dropped = dropped;
          }}
        /><span>${name}${role === 'part' ? nothing : html` <small>${role}</small>`}</span></label
      >
      <p>
        <a href=${songCalls(this.recordId, this.songId).stemUrl(version.id, file.sha256)} download=${file.fileName}>${file.fileName}</a>
        <small>${storedFormatWords(file)} · ${fileSizeWords(file.byteLength)}</small> <small>${fileHash(file.sha256)}</small>
        ${stays ? nothing : html`<small>${this.dropped.has(file.sha256) ? 'does not stay' : 'is replaced by the one below'}</small>`}
      </p>
    </li>`;
  }

  private heldStems(version: VersionView) {
    const { attached, held } = this;
    const last = attached?.at(-1);
    if (!last) return nothing;
    return html`<section class="list">
      <h2>${asSentence(countWords(held.length, 'stem'))} <small>attached by ${last.by.name}${last.reason ? `: ${last.reason}` : ''}${attached && attached.length > 1 ? `; ${countWords(attached.length - 1, 'earlier set')} on the record` : ''}</small></h2>
      <countoff-stem-sum .recordId=${this.recordId} .songId=${this.songId} .version=${version} .mayAskAgain=${true}></countoff-stem-sum>
      <ul class="held">${held.map((stem) => this.heldRow(stem, version))}</ul>
    </section>`;
  }

  private form(sheet: SongSheet, version: VersionView) {
    const { uploads } = this;
    if (!uploads) return nothing;
    const replaces = this.held.length > 0;
    const changes = uploads.stems.length > 0 || this.dropped.size > 0;
    const count = this.staying.length + uploads.stems.length;
    const obstacle = uploads.ready ? hasFault(uploads, version.file) : true;
    return html`<section class="sheet">
      <h2>${replaces ? 'Replace some of them' : 'The stems'}</h2>
      <p>
        A stem is one part, or a group of parts, printed through the same mix by itself; all of them together sum to the
        version. An instrumental and an a cappella are held against it as a pair.
      </p>
      <countoff-stem-desk
        .uploads=${uploads}
        .print=${version.file}
        .known=${[sheet.song.title, version.name, sheet.record.title, sheet.record.act]}
        @stems-changed=${() => this.requestUpdate()}
      ></countoff-stem-desk>
      <form @submit=${this.attach}>
        ${
          replaces
            ? html`<label class="field">Why they are replaced; it stays on the record<textarea name="reason" rows="2" required></textarea></label>`
            : nothing
        }
        <div class="acts">
          <button class="main" ?disabled=${this.busy || !changes || count === 0 || obstacle}>
            ${replaces ? `Replace: ${countWords(count, 'stem')} from then on` : `Attach ${countWords(count, 'stem')} to ${version.name}`}
          </button>
          <a href=${songAddress(this.recordId, this.songId, 'changed', { b: version.id })}>What changed</a>
        </div>
        <p class="caution">
          Stems are confidential: the engineers and the producer alone can list them and take them away. Everybody on the
          record reads what they tell, and their names. Nothing is overwritten: a set that is replaced stays on the record.
        </p>
      </form>
    </section>`;
  }

  override render() {
    const { sheet } = this;
    if (!sheet) return html`<div class="page narrow"><p class="lede" role="status">One moment …</p></div>`;
    const version = this.version(sheet);
    if (!version)
      return html`<div class="page narrow"><h1>${sheet.song.title} · stems</h1><p class="lede">There is no such version.</p></div>`;
    if (!this.may(sheet))
      return html`<div class="page narrow"><h1>${sheet.song.title} · stems</h1>
        <p class="lede">Stems are for the engineers and the producer alone. What they tell stands under <a href=${songAddress(this.recordId, this.songId, 'changed', { b: version.id })}>what changed</a>.</p></div>`;
    return html`<div class="page stems">
      <h1>${sheet.song.title} · stems of ${version.name}</h1>
      <label class="field of"
        >Version<select
          @change=${({ target }: Event) => navigate(songAddress(this.recordId, this.songId, 'stems', { v: (target as HTMLSelectElement).value }), { replace: true })}
        >
          ${sheet.versions.map(({ id, name, stems }) => html`<option value=${id} ?selected=${id === version.id}>${name}${stems ? `, ${countWords(stems.names.length, 'stem')}` : ''}</option>`)}
        </select></label
      >
      ${this.fault ? html`<p class="aside" role="alert">${this.fault}</p>` : nothing}
      ${this.heldStems(version)}
      ${
        !this.attached
          ? nothing
          : this.mayAttach
            ? this.form(sheet, version)
            : html`<p class="aside">Stems of ${version.name} are attached by whoever posts at the ${version.gate} gate.</p>`
      }
    </div>`;
  }
}
