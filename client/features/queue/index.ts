import { html, nothing, type TemplateResult } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { answerGoAhead } from '../../api/answer-go-ahead.ts';
import { songCalls } from '../../api/song-calls.ts';
import type { Gate, RoundView, SongSheet, UnaskedView, VersionView } from '../../api/types.ts';
import { attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import { AskedBetween } from '../../elements/asked-between.ts';
import { verdictMark } from '../../elements/asked-list.ts';
import { asSentence, countWords, numberWord } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { versionWord } from '../../elements/gate-words.ts';
import { type GoAheadAnswer, goAheadsOf } from '../../elements/go-aheads.ts';
import { modal } from '../../elements/modal.ts';
import { money } from '../../elements/money.ts';
import { barAndBeat, timeCode } from '../../elements/time-code.ts';
import '../../elements/unasked-list.ts';
import type { ExplainedChange } from '../../elements/unasked-list.ts';
import { navigate } from '../../navigate.ts';
import { songAddress } from '../../route.ts';
import '../../styles/lists.css';
import './queue.css';
import {
  grouped,
  type QueueGroup,
  type QueueItem,
  type QueueLists,
  type QueueOrder,
  queueLists,
  queueOrders,
  roundKey,
  shownRound,
} from './queue-order.ts';
import { type RowAct, requestHeading, requestRow } from './request-row.ts';
import './resort-dialog.ts';
import type { Resorting } from './resort-dialog.ts';

export const tag = 'countoff-queue';

const orderWord: Record<QueueOrder, string> = { song: 'of the song', part: 'by part', person: 'by person' };
const keysSetting = 'queue keys';

const keyHelp: [string, string][] = [
  ['j', 'next request'],
  ['k', 'request before'],
  ['l', 'listen at the spot'],
  ['d', 'done'],
  ['n', 'not done, with a reason'],
  ['a', 'ask the author'],
  ['p', 'park for mastering'],
  ['r', 're-sort'],
  ['?', 'this list'],
];

const keyActs: Record<string, RowAct> = {
  d: 'done',
  n: 'not done',
  a: 'question',
  p: 'park',
  r: 'resort',
};

/** What is compared: the version that the round was sent on with the newest after it. */
interface Pair {
  older: VersionView;
  newer: VersionView;
}

/** The engineer's list: the requests of a round in an order that suits mixing, with what changed beside what was asked. */
@customElement(tag)
export class QueuePage extends FeatureElement {
  @state() private currentId: string | null = null;
  @state() private resorting: QueueItem | null = null;
  @state() private keysOpen = false;
  @state() private keysOn = localStorage.getItem(keysSetting) !== 'off';
  /** Answered requests whose answer is being changed. */
  @state() private changing = new Set<string>();
  private readonly asked = new AskedBetween(this);

  override connectedCallback() {
    super.connectedCallback();
    window.addEventListener('keydown', this.press);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    window.removeEventListener('keydown', this.press);
  }

  private get calls() {
    return songCalls(this.recordId, this.songId);
  }

  private get round(): RoundView | null {
    return this.sheet ? shownRound(this.sheet.rounds, this.query.get('round')) : null;
  }

  private get order(): QueueOrder {
    return queueOrders.find((order) => order === this.query.get('order')) ?? 'song';
  }

  private pair(sheet: SongSheet, round: RoundView | null): Pair | null {
    if (!round?.versionId) return null;
    const versions = sheet.versions.filter((version) => version.gate === round.gate);
    const index = versions.findIndex((version) => version.id === round.versionId);
    const older = versions[index];
    const answer = versions.find((version) => version.name === round.answeredBy);
    const newer = answer ?? versions.at(-1);
    return older && newer && versions.indexOf(newer) > index ? { older, newer } : null;
  }

  protected override willUpdate() {
    const { sheet } = this;
    if (!sheet || !this.isConnected) return;
    const pair = this.pair(sheet, this.round);
    this.asked.follow(
      pair && `${pair.older.id} ${pair.newer.id}`,
      `${sheet.song.sectionMap.revision} ${sheet.record.sequence}`,
      (signal, onProgress) =>
        this.calls.asked(pair?.older.id ?? '', pair?.newer.id ?? '', signal, onProgress),
    );
  }

  // What is done with a request

  private mayAct(item: QueueItem, round: RoundView | null): RowAct[] {
    const may = new Set(this.sheet?.reader.may);
    const { request, note } = item;
    const sent = note.sent || note.afterApproval;
    const answerable = may.has('answerRequest') && sent && (!request.answer || this.changing.has(request.id));
    const under = request.lockBreakStatus === 'accepted' || request.lockBreakStatus === 'delivered';
    const acts: RowAct[] = [];
    if (answerable && request.level !== 'none' && !request.parked && !round?.waitsForGoAhead)
      acts.push('done', 'not done', 'question');
    if (may.has('resortRequest') && !under) {
      if (request.level !== 'mastering' && request.level !== 'none' && round?.gate !== 'master')
        acts.push('park');
      acts.push('resort');
    }
    if (may.has('markOwnMistake') && !request.ownMistake && request.level === 'mix') acts.push('mistake');
    acts.push('reply');
    return acts;
  }

  private async act(act: RowAct, item: QueueItem) {
    const { request, note } = item;
    const { calls } = this;
    const heading = requestHeading(request);
    switch (act) {
      case 'done':
        await this.answer(item, 'done', '');
        return;
      case 'not done': {
        const reason = await ask({
          heading: `Not done: ${heading}`,
          words: 'The author reads your reason beside the wish.',
          label: 'Your reason',
          value: request.answer?.kind === 'not done' ? request.answer.text : '',
          confirm: 'Answer “not done”',
        });
        if (reason) await this.answer(item, 'not done', reason);
        return;
      }
      case 'question': {
        const question = await ask({
          heading: `Ask about ${heading}`,
          words: `${request.author.name} reads it beside the wish and can reply there.`,
          label: 'Your question',
          value: request.answer?.kind === 'question' ? request.answer.text : '',
          confirm: 'Ask',
        });
        if (question) await this.answer(item, 'question', question);
        return;
      }
      case 'park': {
        const reason = await ask({
          heading: `Park for mastering: ${heading}`,
          words: 'It goes on the mastering brief, comes back at the master gate and counts in no mix round.',
          label: 'Your reason, which the author reads',
          confirm: 'Park it',
        });
        if (reason)
          await attempt(
            () => calls.resort(request.id, { level: 'mastering', kind: null, reason }),
            'Parked on the mastering brief.',
          );
        return;
      }
      case 'resort':
        this.resorting = item;
        return;
      case 'mistake': {
        const reason = await ask({
          heading: `Own mistake: ${heading}`,
          words:
            'A request that puts right a mistake of yours doesn’t make the round count. The decision and its reason stay on the record.',
          label: 'What went wrong',
          confirm: 'Mark as own mistake',
        });
        if (reason)
          await attempt(() => calls.markOwnMistake(request.id, reason), 'Marked; it counts in no round.');
        return;
      }
      case 'reply': {
        const text = await ask({
          heading: `Reply to ${note.by.name}`,
          words: `“${note.text}”`,
          label: 'Your reply',
          confirm: 'Reply',
        });
        if (text) await attempt(() => calls.reply(note.id, text), 'Replied.');
      }
    }
  }

  private async answer(item: QueueItem, answer: 'done' | 'not done' | 'question', text: string) {
    const { id } = item.request;
    const done = await attempt(() => this.calls.answer(id, { answer, text }));
    if (done && this.changing.delete(id)) this.requestUpdate();
  }

  private changeAnswer(item: QueueItem) {
    this.changing = new Set([...this.changing, item.request.id]);
  }

  private resort = async (event: CustomEvent<Resorting>) => {
    const { request, level, kind, reason } = event.detail;
    const done = await attempt(
      () => this.calls.resort(request.id, { level, kind: kind === request.kind ? null : kind, reason }),
      'Re-sorted, with your reason on the record.',
    );
    if (done) this.resorting = null;
  };

  private goAhead = (event: CustomEvent<GoAheadAnswer>) => {
    const { goAhead, refusal } = event.detail;
    void attempt(() => answerGoAhead(this.recordId, goAhead, refusal));
  };

  private quote = (event: SubmitEvent) => {
    event.preventDefault();
    const { round } = this;
    const hours = Number(new FormData(event.target as HTMLFormElement).get('hours'));
    if (round) void attempt(() => this.calls.quoteRound(round.gate, round.number, hours), 'Quoted.');
  };

  private explain(pair: Pair, { place, text }: ExplainedChange) {
    void attempt(
      () => this.calls.explainChange(pair.older.id, pair.newer.id, { place, text }),
      'Explained. Everybody on the record reads it.',
    );
  }

  // The keyboard

  private get itemsInOrder(): QueueItem[] {
    const { sheet, round } = this;
    if (!sheet) return [];
    return grouped(queueLists(sheet, round).work, this.order).flatMap((group) => group.items);
  }

  private moveTo(item: QueueItem | undefined) {
    if (!item) return;
    this.currentId = item.request.id;
    void this.updateComplete.then(() => {
      const row = this.querySelector<HTMLElement>(`#request-${CSS.escape(item.request.id)}`);
      row?.focus({ preventScroll: true });
      row?.scrollIntoView({ block: 'nearest' });
    });
  }

  private press = (event: KeyboardEvent) => {
    if (!this.keysOn || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const target = event.target as HTMLElement;
    if (target.closest('input, textarea, select, dialog') || document.querySelector('dialog[open]')) return;
    const items = this.itemsInOrder;
    const index = items.findIndex((item) => item.request.id === this.currentId);
    const current = items[index];
    const act = keyActs[event.key];
    if (event.key === '?') this.keysOpen = true;
    else if (event.key === 'j') this.moveTo(items[Math.min(index + 1, items.length - 1)]);
    else if (event.key === 'k') this.moveTo(items[Math.max(index - 1, 0)]);
    else if (event.key === 'l' && current) navigate(this.listenAddress(current));
    else if (act && current) {
      if (!this.mayAct(current, this.round).includes(act)) return;
      void this.act(act, current);
    } else return;
    event.preventDefault();
  };

  private setKeys = (event: Event) => {
    this.keysOn = (event.target as HTMLInputElement).checked;
    localStorage.setItem(keysSetting, this.keysOn ? 'on' : 'off');
  };

  private keys() {
    return html`<dialog class="dialog" aria-labelledby="keys-heading" ${modal(this.keysOpen)} @close=${() => {
      this.keysOpen = false;
    }}>
      <h2 id="keys-heading">Keys</h2>
      <dl class="pairs keys">
        ${keyHelp.map(([key, words]) => html`<div><dt><kbd>${key}</kbd></dt><dd>${words}</dd></div>`)}
      </dl>
      <label class="check"><input type="checkbox" .checked=${this.keysOn} @change=${this.setKeys} /><span>Single keys work on this page</span></label>
      <div class="acts"><button type="button" @click=${() => {
        this.keysOpen = false;
      }}>Close</button></div>
    </dialog>`;
  }

  // Addresses

  private listenAddress(item: QueueItem): string {
    const query: Record<string, string> = {};
    const pair = this.sheet ? this.pair(this.sheet, this.round) : null;
    if (pair) {
      query.v = pair.newer.id;
      query.a = pair.older.id;
    } else query.v = item.request.versionId;
    query.t = String(Math.round((item.startSeconds ?? 0) * 10) / 10);
    return songAddress(this.recordId, this.songId, 'listen', query);
  }

  private queueAddress(change: Record<string, string>): string {
    const query = { ...Object.fromEntries(this.query), ...change };
    return songAddress(this.recordId, this.songId, 'queue', query);
  }

  // What was measured

  private seen(item: QueueItem, pair: Pair | null): TemplateResult | typeof nothing {
    if (!pair || item.request.level === 'none') return nothing;
    const { told, fault } = this.asked;
    if (!told) return fault ? nothing : html`<p class="measuring">comparing with ${pair.newer.name} …</p>`;
    const view = told.asked.find(({ requestId }) => requestId === item.request.id);
    return view
      ? html`<p>${verdictMark(view.verdict)} <small>${pair.newer.name}</small></p><p class="figure">${view.figure}</p>`
      : nothing;
  }

  private changedAddress(pair: Pair): string {
    return songAddress(this.recordId, this.songId, 'changed', { a: pair.older.id, b: pair.newer.id });
  }

  // The page

  private lede(sheet: SongSheet, round: RoundView | null, lists: QueueLists) {
    if (!round) return html`No notes yet. ${sheet.turn.sentence}`;
    const all = round.requestIds.length;
    const { work, talk } = lists;
    const wishes = all - talk.length;
    const answered = work.filter((item) => item.request.answer).length;
    const part = work.length > 0 && work.length < wishes;
    const answeredWords = answered ? numberWord(answered) : 'none';
    if (round.status === 'open')
      return all
        ? html`<b>Not sent yet:</b> ${countWords(all, 'request')} so far. The list may still change until the spokesperson sends it.`
        : html`Round ${round.number} is open and empty. ${sheet.turn.sentence}`;
    const settled = sheet.contradictions.filter(
      (pair) => pair.settled && pair.requestIds.some((id) => round.requestIds.includes(id)),
    ).length;
    return html`${asSentence(countWords(wishes, 'request'))} on ${round.versionName}, sent by <b>${round.sentBy?.name}</b> ${round.sentAt ? dayWords(round.sentAt) : ''}.
      ${part ? html`${asSentence(numberWord(work.length))} ${work.length === 1 ? 'is' : 'are'} for this round:` : nothing}
      ${
        work.length
          ? answered === work.length
            ? html`<b>${part ? 'all' : 'All'} answered</b>${round.answeredBy ? html`, with ${round.answeredBy}` : html`; the next version is missing`}.`
            : html`<b>${part ? answeredWords : asSentence(answeredWords)} answered</b>, ${numberWord(work.length - answered)} to go.`
          : nothing
      }
      ${settled ? `${asSentence(countWords(settled, 'contradiction was', 'contradictions were'))} settled before sending.` : nothing}`;
  }

  private countFact(sheet: SongSheet, round: RoundView | null) {
    if (!round) return nothing;
    const included = sheet.counted?.gate === round.gate ? sheet.counted.included : null;
    if (round.status === 'open') {
      const open =
        sheet.openRound?.number === round.number && sheet.openRound.gate === round.gate
          ? sheet.openRound
          : null;
      if (!open) return nothing;
      return html`<span>${open.counts ? html`Would be round <b>${open.position} of ${open.includedRounds}</b>` : html`Would count <b>no round</b>`}</span>`;
    }
    if (!round.counts) return html`<span>Counts as <b>no round</b></span>`;
    return html`<span
      >Counts as round <b>${round.position}${included === null ? '' : ` of ${included}`}</b>${round.beyond ? html`, <b>beyond the contract</b>` : nothing}</span
    >`;
  }

  private roundStrip(sheet: SongSheet, shown: RoundView | null) {
    if (sheet.rounds.length < 2) return nothing;
    return html`<nav class="rounds" aria-label="Rounds">
      ${sheet.rounds.map(
        (
          round,
        ) => html`<a href=${this.queueAddress({ round: roundKey(round) })} aria-current=${round === shown ? 'true' : nothing}
          >${versionWord[round.gate]} round ${round.number}<small
            >${
              round.status === 'answered'
                ? `answered by ${round.answeredBy}`
                : round.waitsForGoAhead
                  ? 'waits for the go-ahead'
                  : round.status === 'sent'
                    ? `sent ${round.sentAt ? dayWords(round.sentAt) : ''}`
                    : 'not sent yet'
            }</small
          ></a
        >`,
      )}
    </nav>`;
  }

  private waiting(sheet: SongSheet, round: RoundView | null) {
    if (!round?.waitsForGoAhead) return nothing;
    const terms = this.record?.contract?.terms;
    const payer = this.record?.people.find((person) => person.id === terms?.payer)?.name ?? 'the payer';
    const fee = terms?.roundFee;
    const goAheads = sheet.reader.payer ? goAheadsOf(sheet).filter((each) => each.kind === 'round') : [];
    return html`<div class="aside waiting">
        <p>
          <b>Waits for ${sheet.reader.payer ? 'your' : `${payer}’s`} go-ahead.</b> Round ${round.number} is beyond the contract,
          ${money(round.feeMinorUnits ?? 0, sheet.currency)} (${round.feeClause}${round.late ? '; the days for notes had run out' : ''}).
          The list can be read and sorted meanwhile; no version can be posted before.
        </p>
        ${
          fee?.basis === 'hourly' && sheet.reader.may.includes('quoteRound')
            ? html`<form class="acts" @submit=${this.quote}>
                <label>Hours for this round, at ${money(fee.rateMinorUnits, sheet.currency)} an hour
                  <input name="hours" type="number" min="0.25" max="999" step="0.25" required value=${fee.minimumHours} /></label>
                <button>Quote</button>
              </form>`
            : nothing
        }
      </div>
      <countoff-go-aheads .goAheads=${goAheads} @go-ahead=${this.goAhead}></countoff-go-aheads>`;
  }

  private post(sheet: SongSheet, round: RoundView | null) {
    if (!sheet.reader.may.includes('postVersion') || sheet.gate === null) return nothing;
    const roles = sheet.reader.roles as string[];
    const gate: Gate = sheet.gate;
    const poster = gate === 'mix' ? 'mix engineer' : gate === 'master' ? 'mastering engineer' : null;
    if (poster && !roles.includes(poster)) return nothing;
    const name = `${versionWord[gate]} v${sheet.versions.filter((version) => version.gate === gate).length + 1}`;
    const waits = round?.waitsForGoAhead;
    const sent = sheet.rounds.some((each) => each.gate === gate && each.status === 'sent');
    const first = !sheet.versions.some((version) => version.gate === gate);
    return html`<a class="button ${!waits && (sent || first) ? 'main' : ''}" href=${songAddress(this.recordId, this.songId, 'post-version', { gate })}>Post ${name}…</a>`;
  }

  private row(item: QueueItem, round: RoundView | null, pair: Pair | null): TemplateResult {
    const { request } = item;
    const acts = this.mayAct(item, round);
    return html`${requestRow({
      item,
      current: request.id === this.currentId,
      address: this.listenAddress(item),
      seen: html`${
        request.answer && !this.changing.has(request.id) && this.sheet?.reader.may.includes('answerRequest')
          ? html`<button type="button" class="quiet" aria-label="Change the answer: ${request.text}" @click=${() => this.changeAnswer(item)}>Change the answer</button>`
          : nothing
      }${this.seen(item, pair)}`,
      acts,
      onAct: (act) => void this.act(act, item),
      onFocus: () => {
        this.currentId = request.id;
      },
    })}`;
  }

  private group(group: QueueGroup, round: RoundView | null, pair: Pair | null) {
    const { section } = group;
    const map = this.sheet!.song.sectionMap;
    const first = section && barAndBeat(section.startSeconds, map)?.bar;
    const last = section && barAndBeat(section.endSeconds - 1e-3, map)?.bar;
    return html`<section class="list">
      <h2>
        ${group.heading}
        <small
          >${section ? `${timeCode(section.startSeconds)}–${timeCode(section.endSeconds)}${first && last ? ` · bars ${first}–${last}` : ''}` : countWords(group.items.length, 'request')}</small
        >
      </h2>
      <ul class="rows">
        ${group.items.map((item) => this.row(item, round, pair))}
      </ul>
    </section>`;
  }

  private notAskedFor(pair: Pair | null) {
    if (!pair) return nothing;
    const heading = html`<h2>Not asked for <small>measured in ${pair.newer.name} against ${pair.older.name}, in no request · <a href=${this.changedAddress(pair)}>the figures</a></small></h2>`;
    const { told, progress, fault } = this.asked;
    if (!told || told.fault)
      return html`<section class="list">${heading}
        <p class="said" role="status">${told?.fault ?? fault ?? `Comparing ${pair.newer.name} with ${pair.older.name} … ${Math.round((progress ?? 0) * 100)} %`}</p></section>`;
    const listenAddress = ({ place }: UnaskedView) =>
      songAddress(this.recordId, this.songId, 'listen', {
        v: pair.newer.id,
        a: pair.older.id,
        t: String(Math.max(0, (place?.startSeconds ?? 0) - 1)),
      });
    return html`<section
      class="list"
      @explain-change=${({ detail }: CustomEvent<ExplainedChange>) => this.explain(pair, detail)}
    >
      ${heading}
      ${
        told.unasked.length
          ? html`<countoff-unasked-list
              .changes=${told.unasked}
              .answersList=${told.answersList}
              .mayExplain=${told.mayExplain}
              .listenAddress=${listenAddress}
            ></countoff-unasked-list>`
          : html`<p class="said">No change measured outside what was asked for. A section without a measured change can still differ by less than can be measured.</p>`
      }
    </section>`;
  }

  private outside(lists: QueueLists, round: RoundView | null) {
    const { sheet } = this;
    const scope = songAddress(this.recordId, this.songId, 'scope');
    const lockWords: Record<string, string> = {
      flagged: 'with the producer',
      declined: 'declined by the producer',
      priced: 'priced; waits for the payer',
      refused: 'refused by the payer',
      accepted: 'accepted; the lock is open for it',
      delivered: 'delivered in the locked production',
    };
    const rows: { item: QueueItem; words: TemplateResult }[] = [
      ...lists.atLock.map((item) => ({
        item,
        words: html`<a href=${scope}>Lock break ${item.request.lockBreak}</a>: ${lockWords[item.request.lockBreakStatus ?? 'flagged']}`,
      })),
      ...lists.parked.map((item) => ({ item, words: html`Parked for the master gate` })),
      ...lists.unsent.map((item) => ({
        item,
        words: html`Written since; waits for round ${item.note.round?.number ?? (round ? round.number + 1 : '')}`,
      })),
      ...lists.afterApproval.map((item) => ({ item, words: html`After approval: priced before any work` })),
    ];
    if (!rows.length || !sheet) return nothing;
    return html`<section class="list">
      <h2>Outside this round</h2>
      <ul class="rows">
        ${rows.map(({ item, words }) =>
          requestRow({
            item,
            current: item.request.id === this.currentId,
            address: this.listenAddress(item),
            seen: html`<p>${words}</p>`,
            acts: this.mayAct(item, round).filter(
              (act) => !['done', 'mistake'].includes(act) && act !== 'not done' && act !== 'question',
            ),
            onAct: (act) => void this.act(act, item),
            onFocus: () => {
              this.currentId = item.request.id;
            },
          }),
        )}
      </ul>
    </section>`;
  }

  override render() {
    const { sheet, round } = this;
    if (!sheet) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const lists = queueLists(sheet, round);
    const pair = this.pair(sheet, round);
    const groups = grouped(lists.work, this.order);
    return html`<div class="page queue">
      <h1>${sheet.song.title}${round ? html` · ${round.gate === 'master' ? 'master round' : 'round'} ${round.number}` : nothing}</h1>
      <p class="lede">${this.lede(sheet, round, lists)}</p>
      <div class="facts">
        <span class="orders" role="group" aria-label="Order"
          >Order
          ${queueOrders.map(
            (order) => html`<button
              type="button"
              class="quiet"
              aria-pressed=${order === this.order}
              @click=${() => navigate(this.queueAddress({ order }), { replace: true })}
            >${orderWord[order]}</button>`,
          )}</span
        >
        ${this.countFact(sheet, round)}
        <button type="button" class="quiet" @click=${() => {
          this.keysOpen = true;
        }}>Keys <kbd>?</kbd></button>
        <span class="post">${this.post(sheet, round)}</span>
      </div>
      ${this.roundStrip(sheet, round)} ${this.waiting(sheet, round)}
      ${groups.map((group) => this.group(group, round, pair))}
      ${groups.length ? nothing : html`<p class="empty">Nothing on this list yet. Notes appear here as they are written.</p>`}
      ${this.notAskedFor(pair)}
      ${
        lists.talk.length
          ? html`<section class="list">
              <h2>No request <small>praise, questions and talk: answered, counted nowhere</small></h2>
              <ul class="rows">${lists.talk.map((item) => this.row(item, round, null))}</ul>
            </section>`
          : nothing
      }
      ${this.outside(lists, round)} ${this.keys()}
      <countoff-resort-dialog
        .request=${this.resorting?.request ?? null}
        .recordId=${this.recordId}
        .scopeSheet=${this.record?.contract?.terms.scopeSheet ?? null}
        @resorting=${this.resort}
        @closed=${() => {
          this.resorting = null;
        }}
      ></countoff-resort-dialog>
    </div>`;
  }
}
