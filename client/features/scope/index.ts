import { html, nothing, type TemplateResult } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { answerGoAhead } from '../../api/answer-go-ahead.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { LockBreakView, RequestView, SongSheet } from '../../api/types.ts';
import { attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import { asSentence, countWords, listWords } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { fileHash } from '../../elements/file-hash.ts';
import { type GoAheadAnswer, goAheadsOf } from '../../elements/go-aheads.ts';
import { levelMark } from '../../elements/level-mark.ts';
import { money } from '../../elements/money.ts';
import { kindWord } from '../../elements/request-words.ts';
import { rangeCode, timeCode } from '../../elements/time-code.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import './price-dialog.ts';
import type { Price } from './price-dialog.ts';
import './scope.css';

export const tag = 'countoff-scope';

/** The producer's desk: what the production lock stands on, what would break it, and what that costs. */
@customElement(tag)
export class ScopePage extends FeatureElement {
  @state() private pricing: LockBreakView | null = null;

  private get calls() {
    return songCalls(this.recordId, this.songId);
  }

  private price = async (event: CustomEvent<Price>) => {
    const { number, hours, words } = event.detail;
    const done = await attempt(
      () => this.calls.priceChange(number, { hours, words }),
      'Priced; it waits for the payer.',
    );
    if (done) this.pricing = null;
  };

  private async decline(lockBreak: LockBreakView) {
    const reason = await ask({
      heading: `Decline change ${lockBreak.number}`,
      words: `“${lockBreak.request?.text}”. The production stays as it is; the author reads your reason beside the wish.`,
      label: 'Your reason',
      confirm: 'Decline',
    });
    if (reason)
      await attempt(() => this.calls.declineChange(lockBreak.number, reason), 'Declined, with your reason.');
  }

  private answer = (event: CustomEvent<GoAheadAnswer>) => {
    const { goAhead, refusal } = event.detail;
    void attempt(() => answerGoAhead(this.recordId, goAhead, refusal));
  };

  private get payer(): string {
    const id = this.record?.contract?.terms.payer;
    return this.record?.people.find((person) => person.id === id)?.name ?? 'the payer';
  }

  private lede(sheet: SongSheet) {
    const { lock } = sheet;
    const version = sheet.gates.production.versionName;
    const flagged = sheet.lockBreaks.filter((each) => each.status === 'flagged').length;
    const priced = sheet.lockBreaks.filter((each) => each.status === 'priced').length;
    const mine = sheet.reader.may.includes('priceChange');
    if (lock.status === 'open')
      return html`The production is <b>not locked yet</b>. It locks when the people of the contract sign one rough.`;
    const wishes = html`${
      flagged
        ? html` <b>${asSentence(countWords(flagged, 'wish would', 'wishes would'))} change it</b> and ${flagged === 1 ? 'waits' : 'wait'} for ${mine ? 'your' : 'the producer’s'} word.`
        : nothing
    }${priced ? html` ${asSentence(countWords(priced, 'change order'))} ${priced === 1 ? 'waits' : 'wait'} for ${sheet.reader.payer ? 'your' : `${this.payer}’s`} yes.` : nothing}`;
    if (lock.status === 'open for changes') {
      const delivered = this.delivered(sheet);
      return html`The production lock is <b>open for change ${lock.changes.join(', ')} only</b>${
        delivered
          ? html`. ${delivered.name} holds it: it locks again when that is signed.`
          : html`, until the new production is delivered and signed.`
      }${wishes}`;
    }
    return html`The production is <b>locked</b> on ${version}.${flagged || priced ? wishes : ' Nothing on this song would change it.'}`;
  }

  private delivered(sheet: SongSheet) {
    const open = sheet.lock.status === 'open for changes' ? sheet.lock.changes : [];
    return sheet.versions.findLast(
      (version) => version.gate === 'production' && version.changes.some((number) => open.includes(number)),
    );
  }

  private step(sheet: SongSheet) {
    const may = sheet.reader.may;
    const delivered = this.delivered(sheet);
    const post = (words: string, main: boolean) =>
      html`<a class="button ${main ? 'main' : ''}" href=${songAddress(this.recordId, this.songId, 'post-version', { gate: 'production' })}>${words}</a>`;
    const sign = html`<a class="button main" href=${songAddress(this.recordId, this.songId, 'sign-off', { gate: 'production' })}>Sign it…</a>`;
    if (sheet.lock.status === 'locked') return nothing;
    const signs = sheet.reader.signs.includes('production');
    const missing = sheet.gates.production.missing;
    const newest = sheet.versions.findLast((version) => version.gate === 'production');
    const iSign = signs && missing.some((person) => person.id === sheet.reader.person.id);
    const posts = may.includes('postVersion');
    if (sheet.lock.status === 'open for changes')
      return html`<p class="acts">
        ${delivered && iSign ? sign : nothing}
        ${posts ? post(delivered ? 'Deliver another production…' : 'Deliver the new production…', !delivered) : nothing}
      </p>`;
    return html`<p class="acts">${newest && iSign ? sign : nothing} ${posts ? post(newest ? 'Post another rough…' : 'Post the rough…', !newest) : nothing}</p>`;
  }

  private at(request: RequestView | null): TemplateResult {
    const range = request?.range ?? null;
    const query: Record<string, string> = { v: request?.versionId ?? '' };
    if (range) query.t = String(range.startSeconds);
    return html`<a
      class="at"
      href=${songAddress(this.recordId, this.songId, 'listen', query)}
      aria-label="Listen at ${range ? rangeCode(range) : 'the start'}"
      >${range ? timeCode(range.startSeconds) : 'all'}</a
    >`;
  }

  private wish(request: RequestView | null, more: TemplateResult | typeof nothing = nothing) {
    if (!request) return html`<div class="wish"></div>`;
    return html`<div class="wish">
      <p>${request.text}</p>
      <small class="about">${levelMark(request.level)} · ${request.author.name} · ${kindWord[request.kind]}${request.grey ? ' · grey area' : ''}</small>
      ${more}
    </div>`;
  }

  private flagged(sheet: SongSheet) {
    const list = sheet.lockBreaks.filter((each) => each.status === 'flagged');
    if (!list.length) return nothing;
    const prices = sheet.reader.may.includes('priceChange');
    return html`<section class="list">
      <h2>Would break the lock <small>declined, or priced as a change order; counts in no mix round</small></h2>
      <ul class="rows">
        ${list.map(
          (each, index) => html`<li class="req">
            ${this.at(each.request)} ${this.wish(each.request, each.request?.why ? html`<small class="why">${each.request.why}</small>` : nothing)}
            <div class="seen"><p>Change ${each.number}, flagged ${dayWords(each.flaggedAt)}</p></div>
            <div class="acts">
              ${
                prices
                  ? html`<button type="button" class=${index === 0 && sheet.lock.status === 'locked' ? 'main' : nothing} @click=${() => {
                      this.pricing = each;
                    }}>Price…</button>
                    <button type="button" @click=${() => this.decline(each)}>Decline…</button>`
                  : nothing
              }
            </div>
          </li>`,
        )}
      </ul>
    </section>`;
  }

  private orderWords(each: LockBreakView, sheet: SongSheet): TemplateResult {
    const name = (id: string) => sheet.people.find((person) => person.id === id)?.name ?? 'somebody';
    switch (each.status) {
      case 'priced':
        return html`<b>Waits for ${sheet.reader.payer ? 'your' : `${this.payer}’s`} yes</b>`;
      case 'accepted':
        return html`<b>Accepted</b> by ${name(each.acceptedBy)} ${dayWords(each.acceptedAt)}; the lock is open for it`;
      case 'delivered':
        return html`<b>Delivered</b> in the locked production; accepted by ${name(each.acceptedBy)} ${dayWords(each.acceptedAt)}`;
      case 'refused':
        return html`<b>Refused</b> by ${name(each.by)}: ${each.reason}`;
      case 'declined':
        return html`<b>Declined</b> by ${name(each.by)}: ${each.reason}`;
      case 'withdrawn':
        return html`<b>Withdrawn</b>: the request was re-sorted`;
      case 'flagged':
        return html`<b>With the producer</b>`;
    }
  }

  private orders(sheet: SongSheet) {
    const list = sheet.lockBreaks.filter((each) => each.status !== 'flagged');
    if (!list.length) return nothing;
    const prices = sheet.reader.may.includes('priceChange');
    return html`<section class="list">
      <h2>Change orders <small>at ${money(sheet.clauses?.productionRateMinorUnits ?? 0, sheet.currency)} an hour, by the contract</small></h2>
      <ul class="rows">
        ${list.map(
          (each) => html`<li class="req">
            ${this.at(each.request)}
            ${this.wish(each.request, 'price' in each ? html`<p class="order">Change order ${each.number}: ${each.price.words}, ${each.price.hours} h</p>` : nothing)}
            <div class="seen"><p>${this.orderWords(each, sheet)}</p>
              ${'sha256' in each ? fileHash(each.sha256) : nothing}</div>
            <div class="acts">
              ${each.amountMinorUnits === null ? nothing : html`<b class="fee">${money(each.amountMinorUnits, sheet.currency)}</b>`}
              ${
                each.status === 'priced' && prices
                  ? html`<button type="button" @click=${() => {
                      this.pricing = each;
                    }}>Price anew…</button>`
                  : nothing
              }
            </div>
          </li>`,
        )}
      </ul>
    </section>`;
  }

  private brief(sheet: SongSheet) {
    return html`<section class="list">
      <h2>Mastering brief <small>parked; comes back at the master gate</small></h2>
      ${
        sheet.brief.length
          ? html`<ul class="rows">
              ${sheet.brief.map(
                (request) => html`<li class="req">
                  ${this.at(request)} ${this.wish(request)}
                  <div class="seen"></div>
                  <div class="acts"></div>
                </li>`,
              )}
            </ul>`
          : html`<p class="said">Nothing parked. Wishes about the whole finished song (its loudness, its tone, its fade) gather here.</p>`
      }
    </section>`;
  }

  override render() {
    const { sheet } = this;
    if (!sheet) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const { production } = sheet.gates;
    const goAheads = sheet.reader.payer ? goAheadsOf(sheet).filter((each) => each.kind === 'change') : [];
    const agreed = sheet.charges
      .filter((charge) => charge.kind === 'change')
      .reduce((sum, charge) => sum + charge.amountMinorUnits, 0);
    return html`<div class="page scope">
      <h1>${sheet.song.title} · scope</h1>
      <p class="lede">${this.lede(sheet)}</p>
      <div class="facts">
        ${
          production.signatures.length
            ? html`<span>Signed by <b>${listWords(production.signatures.map((each) => each.person.name))}</b>${production.closedAt ? ` ${dayWords(production.closedAt)}` : ''}</span>`
            : nothing
        }
        <span>Production changes <b>${money(sheet.clauses?.productionRateMinorUnits ?? 0, sheet.currency)} an hour</b></span>
        <span>Changes agreed <b>${money(agreed, sheet.currency)}</b></span>
      </div>
      <p class="caution">
        Production lock: arrangement, takes, edits and sounds are approved and frozen on one file, so that the mix stands on
        firm ground. A wish for new or changed audio breaks it, whoever wrote it, and is never part of a mix round.
      </p>
      ${sheet.lock.status === 'open' ? nothing : html`<p class="caution">The locked file, by its SHA-256: ${fileHash(sheet.lock.sha256)}</p>`}
      ${this.step(sheet)}
      <countoff-go-aheads .goAheads=${goAheads} main @go-ahead=${this.answer}></countoff-go-aheads>
      ${this.flagged(sheet)} ${this.orders(sheet)}
      ${sheet.lockBreaks.length ? nothing : html`<p class="empty">No wish has met the lock. Production-level requests appear here, with what they would cost.</p>`}
      ${this.brief(sheet)}
      <countoff-price-dialog
        .lockBreak=${this.pricing}
        .rateMinorUnits=${sheet.clauses?.productionRateMinorUnits ?? 0}
        .currency=${sheet.currency}
        @price=${this.price}
        @closed=${() => {
          this.pricing = null;
        }}
      ></countoff-price-dialog>
    </div>`;
  }
}
