import { html, nothing } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { Level, RequestKind, RequestView, ScopeSheet } from '../../api/types.ts';
import { levelMark, levelMeaning, levelWord } from '../../elements/level-mark.ts';
import { LightElement } from '../../elements/light-element.ts';
import { modal } from '../../elements/modal.ts';
import { kindWord } from '../../elements/request-words.ts';
import { recordAddress } from '../../route.ts';

/** A new level and kind of a request, with the reason. */
export interface Resorting {
  request: RequestView;
  level: Level;
  kind: RequestKind;
  reason: string;
}

const levelOrder: readonly Level[] = ['mix', 'production', 'mastering', 'none'];

/**
 * Asks for the level, the kind and the reason of a re-sorting. Choosing a kind proposes the level that the contract's
 * scope sheet gives it.
 *
 * @fires resorting `Resorting`
 * @fires closed
 */
@customElement('countoff-resort-dialog')
export class ResortDialog extends LightElement {
  @property({ attribute: false }) request: RequestView | null = null;
  @property({ attribute: false }) recordId = '';
  @property({ attribute: false }) scopeSheet: ScopeSheet | null = null;
  @state() private level: Level = 'mix';
  @state() private kind: RequestKind = 'balance';

  protected override willUpdate(changed: Map<PropertyKey, unknown>) {
    if (changed.has('request') && this.request) {
      this.level = this.request.level;
      this.kind = this.request.kind;
    }
  }

  private chooseKind = (event: Event) => {
    this.kind = (event.target as HTMLSelectElement).value as RequestKind;
    this.level = this.scopeSheet?.[this.kind].level ?? this.level;
  };

  private close = () => this.dispatchEvent(new Event('closed'));

  private submit = (event: SubmitEvent) => {
    event.preventDefault();
    if (!this.request) return;
    const reason = String(new FormData(event.target as HTMLFormElement).get('reason') ?? '').trim();
    const detail: Resorting = { request: this.request, level: this.level, kind: this.kind, reason };
    this.dispatchEvent(new CustomEvent('resorting', { detail }));
  };

  private kinds() {
    const { scopeSheet } = this;
    const kinds = Object.keys(kindWord) as RequestKind[];
    const option = (kind: RequestKind) =>
      html`<option value=${kind} ?selected=${kind === this.kind}>${kindWord[kind]}</option>`;
    if (!scopeSheet) return kinds.map(option);
    return levelOrder.map(
      (level) =>
        html`<optgroup label=${levelWord[level]}>${kinds.filter((kind) => scopeSheet[kind].level === level).map(option)}</optgroup>`,
    );
  }

  override render() {
    const { request, scopeSheet } = this;
    const line = scopeSheet?.[this.kind];
    return html`<dialog class="dialog" aria-labelledby="resort-heading" ${modal(request !== null)} @close=${this.close}>
      ${
        request
          ? html`<form @submit=${this.submit}>
              <h2 id="resort-heading">Re-sort</h2>
              <p>“${request.text}”, ${request.author.name}</p>
              <label class="field">What kind of wish it is<select name="kind" @change=${this.chooseKind}>${this.kinds()}</select></label>
              ${
                line
                  ? html`<p class="caution">By the contract’s scope sheet: ${levelWord[line.level].toLowerCase()}${line.grey ? ', a grey area that the sheet settles' : ''}.</p>`
                  : nothing
              }
              <fieldset class="levels">
                <legend>Level</legend>
                ${levelOrder.map(
                  (level) => html`<label class="check"
                    ><input
                      type="radio"
                      name="level"
                      value=${level}
                      .checked=${level === this.level}
                      @change=${() => {
                        this.level = level;
                      }}
                    /><span class="choice">${levelMark(level)}<small>${levelMeaning[level]}</small></span></label
                  >`,
                )}
              </fieldset>
              <label class="field">Your reason, which the author reads<textarea name="reason" rows="2" required></textarea></label>
              <p class="caution">The next note with nearly these words is sorted like this.
                <a href=${recordAddress(this.recordId, 'taught')}>What the sorting was taught</a></p>
              <div class="acts">
                <button class="main" ?disabled=${this.level === request.level && this.kind === request.kind}>Re-sort</button>
                <button type="button" @click=${this.close}>Cancel</button>
              </div>
            </form>`
          : nothing
      }
    </dialog>`;
  }
}
