import { html, nothing, type TemplateResult } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { Alternate, ContractTerms, Gate, Level, RecordSheet, RequestKind } from '../../api/types.ts';
import { gateOrder, gateWord } from '../../elements/gate-words.ts';
import { levelWord } from '../../elements/level-mark.ts';
import { LightElement } from '../../elements/light-element.ts';
import { amountText } from '../../elements/money-input.ts';
import { kindWord } from '../../elements/request-words.ts';
import { TermsFault, termsOf } from './contract-terms.ts';

const currencies = [
  'EUR',
  'USD',
  'GBP',
  'CHF',
  'SEK',
  'NOK',
  'DKK',
  'PLN',
  'CZK',
  'CAD',
  'AUD',
  'NZD',
  'JPY',
];
const sampleRatesHz = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000];
const bitDepths = [16, 24, 32];
const levelOrder: readonly Level[] = ['mix', 'production', 'mastering', 'none'];

const alternateMeaning: Record<Alternate, string> = {
  instrumental: 'without any voice',
  'a cappella': 'voices alone',
  'TV track': 'without the lead voice; backing voices stay',
  clean: 'without explicit words',
  stems: 'groups of parts that add up to the mix',
};

/** The terms as they were filled in. */
export interface TermsGiven {
  terms: ContractTerms;
  /** Why they are amended; empty for a draft. */
  reason: string;
}

/**
 * The contract as a form, filled in with the trade's usual terms.
 *
 * @fires terms `TermsGiven`
 * @fires cancelled
 */
@customElement('countoff-contract-form')
export class ContractForm extends LightElement {
  @property({ attribute: false }) terms: ContractTerms | null = null;
  @property({ attribute: false }) people: RecordSheet['people'] = [];
  /** An amendment asks for a reason. */
  @property({ type: Boolean }) amendment = false;
  @property({ type: Boolean }) busy = false;
  @property({ type: Boolean }) cancellable = false;
  @state() private basis: 'flat' | 'hourly' = 'flat';
  @state() private currency = 'EUR';
  @state() private fault: string | null = null;

  protected override willUpdate(changed: Map<PropertyKey, unknown>) {
    if (!changed.has('terms') || !this.terms) return;
    this.basis = this.terms.roundFee.basis;
    this.currency = this.terms.currency;
  }

  private submit = (event: SubmitEvent) => {
    event.preventDefault();
    const fields = new FormData(event.target as HTMLFormElement);
    try {
      const detail: TermsGiven = {
        terms: termsOf(fields),
        reason: String(fields.get('reason') ?? '').trim(),
      };
      this.fault = null;
      this.dispatchEvent(new CustomEvent('terms', { detail }));
    } catch (error) {
      if (!(error instanceof TermsFault)) throw error;
      this.fault = error.message;
    }
  };

  private count(label: string, name: string, value: number | null, least = 0, required = true) {
    return html`<label class="field"
      >${label}<input name=${name} type="number" inputmode="numeric" min=${least} step="1" ?required=${required} value=${value ?? ''}
    /></label>`;
  }

  private amount(label: string, name: string, minorUnits: number) {
    return html`<label class="field"
      >${label}<span class="amount"
        ><input name=${name} inputmode="decimal" pattern="\\d+([.,]\\d{0,3})?" required value=${amountText(minorUnits, this.terms!.currency)} /><span
          >${this.currency}</span
        ></span
      ></label
    >`;
  }

  private person(label: string, name: string, chosen: string) {
    return html`<label class="field"
      >${label}<select name=${name} required>
        ${this.people.map((person) => html`<option value=${person.id} ?selected=${person.id === chosen}>${person.name}</option>`)}
      </select></label
    >`;
  }

  private signers(gate: Gate, chosen: readonly string[]) {
    return html`<fieldset class="inner">
      <legend>Must sign the ${gateWord[gate].toLowerCase()}</legend>
      ${this.people.map(
        (person) => html`<label class="check"
          ><input type="checkbox" name="signers ${gate}" value=${person.id} ?checked=${chosen.includes(person.id)} /><span>${person.name}</span></label
        >`,
      )}
    </fieldset>`;
  }

  private scopeSheet(terms: ContractTerms) {
    const line = (kind: RequestKind): TemplateResult => {
      const { level, grey } = terms.scopeSheet[kind];
      return html`<tr>
        <th scope="row">${kindWord[kind]}</th>
        <td>
          <select name="level ${kind}" aria-label="Level of ${kindWord[kind]}">
            ${levelOrder.map((each) => html`<option value=${each} ?selected=${each === level}>${levelWord[each]}</option>`)}
          </select>
        </td>
        <td><label class="check"><input type="checkbox" name="grey ${kind}" ?checked=${grey} /><span>grey<span class="unseen">: ${kindWord[kind]}</span></span></label></td>
      </tr>`;
    };
    return html`<details class="scope-sheet">
      <summary>Scope sheet: which kind of wish has which level</summary>
      <p class="caution">
        The trade’s defaults stand here. Change a line where you two agree otherwise: whether a vocal touched up in the mix is
        production, for instance. “Grey” marks kinds that people read differently; the page then says that this sheet settles it.
      </p>
      <table>
        <thead><tr><th scope="col">Kind of wish</th><th scope="col">Level</th><th scope="col">Grey area</th></tr></thead>
        <tbody>${(Object.keys(kindWord) as RequestKind[]).map(line)}</tbody>
      </table>
    </details>`;
  }

  private fee(terms: ContractTerms) {
    const { roundFee } = terms;
    const radio = (basis: 'flat' | 'hourly', words: string) => html`<label class="check"
      ><input type="radio" name="basis" value=${basis} .checked=${this.basis === basis} @change=${() => {
        this.basis = basis;
      }} /><span>${words}</span></label
    >`;
    return html`<fieldset class="inner">
      <legend>Each round beyond the included ones</legend>
      <div class="acts">${radio('flat', 'a flat fee')} ${radio('hourly', 'by the hour')}</div>
      <div class="grid">
        ${
          this.basis === 'flat'
            ? this.amount('Fee', 'roundFee', roundFee.basis === 'flat' ? roundFee.amountMinorUnits : 0)
            : html`${this.amount('Rate an hour', 'roundRate', roundFee.basis === 'hourly' ? roundFee.rateMinorUnits : terms.productionRateMinorUnits)}
                <label class="field">At least, in hours<input name="minimumHours" type="number" inputmode="decimal" min="0" step="0.25" required value=${roundFee.basis === 'hourly' ? roundFee.minimumHours : 1} /></label>`
        }
      </div>
    </fieldset>`;
  }

  override render() {
    const { terms } = this;
    if (!terms) return nothing;
    const known = currencies.includes(terms.currency) ? currencies : [terms.currency, ...currencies];
    const { delivery } = terms;
    return html`<form class="contract-form" @submit=${this.submit}>
      <fieldset>
        <legend>Between</legend>
        <div class="grid">
          <label class="field">Engineer’s side<input name="engineer" required maxlength="300" value=${terms.parties.engineer} /></label>
          <label class="field">Client’s side<input name="client" required maxlength="300" value=${terms.parties.client} /></label>
        </div>
      </fieldset>
      <fieldset>
        <legend>Who</legend>
        <p class="caution">One person gathers everybody’s notes and sends each round as one list. One pays and gives the go-ahead to anything beyond the contract. A gate closes when everybody named here has signed the same file.</p>
        <div class="grid">
          ${this.person('Spokesperson', 'spokesperson', terms.spokesperson)} ${this.person('Pays', 'payer', terms.payer)}
        </div>
        <div class="grid">${gateOrder.map((gate) => this.signers(gate, terms.signers[gate]))}</div>
      </fieldset>
      <fieldset>
        <legend>Rounds</legend>
        <p class="caution">A round is one list of notes on one version, answered by one new version. The first version is no round, and what puts right a mistake of yours counts none.</p>
        <div class="grid">
          ${this.count('Mix rounds included', 'includedMixRounds', terms.includedMixRounds)}
          ${this.count('Master rounds included', 'includedMasterRounds', terms.includedMasterRounds)}
          ${this.count('Days for notes', 'noteDays', terms.noteDays)}
          ${this.count('Most points in a round (empty: any number)', 'pointsCap', terms.pointsCap, 1, false)}
        </div>
      </fieldset>
      <fieldset>
        <legend>Money beyond the price</legend>
        <label class="field short">Currency<select name="currency" @change=${(event: Event) => {
          this.currency = (event.target as HTMLSelectElement).value;
        }}>${known.map((each) => html`<option ?selected=${each === terms.currency}>${each}</option>`)}</select></label>
        ${this.fee(terms)}
        <div class="grid">
          ${this.amount('Production changes, an hour', 'productionRate', terms.productionRateMinorUnits)}
          ${this.amount('Reopening a gate after approval', 'afterApproval', terms.afterApprovalMinorUnits)}
          ${this.amount('New mix after mastering began', 'newMixSurcharge', terms.newMixSurchargeMinorUnits)}
        </div>
      </fieldset>
      <fieldset>
        <legend>Scope</legend>
        ${this.scopeSheet(terms)}
      </fieldset>
      <fieldset>
        <legend>Delivery</legend>
        <div class="grid">
          <label class="field">Sample rate<select name="sampleRateHz">${sampleRatesHz.map((rate) => html`<option value=${rate} ?selected=${rate === delivery.sampleRateHz}>${rate / 1000} kHz</option>`)}</select></label>
          <label class="field">Bit depth<select name="bitDepth">${bitDepths.map((depth) => html`<option value=${depth} ?selected=${depth === delivery.bitDepth}>${depth} bit</option>`)}</select></label>
          <label class="field">True peak at most, dBTP<input name="truePeakCeilingDbtp" type="number" min="-60" max="6" step="0.1" required value=${delivery.truePeakCeilingDbtp} /></label>
          <label class="field">Loudness wish, LUFS (empty: none)<input name="loudnessWishLufs" type="number" min="-70" max="0" step="0.1" value=${delivery.loudnessWishLufs ?? ''} /></label>
          <label class="field">Final files are released on<select name="releaseCondition">
            <option value="balance paid" ?selected=${terms.releaseCondition === 'balance paid'}>the balance paid</option>
            <option value="sign-off" ?selected=${terms.releaseCondition === 'sign-off'}>sign-off</option></select></label>
          ${this.count('Files are kept for, in days', 'retentionDays', terms.retentionDays)}
        </div>
        <fieldset class="inner">
          <legend>Alternates included</legend>
          ${(Object.keys(alternateMeaning) as Alternate[]).map(
            (alternate) => html`<label class="check"
              ><input type="checkbox" name="alternates" value=${alternate} ?checked=${delivery.alternates.includes(alternate)} /><span
                >${alternate} <small>${alternateMeaning[alternate]}</small></span
              ></label
            >`,
          )}
        </fieldset>
      </fieldset>
      ${this.amendment ? html`<label class="field">Why the contract is amended<textarea name="reason" rows="2" required></textarea></label>` : nothing}
      <p class="aside serious" role="alert" ?hidden=${this.fault === null}>${this.fault}</p>
      <div class="acts">
        <button class="main" ?disabled=${this.busy}>${this.amendment ? 'Propose the amendment' : 'Save the draft'}</button>
        ${this.cancellable ? html`<button type="button" @click=${() => this.dispatchEvent(new Event('cancelled'))}>Cancel</button>` : nothing}
      </div>
    </form>`;
  }
}
