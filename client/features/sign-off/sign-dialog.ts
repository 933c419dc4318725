import { html, nothing } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import type { Gate, VersionView } from '../../api/types.ts';
import { asSentence, countWords } from '../../elements/count-words.ts';
import { fileHash } from '../../elements/file-hash.ts';
import { storedFormatWords } from '../../elements/format-words.ts';
import { LightElement } from '../../elements/light-element.ts';
import { modal } from '../../elements/modal.ts';
import { timeCode } from '../../elements/time-code.ts';

/** What somebody is about to sign. */
export interface Signing {
  gate: Gate;
  version: VersionView;
}

/** The signature as it is sent. */
export interface SignatureGiven extends Signing {
  statement: string;
}

const meaning: Record<Gate, string> = {
  production:
    'With the last signature the production is locked: arrangement, takes and sounds stay as they are on this file.',
  mix: 'With the last signature the mix gate closes on this file. Later wishes are stamped “after approval” and priced before any work.',
  master: 'With the last signature the master gate closes on this file, and the song is finished.',
};

const statements: Record<Gate, string> = {
  production: 'I approve this production as it stands on this file.',
  mix: 'I approve this mix as the final mix.',
  master: 'I approve this master for release.',
};

/**
 * Asks for a signature on one exact file: what it is, what signing means, and the statement that goes with it.
 *
 * @fires signature `SignatureGiven`
 * @fires closed
 */
@customElement('countoff-sign-dialog')
export class SignDialog extends LightElement {
  @property({ attribute: false }) signing: Signing | null = null;
  @property({ attribute: false }) newestName = '';
  /** Requests on the open list of this gate, which nobody has sent. */
  @property({ attribute: false }) unsent = 0;

  private close = () => this.dispatchEvent(new Event('closed'));

  private submit = (event: SubmitEvent) => {
    event.preventDefault();
    const statement = String(new FormData(event.target as HTMLFormElement).get('statement') ?? '').trim();
    if (!this.signing || !statement) return;
    const detail: SignatureGiven = { ...this.signing, statement };
    this.dispatchEvent(new CustomEvent('signature', { detail }));
  };

  override render() {
    const { signing } = this;
    return html`<dialog class="dialog" aria-labelledby="sign-heading" ${modal(signing !== null)} @close=${this.close}>
      ${
        signing
          ? html`<form @submit=${this.submit}>
              <h2 id="sign-heading">Sign ${signing.version.name}</h2>
              <p>${signing.version.file.fileName} · ${timeCode(signing.version.file.durationSeconds, { tenths: true })} · ${storedFormatWords(signing.version.file)}</p>
              <p>${fileHash(signing.version.file.sha256)}</p>
              ${signing.version.newest ? nothing : html`<p class="aside">${this.newestName} is newer. You sign ${signing.version.name}, and the gate closes only when everybody signs the same file.</p>`}
              ${
                this.unsent
                  ? html`<p class="aside"><b>${asSentence(countWords(this.unsent, 'request'))} on the list ${this.unsent === 1 ? 'is' : 'are'} not sent.</b>
                      Once the gate is closed, sending means reopening it. Send the round first if it still matters.</p>`
                  : nothing
              }
              <p>${meaning[signing.gate]}</p>
              <label class="field">What you state, as it is kept with your name and the time<textarea name="statement" rows="2" required>${statements[signing.gate]}</textarea></label>
              <p class="caution">Your signature is for this exact file and no other. It is a record of what was agreed, not legal advice; your own contract and local law come first.</p>
              <div class="acts">
                <button class="main">Sign ${signing.version.name}</button>
                <button type="button" @click=${this.close}>Cancel</button>
              </div>
            </form>`
          : nothing
      }
    </dialog>`;
  }
}
