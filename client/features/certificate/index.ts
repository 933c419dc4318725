import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../../api/call.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Gate, Measurement, SignatureView, VersionView } from '../../api/types.ts';
import { announceRefusal } from '../../elements/announcer.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { figuresTable } from '../../elements/figures-table.ts';
import { hashGroups } from '../../elements/file-hash.ts';
import { fileSizeWords, storedFormatWords } from '../../elements/format-words.ts';
import { gateOrder, gateWord } from '../../elements/gate-words.ts';
import { timeCode } from '../../elements/time-code.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import './certificate.css';

export const tag = 'countoff-certificate';

/** What a closed gate stands on, as the server certifies it. */
interface Certificate {
  record: { id: string; title: string; act: string };
  song: { id: string; title: string };
  gate: Gate;
  version: Pick<VersionView, 'id' | 'name' | 'file' | 'printNotes'>;
  sha256: string;
  closedAt: string;
  signatures: SignatureView[];
  measurement: Measurement | null;
  ledgerHead: { sequence: number; hash: string };
}

const date = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeStyle: 'short', timeZone: 'UTC' });

/** A page to print and keep: the file, its SHA-256, who signed it and when, and its figures. */
@customElement(tag)
export class CertificatePage extends FeatureElement {
  @state() private certificate: Certificate | null = null;
  @state() private fault: string | null = null;
  private readFor = '';

  protected override willUpdate() {
    const gate = gateOrder.find((each) => each === this.gate);
    const key = `${this.recordId} ${this.songId} ${this.gate}`;
    if (key === this.readFor || !this.songId) return;
    this.readFor = key;
    if (gate) void this.readCertificate(gate);
    else this.fault = 'There is no such gate.';
  }

  private async readCertificate(gate: Gate) {
    try {
      this.certificate = await songCalls(this.recordId, this.songId).certificate<Certificate>(gate);
    } catch (error) {
      if (error instanceof Refusal) this.fault = error.message;
      else announceRefusal(error);
    }
  }

  override render() {
    const { certificate, fault } = this;
    const back = html`<a href=${songAddress(this.recordId, this.songId, 'sign-off')}>Back to sign-off</a>`;
    if (fault)
      return html`<div class="page narrow"><h1>No certificate</h1><p class="lede">${fault}</p><p>${back}</p></div>`;
    if (!certificate)
      return html`<div class="page narrow"><p class="lede" role="status">One moment …</p></div>`;
    const { version, record, song } = certificate;
    return html`<div class="page narrow certificate">
      <p class="acts unprinted"><button type="button" class="main" @click=${() => window.print()}>Print</button> ${back}</p>
      <article class="sheet">
        <header>
          <p>${record.title} · ${record.act}</p>
          <h1>${song.title}</h1>
          <p class="lede">${gateWord[certificate.gate]} gate closed on <b>${version.name}</b>, ${date.format(new Date(certificate.closedAt))} UTC.</p>
        </header>
        <h2>The file</h2>
        <dl class="pairs">
          <div><dt>Name</dt><dd>${version.file.fileName}</dd></div>
          <div><dt>SHA-256</dt><dd class="full-hash">${hashGroups(certificate.sha256)}</dd></div>
          <div><dt>Size</dt><dd>${version.file.byteLength.toLocaleString('en')} bytes (${fileSizeWords(version.file.byteLength)})</dd></div>
          <div><dt>Format, length</dt><dd>${storedFormatWords(version.file)} · ${timeCode(version.file.durationSeconds, { tenths: true })}</dd></div>
          ${version.printNotes ? html`<div><dt>Print notes</dt><dd class="notes">${version.printNotes}</dd></div>` : nothing}
        </dl>
        <h2>Signed by</h2>
        <dl class="pairs">
          ${certificate.signatures.map(
            (signature) => html`<div>
              <dt>${signature.person.name}</dt>
              <dd>“${signature.statement}”<br /><small>${date.format(new Date(signature.at))} UTC, on ${signature.versionName}</small></dd>
            </div>`,
          )}
        </dl>
        <h2>Measured</h2>
        ${certificate.measurement ? figuresTable(certificate.measurement) : html`<p>Not measured yet.</p>`}
        <footer>
          <p>
            Ledger entry ${certificate.ledgerHead.sequence} at the time of printing:
            <span class="hash">${hashGroups(certificate.ledgerHead.hash)}</span>
          </p>
          <p>
            Whoever has the file can compute its SHA-256 and compare: equal means it is this file, bit for bit. A record of what
            was agreed, not legal advice; the parties’ own contract and local law come first.
          </p>
        </footer>
      </article>
    </div>`;
  }
}
