import { html, nothing } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { LockBreakView } from '../../api/types.ts';
import { LightElement } from '../../elements/light-element.ts';
import { modal } from '../../elements/modal.ts';
import { money } from '../../elements/money.ts';
import { priceMinorUnits } from './price.ts';

/** What the producer asks for a change. */
export interface Price {
  number: number;
  hours: number;
  words: string;
}

/**
 * Asks for the hours and the words of a change order, and shows what they come to while they are typed.
 *
 * @fires price `Price`
 * @fires closed
 */
@customElement('countoff-price-dialog')
export class PriceDialog extends LightElement {
  @property({ attribute: false }) lockBreak: LockBreakView | null = null;
  @property({ attribute: false }) rateMinorUnits = 0;
  @property({ attribute: false }) currency = 'EUR';
  @state() private hours = Number.NaN;

  protected override willUpdate(changed: Map<PropertyKey, unknown>) {
    if (!changed.has('lockBreak')) return;
    const { lockBreak } = this;
    this.hours = lockBreak && 'price' in lockBreak ? lockBreak.price.hours : Number.NaN;
  }

  private close = () => this.dispatchEvent(new Event('closed'));

  private submit = (event: SubmitEvent) => {
    event.preventDefault();
    const words = String(new FormData(event.target as HTMLFormElement).get('words') ?? '').trim();
    if (!this.lockBreak || priceMinorUnits(this.hours, this.rateMinorUnits) === null || !words) return;
    const detail: Price = { number: this.lockBreak.number, hours: this.hours, words };
    this.dispatchEvent(new CustomEvent('price', { detail }));
  };

  override render() {
    const { lockBreak, currency, rateMinorUnits } = this;
    const amount = priceMinorUnits(this.hours, rateMinorUnits);
    return html`<dialog class="dialog" aria-labelledby="price-heading" ${modal(lockBreak !== null)} @close=${this.close}>
      ${
        lockBreak
          ? html`<form @submit=${this.submit}>
              <h2 id="price-heading">Price change ${lockBreak.number}</h2>
              <p>“${lockBreak.request?.text}”, ${lockBreak.request?.author.name}</p>
              <label class="field"
                >What is done for it, as the payer reads it<textarea name="words" rows="3" required autofocus>${'price' in lockBreak ? lockBreak.price.words : ''}</textarea></label
              >
              <label class="field"
                >Hours<input
                  name="hours"
                  type="number"
                  inputmode="decimal"
                  min="0.25"
                  max="9999"
                  step="0.25"
                  required
                  .value=${Number.isNaN(this.hours) ? '' : String(this.hours)}
                  @input=${(event: InputEvent) => {
                    this.hours = (event.target as HTMLInputElement).valueAsNumber;
                  }}
              /></label>
              <p class="lede" role="status">
                ${amount === null ? html`At ${money(rateMinorUnits, currency)} an hour, by the contract.` : html`${this.hours} h × ${money(rateMinorUnits, currency)} = <b>${money(amount, currency)}</b>`}
              </p>
              <p class="caution">The payer accepts or refuses it. The lock holds until then, and opens for this change only.</p>
              <div class="acts">
                <button class="main">${amount === null ? 'Price it' : `Price it at ${money(amount, currency)}`}</button>
                <button type="button" @click=${this.close}>Cancel</button>
              </div>
            </form>`
          : nothing
      }
    </dialog>`;
  }
}
