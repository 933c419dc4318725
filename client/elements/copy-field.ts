import { html } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import { announce } from './announcer.ts';
import './copy-field.css';
import { LightElement } from './light-element.ts';

/** A text to take along: shown whole, selected on focus, copied by its button. */
@customElement('countoff-copy-field')
export class CopyField extends LightElement {
  @property() label = '';
  @property() value = '';

  private select(event: Event) {
    (event.target as HTMLInputElement).select();
  }

  private copy = async () => {
    const field = this.querySelector('input')!;
    field.focus();
    field.select();
    // The clipboard's own interface is missing where a page is not served over TLS, as on a local network.
    const copied = navigator.clipboard
      ? await navigator.clipboard.writeText(this.value).then(
          () => true,
          () => document.execCommand('copy'),
        )
      : document.execCommand('copy');
    announce(copied ? 'Copied.' : 'It could not be copied here; it is selected, so copy it by hand.');
  };

  override render() {
    return html`<label class="field"
        >${this.label}<input readonly .value=${this.value} @focus=${this.select}
      /></label>
      <button type="button" class="main" @click=${this.copy}>Copy</button>`;
  }
}
