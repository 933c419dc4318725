import { html, nothing } from 'lit';
import { customElement, property, state } from 'lit/decorators.js';
import type { OpenRoundView, RequestView, SongSheet } from '../../api/types.ts';
import { asSentence, countWords } from '../../elements/count-words.ts';
import { levelMark } from '../../elements/level-mark.ts';
import { LightElement } from '../../elements/light-element.ts';
import { modal } from '../../elements/modal.ts';
import { money } from '../../elements/money.ts';
import { rangeCode } from '../../elements/time-code.ts';

/** Makes one request of a list stand or fall: settled, left out, taken back in. */
export interface Settlement {
  requestIds: [string, string];
  keep: string | null;
  reason: string;
}

/**
 * The list that is being gathered: what stands on it, what contradicts, what was left out, and, for the spokesperson,
 * sending it. Reports `play-spot` (seconds), `settle` (a `Settlement`), `leave-out` and `take-back` (requestId),
 * `merge` (into, others), `unmerge` (into) and `keep-apart` (requestIds),
 * `send-round` (gate, agreedFeeMinorUnits).
 */
@customElement('countoff-round-desk')
export class RoundDesk extends LightElement {
  @property({ attribute: false }) sheet: SongSheet | null = null;
  @property({ type: Boolean }) busy = false;
  @state() private confirming = false;
  @state() private agreed = false;
  /** The choice that is being made for a pair, by the pair's ids. */
  @state() private choices: Record<string, { keep: string | 'both' | ''; reason: string }> = {};

  private report(name: string, detail: object) {
    this.dispatchEvent(new CustomEvent(name, { bubbles: true, detail }));
  }

  private get requests(): Map<string, RequestView> {
    const all = this.sheet?.notes.flatMap((note) => note.requests) ?? [];
    return new Map(all.map((request) => [request.id, request]));
  }

  private spot(request: RequestView) {
    return request.range
      ? html`<button
          type="button"
          class="spot"
          aria-label=${`Play from ${rangeCode(request.range)}`}
          @click=${() => this.report('play-spot', { seconds: request.range!.startSeconds, range: request.range })}
        >
          ${rangeCode(request.range)}
        </button>`
      : html`<span class="spot-less">whole song</span>`;
  }

  private wish(request: RequestView) {
    return html`${this.spot(request)}<span class="said"
        ><q>${request.text}</q><small>${request.author.name}</small>${request.merged.map(
          (each) => html`<span class="with"><q>${each.text}</q> <small>${each.author.name}</small></span>`,
        )}</span
      >${levelMark(request.level)}`;
  }

  private contradiction(pair: [string, string], why: string, mayEdit: boolean) {
    const key = pair.join(' ');
    const choice = this.choices[key] ?? { keep: '', reason: '' };
    const set = (part: Partial<typeof choice>) => {
      this.choices = { ...this.choices, [key]: { ...choice, ...part } };
    };
    const sides = pair.flatMap((id) => this.requests.get(id) ?? []);
    const submit = (event: Event) => {
      event.preventDefault();
      this.report('settle', {
        requestIds: pair,
        keep: choice.keep === 'both' ? null : choice.keep,
        reason: choice.reason.trim(),
      } satisfies Settlement);
    };
    return html`<form class="pair" @submit=${submit}>
      <p><b>These two can’t both be done.</b> ${why}</p>
      <div class="sides">
        ${sides.map(
          (request) => html`<div class="side">
            <div class="wish">${this.wish(request)}</div>
            ${
              mayEdit
                ? html`<label class="pick"
                    ><input
                      type="radio"
                      name=${`keep ${key}`}
                      .checked=${choice.keep === request.id}
                      @change=${() => set({ keep: request.id })}
                    />
                    This one holds</label
                  >`
                : nothing
            }
          </div>`,
        )}
      </div>
      ${
        mayEdit
          ? html`<label class="pick"
                ><input
                  type="radio"
                  name=${`keep ${key}`}
                  .checked=${choice.keep === 'both'}
                  @change=${() => set({ keep: 'both' })}
                />
                Both can stand</label
              >
              <label class="field"
                >Why, so that both can read it
                <input
                  .value=${choice.reason}
                  @input=${(event: Event) => set({ reason: (event.target as HTMLInputElement).value })}
              /></label>
              <button ?disabled=${!choice.keep || !choice.reason.trim() || this.busy}>Settle it</button>`
          : nothing
      }
    </form>`;
  }

  /** The same wish of several people: shown, and made one request only where the spokesperson says so. */
  private agreement({ requestIds, people }: OpenRoundView['agreements'][number]) {
    const byId = this.requests;
    const [into, ...others] = requestIds;
    const who = people === 2 ? 'Both' : 'All';
    return html`<div class="pair">
      <p><b>${asSentence(countWords(people, 'person', 'people'))} ask for this.</b></p>
      <ul class="wishes">
        ${requestIds.flatMap((id) => {
          const request = byId.get(id);
          return request ? html`<li class="wish">${this.wish(request)}</li>` : [];
        })}
      </ul>
      <div class="acts">
        <button type="button" ?disabled=${this.busy} @click=${() => this.report('merge', { into, others })}>
          Make it one request
        </button>
        <button type="button" ?disabled=${this.busy} @click=${() => this.report('keep-apart', { requestIds })}>
          ${requestIds.length === 2 ? 'These are two wishes' : 'These are different wishes'}
        </button>
        <span class="caution">One request counts once. ${who} keep their words on it and read its answer.</span>
      </div>
    </div>`;
  }

  private sendDialog(round: OpenRoundView, wishes: number) {
    const fee = round.beyond ? money(round.feeMinorUnits, this.sheet!.currency) : null;
    const over = round.pointsCap !== null && round.points > round.pointsCap;
    return html`<dialog
      class="dialog"
      aria-labelledby="send-heading"
      ${modal(this.confirming)}
      @close=${() => {
        this.confirming = false;
        this.agreed = false;
      }}
    >
      <h2 id="send-heading">Send round ${round.number}</h2>
      <p>${round.words}</p>
      <p>
        ${wishes} request${wishes === 1 ? '' : 's'} go${wishes === 1 ? 'es' : ''} to the
        engineer as one list. Notes written after this wait for the next round.
      </p>
      ${over ? html`<p class="aside">The contract takes ${round.pointsCap} points in a round; this list holds ${round.points}. Leave some out first.</p>` : nothing}
      ${
        fee
          ? html`<label class="pick"
              ><input
                type="checkbox"
                .checked=${this.agreed}
                @change=${(event: Event) => {
                  this.agreed = (event.target as HTMLInputElement).checked;
                }}
              />
              I know that this round costs ${fee} (${round.feeClause})</label
            >`
          : nothing
      }
      <div class="acts">
        <button
          type="button"
          class="main"
          ?disabled=${this.busy || over || (fee !== null && !this.agreed)}
          @click=${() => {
            this.report('send-round', {
              gate: round.gate,
              agreedFeeMinorUnits: round.beyond ? round.feeMinorUnits : null,
            });
            this.confirming = false;
          }}
        >
          Send round ${round.number}
        </button>
        <button
          type="button"
          @click=${() => {
            this.confirming = false;
          }}
        >
          Not yet
        </button>
      </div>
    </dialog>`;
  }

  override render() {
    const { sheet } = this;
    const round = sheet?.openRound;
    if (!sheet || !round) return nothing;
    const byId = this.requests;
    const standing = round.requestIds.flatMap((id) => byId.get(id) ?? []);
    const wishes = standing.filter((request) => request.level !== 'none');
    const may = (command: 'sendRound' | 'settleContradiction' | 'leaveOutRequest' | 'mergeRequests') =>
      sheet.reader.may.includes(command);
    const noteOf = (request: RequestView) => sheet.notes.find((note) => note.id === request.noteId);
    const leftOut = [...byId.values()].filter((request) => {
      const place = noteOf(request)?.round;
      return (
        request.leftOut && !request.mergedInto && place?.gate === round.gate && place.number === round.number
      );
    });
    const settled = sheet.contradictions.filter(
      (pair) =>
        pair.settled &&
        pair.requestIds.some((id) => {
          const place = byId.get(id) && noteOf(byId.get(id)!)?.round;
          return place?.number === round.number && place.gate === round.gate;
        }),
    );
    if (!wishes.length && !leftOut.length) return nothing;
    const spokesperson = sheet.people.find((person) => person.roles.includes('spokesperson'));
    return html`<section class="list desk" id="round" aria-labelledby="round-heading">
      <h2 id="round-heading">
        The list of round ${round.number}
        <small>${round.words}</small>
      </h2>
      <div class="inside">
        ${
          round.declined
            ? html`<p class="aside">
                ${round.declined.by.name} did not give the go-ahead: ${round.declined.reason} The list can be made
                shorter and sent again.
              </p>`
            : nothing
        }
        ${round.contradictions.map(({ requestIds, why }) =>
          this.contradiction(requestIds, why, may('settleContradiction')),
        )}
        ${may('mergeRequests') ? round.agreements.map((each) => this.agreement(each)) : nothing}
        <ul class="wishes">
          ${wishes.map(
            (request) => html`<li class="wish">
              ${this.wish(request)}
              ${
                may('leaveOutRequest')
                  ? html`<button
                      type="button"
                      class="quiet"
                      @click=${() => this.report('leave-out', { requestId: request.id })}
                    >
                      Leave out…
                    </button>`
                  : nothing
              }${
                request.merged.length && may('mergeRequests')
                  ? html`<button
                      type="button"
                      class="quiet"
                      ?disabled=${this.busy}
                      aria-label=${`Take apart again: ${request.text}`}
                      @click=${() => this.report('unmerge', { into: request.id })}
                    >
                      Take apart
                    </button>`
                  : nothing
              }
            </li>`,
          )}
        </ul>
        ${
          leftOut.length
            ? html`<h3>Left out</h3>
                <ul class="wishes">
                  ${leftOut.map(
                    (request) => html`<li class="wish">
                      ${this.spot(request)}<span class="said"
                        ><q>${request.text}</q><small>${request.author.name} · ${request.leftOut!.reason}</small></span
                      >${levelMark(request.level)}
                      ${
                        may('leaveOutRequest')
                          ? html`<button
                              type="button"
                              class="quiet"
                              @click=${() => this.report('take-back', { requestId: request.id })}
                            >
                              Take back in
                            </button>`
                          : nothing
                      }
                    </li>`,
                  )}
                </ul>`
            : nothing
        }
        ${settled.map(
          ({ requestIds, settled: decision }) => html`<p class="decided">
            Settled: ${
              decision!.kept
                ? html`<q>${byId.get(decision!.kept)?.text}</q> holds over
                    <q>${byId.get(requestIds.find((id) => id !== decision!.kept)!)?.text}</q>`
                : html`<q>${byId.get(requestIds[0])?.text}</q> and <q>${byId.get(requestIds[1])?.text}</q> both stand`
            }. Reason: ${decision!.reason}
          </p>`,
        )}
        ${round.keptApart.map(
          ({ requestIds: [into, other], by }) => html`<p class="decided">
            <q>${byId.get(into)?.text}</q> and <q>${byId.get(other)?.text}</q> are two wishes, says ${by.name}.
            ${
              may('mergeRequests')
                ? html`<button
                    type="button"
                    class="quiet"
                    ?disabled=${this.busy}
                    @click=${() => this.report('merge', { into, others: [other] })}
                  >
                    Make it one request
                  </button>`
                : nothing
            }
          </p>`,
        )}
        ${
          may('sendRound')
            ? html`<div class="acts">
                <button
                  type="button"
                  class="main"
                  ?disabled=${round.contradictions.length > 0 || !wishes.length || this.busy}
                  @click=${() => {
                    this.confirming = true;
                  }}
                >
                  Send round ${round.number}…
                </button>
                <span class="caution"
                  >${
                    round.contradictions.length
                      ? 'Settle what contradicts first.'
                      : 'One list, sent once everybody has written.'
                  }</span
                >
              </div>`
            : html`<p class="caution">
                ${spokesperson ? `${spokesperson.name} sends the list when everybody has written.` : ''}
              </p>`
        }
      </div>
      ${this.sendDialog(round, wishes.length)}
    </section>`;
  }
}
