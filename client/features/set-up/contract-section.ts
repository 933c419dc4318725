import { html, nothing } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { Contract, ContractTerms, RecordSheet } from '../../api/types.ts';
import { dayWords } from '../../elements/date-words.ts';
import { LightElement } from '../../elements/light-element.ts';
import './contract-form.ts';
import type { TermsGiven } from './contract-form.ts';
import { type Clause, changedClauses, clauses, scopeClauses } from './contract-words.ts';

/** What somebody does with the contract. */
export type ContractAct =
  | { act: 'draft'; terms: ContractTerms }
  | { act: 'agree' }
  | { act: 'propose'; terms: ContractTerms; reason: string }
  | { act: 'accept'; number: number }
  | { act: 'decline'; number: number };

/**
 * The contract: its form while it is drafted, its clauses once it is agreed, amendments as what they change, and the
 * old terms, which stay readable.
 *
 * @fires contract-act `ContractAct`
 */
@customElement('countoff-contract-section')
export class ContractSection extends LightElement {
  @property({ attribute: false }) record: RecordSheet | null = null;
  /** What the form starts from where there is no contract yet. */
  @property({ attribute: false }) suggested: ContractTerms | null = null;
  @property({ type: Boolean }) busy = false;
  @state() private editing = false;

  /** Closes the form after its terms were taken. */
  done() {
    this.editing = false;
  }

  private tell(detail: ContractAct) {
    this.dispatchEvent(new CustomEvent('contract-act', { detail }));
  }

  private nameOf = (personId: string) =>
    this.record?.people.find((person) => person.id === personId)?.name ?? 'somebody no longer on the record';

  private pairs(list: readonly Clause[]) {
    return html`<dl class="pairs">${list.map(({ name, words }) => html`<div><dt>${name}</dt><dd>${words}</dd></div>`)}</dl>`;
  }

  private reading(terms: ContractTerms) {
    return html`${this.pairs(clauses(terms, this.nameOf))}
      <details class="scope-sheet">
        <summary>Scope sheet: which kind of wish has which level</summary>
        ${this.pairs(scopeClauses(terms))}
      </details>`;
  }

  private form(terms: ContractTerms, amendment: boolean, cancellable: boolean) {
    return html`<countoff-contract-form
      .terms=${terms}
      .people=${this.record?.people ?? []}
      ?amendment=${amendment}
      ?cancellable=${cancellable}
      ?busy=${this.busy}
      @terms=${(event: CustomEvent<TermsGiven>) =>
        this.tell(
          amendment ? { act: 'propose', ...event.detail } : { act: 'draft', terms: event.detail.terms },
        )}
      @cancelled=${() => {
        this.editing = false;
      }}
    ></countoff-contract-form>`;
  }

  private drafted(contract: Contract & { status: 'drafted' }) {
    const may = new Set(this.record?.reader.may);
    if (this.editing) return this.form(contract.terms, false, true);
    return html`<p>This is a draft. Once both sides have agreed to it, rounds can be sent and files signed, and it is changed only by an amendment.</p>
      ${this.reading(contract.terms)}
      <div class="acts">
        ${may.has('agreeContract') ? html`<button type="button" class="main" @click=${() => this.tell({ act: 'agree' })}>Agree to it…</button>` : nothing}
        ${
          may.has('draftContract')
            ? html`<button type="button" @click=${() => {
                this.editing = true;
              }}>Change the draft</button>`
            : nothing
        }
      </div>`;
  }

  private amendment(contract: Contract & { status: 'agreed' }) {
    const { amendment } = contract;
    const { reader } = this.record!;
    if (!amendment) return nothing;
    const changes = changedClauses(contract.terms, amendment.terms, this.nameOf);
    const answers =
      amendment.side === 'engineer'
        ? reader.payer
        : reader.owner || (reader.roles as string[]).includes('mix engineer');
    const may = reader.may.includes('acceptAmendment');
    return html`<section class="amendment">
      <h3>Amendment ${amendment.number}, proposed by ${this.nameOf(amendment.proposedBy)}</h3>
      <p>“${amendment.reason}”</p>
      ${
        changes.length
          ? html`<table>
              <thead><tr><th scope="col">Clause</th><th scope="col">Now</th><th scope="col">Proposed</th></tr></thead>
              <tbody>${changes.map(({ name, before, after }) => html`<tr><th scope="row">${name}</th><td>${before}</td><td><b>${after}</b></td></tr>`)}</tbody>
            </table>`
          : html`<p>It changes no clause.</p>`
      }
      <p class="caution">It holds once the other side accepts it. Until then the contract stands as it is.</p>
      <div class="acts">
        ${may && answers ? html`<button type="button" class="main" @click=${() => this.tell({ act: 'accept', number: amendment.number })}>Accept the amendment</button>` : nothing}
        ${may ? html`<button type="button" @click=${() => this.tell({ act: 'decline', number: amendment.number })}>${answers ? 'Decline…' : 'Take it back…'}</button>` : nothing}
      </div>
    </section>`;
  }

  private agreed(contract: Contract & { status: 'agreed' }) {
    const may = new Set(this.record?.reader.may);
    if (this.editing)
      return html`<p>Change what you want changed and say why. It holds once the other side accepts it.</p>
        ${this.form(contract.terms, true, true)}`;
    const { history } = contract;
    const last = history.at(-1);
    return html`<p>
        Agreed ${last ? dayWords(last.agreedAt) : ''} (${last?.how.replace(/\.$/, '')}). It is changed only by an amendment that both sides accept.
      </p>
      ${this.amendment(contract)} ${this.reading(contract.terms)}
      ${
        history.length > 1
          ? html`<h3>Earlier terms</h3>
              ${history
                .slice(0, -1)
                .toReversed()
                .map(
                  (terms) => html`<details class="scope-sheet">
                    <summary>${terms.number === 1 ? 'As first agreed' : `Amendment ${terms.number}`}, ${dayWords(terms.agreedAt)} (${terms.how})</summary>
                    ${this.pairs([...clauses(terms.terms, this.nameOf), ...scopeClauses(terms.terms)])}
                  </details>`,
                )}`
          : nothing
      }
      ${
        may.has('proposeAmendment') && !contract.amendment
          ? html`<div class="acts"><button type="button" @click=${() => {
              this.editing = true;
            }}>Propose an amendment…</button></div>`
          : nothing
      }`;
  }

  override render() {
    const { record } = this;
    if (!record) return nothing;
    const { contract } = record;
    if (contract?.status === 'drafted') return this.drafted(contract);
    if (contract?.status === 'agreed') return this.agreed(contract);
    if (!record.reader.may.includes('draftContract'))
      return html`<p>The owner has not written the contract yet.</p>`;
    if (record.people.length < 2)
      return html`<p>Add the people first: the contract names who gathers the notes, who pays and who signs.</p>`;
    return this.suggested
      ? html`<p>Filled in with what the trade usually agrees. Change what you two agreed otherwise.</p>${this.form(this.suggested, false, false)}`
      : html`<p role="status">One moment …</p>`;
  }
}
