import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { answerGoAhead } from '../../api/answer-go-ahead.ts';
import { recordCalls } from '../../api/record-calls.ts';
import { readSongSheet } from '../../api/song-sheet.ts';
import type { RecordSheet, SongLine } from '../../api/types.ts';
import { announceRefusal, attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import { listWords } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { shortHash } from '../../elements/file-hash.ts';
import { gateStrip } from '../../elements/gate-words.ts';
import { type GoAhead, type GoAheadAnswer, goAheadsOf } from '../../elements/go-aheads.ts';
import { money } from '../../elements/money.ts';
import { navigate } from '../../navigate.ts';
import { recordAddress, songAddress } from '../../route.ts';
import { daysLeft, nextStep, roundWords, versionWords } from './next-step.ts';
import './record.css';

export const tag = 'countoff-record';

const waitsForPayer = (line: SongLine) =>
  line.waitsForGoAhead !== null ||
  line.openChanges > 0 ||
  line.gates.mix.reopening !== null ||
  line.gates.master.reopening !== null;

/** All songs of a record at a glance: gate, round, whose turn, money beyond the contract, and the reader's next step. */
@customElement(tag)
export class RecordPage extends FeatureElement {
  @state() private goAheads: GoAhead[] = [];
  private goAheadsAt = '';

  protected override willUpdate() {
    const { record } = this;
    const at = record ? `${record.record.id} ${record.record.sequence}` : '';
    if (!record?.reader.payer || at === this.goAheadsAt) return;
    this.goAheadsAt = at;
    void this.readGoAheads(record);
  }

  private async readGoAheads(record: RecordSheet) {
    try {
      const sheets = await Promise.all(
        record.songs.filter(waitsForPayer).map((line) => readSongSheet(record.record.id, line.id)),
      );
      this.goAheads = sheets.flatMap(goAheadsOf);
    } catch (error) {
      announceRefusal(error);
    }
  }

  private answer = (event: CustomEvent<GoAheadAnswer>) => {
    const { goAhead, refusal } = event.detail;
    void attempt(
      () => answerGoAhead(this.recordId, goAhead, refusal),
      refusal === null ? 'Given, and on the ledger.' : 'Declined, and on the ledger with your reason.',
    );
  };

  private deleteDemo = async () => {
    const yes = await ask({
      heading: 'Delete the demo record?',
      words: 'Its songs, notes, links and audio go for good. Your own records are not touched.',
      confirm: 'Delete the demo record',
    });
    if (yes === null) return;
    if (await attempt(() => recordCalls(this.recordId).deleteDemo(), 'The demo record is gone.')) {
      window.dispatchEvent(new Event('countoff:me'));
      navigate('/', { replace: true });
    }
  };

  private facts(record: RecordSheet) {
    const { contract, reader } = record;
    const agreed = contract?.status === 'agreed' ? contract.history[0] : undefined;
    const amended = contract?.status === 'agreed' ? contract.history.length - 1 : 0;
    const hats = [...reader.roles, ...(reader.payer ? ['payer'] : [])];
    return html`<div class="facts">
      ${
        agreed
          ? html`<span
              ><a href="${recordAddress(record.record.id, 'set-up')}#contract">Contract</a> of
              <b>${dayWords(agreed.agreedAt)}</b>${amended ? `, amended ${amended === 1 ? 'once' : `${amended} times`}` : ''}</span
            >`
          : html`<span>Contract <b>${contract ? 'drafted, not agreed' : 'not written yet'}</b></span>`
      }
      ${
        contract
          ? html`<span>Rounds included <b>${contract.terms.includedMixRounds} of mix, ${contract.terms.includedMasterRounds} of master</b> a song</span>`
          : nothing
      }
      <span>Beyond the contract <b>${money(record.beyondContractMinorUnits, record.currency)}</b></span>
      ${hats.length ? html`<span>You: <b>${listWords(hats)}</b></span>` : nothing}
    </div>`;
  }

  private amendment(record: RecordSheet) {
    const { contract, reader } = record;
    const page = html`<a href="${recordAddress(record.record.id, 'set-up')}#contract">Read it and answer</a>`;
    if (contract?.status === 'drafted' && reader.may.includes('agreeContract'))
      return html`<p class="aside">The contract is drafted and waits for both sides to agree. Rounds can’t be sent and nothing can be signed before. ${page}</p>`;
    if (contract?.status !== 'agreed' || !contract.amendment || !reader.may.includes('acceptAmendment'))
      return nothing;
    return html`<p class="aside">Amendment ${contract.amendment.number} to the contract is proposed: “${contract.amendment.reason}” ${page}</p>`;
  }

  private row(record: RecordSheet, line: SongLine, main: boolean) {
    const step = nextStep(record.record.id, line);
    const days = daysLeft(line.turn.dueAt, Date.now());
    const others = line.turnNames.map(({ name, id }) =>
      id === record.reader.person.id ? html`<b>you</b>` : html`${name}`,
    );
    const hash = line.newest && line.turn.mine && line.turn.step.startsWith('sign');
    return html`<tr role="row">
      <th scope="row" role="rowheader">
        <a href=${songAddress(record.record.id, line.id)}>${line.title}</a>
        <small
          >${[versionWords(line), line.newest && dayWords(line.newest.postedAt)].filter(Boolean).join(' · ')}${
            line.newest
              ? html` · <a href=${songAddress(record.record.id, line.id, 'figures')}>Figures</a>`
              : nothing
          }</small
        >
      </th>
      <td role="cell" class="gate-cell">
        ${gateStrip(line.gates, line.gate)}
        ${line.lock.status === 'open for changes' ? html`<small>production open for change ${line.lock.changes.join(', ')}</small>` : nothing}
      </td>
      <td role="cell" class="num" data-label="Round">
        ${roundWords(line)}${line.waitsForGoAhead ? html`<small>round ${line.waitsForGoAhead.number} waits for the go-ahead, ${money(line.waitsForGoAhead.feeMinorUnits, record.currency)}</small>` : nothing}
      </td>
      <td role="cell" class="turn">
        <span class="who"
          >${others.map((name, index) => html`${index ? (index === others.length - 1 ? ' and ' : ', ') : ''}${name}`)}${others.length && days ? html`, <span class=${days.overdue ? 'overdue' : nothing}>${days.words}</span>` : nothing}</span
        >
        <small>${line.turn.sentence}</small>
      </td>
      <td role="cell" class="num" data-label="Open">
        ${line.openRequests || line.openChanges ? html`${line.openRequests}${line.openChanges ? html`<small>and ${line.openChanges} at the lock</small>` : nothing}` : '–'}
      </td>
      <td role="cell" class="num" data-label="Beyond">${money(line.beyondContractMinorUnits, record.currency)}</td>
      <td role="cell" class="step">
        ${step ? html`<a class="button ${main ? 'main' : ''}" href=${step.address}>${step.words}</a>` : nothing}
        ${hash && line.newest ? html`<small class="hash">SHA-256 ${shortHash(line.newest.sha256)}</small>` : nothing}
        ${!line.gate ? html`<a href=${songAddress(record.record.id, line.id, 'sign-off')}>Certificates</a>` : nothing}
      </td>
    </tr>`;
  }

  override render() {
    const { record } = this;
    if (!record) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const owner = record.reader.owner;
    const goAheads = record.reader.payer ? this.goAheads : [];
    const first = goAheads.length ? null : record.songs.find((line) => nextStep(record.record.id, line));
    return html`<div class="page record">
      <h1>${record.record.title}</h1>
      <p class="lede">${record.songs.length ? record.sentence : 'No songs yet.'}</p>
      ${this.facts(record)} ${this.amendment(record)}
      <countoff-go-aheads .goAheads=${goAheads} main @go-ahead=${this.answer}></countoff-go-aheads>
      ${
        record.songs.length
          ? html`<table role="table" aria-label="Songs of ${record.record.title}">
              <thead role="rowgroup">
                <tr role="row">
                  <th scope="col" role="columnheader">Song</th>
                  <th scope="col" role="columnheader">Gate</th>
                  <th scope="col" role="columnheader" class="num">Round</th>
                  <th scope="col" role="columnheader">Whose turn</th>
                  <th scope="col" role="columnheader" class="num">Open</th>
                  <th scope="col" role="columnheader" class="num">Beyond</th>
                  <th scope="col" role="columnheader">Your next step</th>
                </tr>
              </thead>
              <tbody role="rowgroup">
                ${record.songs.map((line) => this.row(record, line, line === first))}
              </tbody>
            </table>`
          : html`<p class="empty">
              ${owner ? html`Add the songs of this record. <a href=${recordAddress(record.record.id, 'set-up')}>Go to set-up</a>` : 'Songs appear here as soon as the owner has added them.'}
            </p>`
      }
      ${
        owner && record.record.demo
          ? html`<p class="caution demo">This is the demo record: its people and music are invented.
              <button type="button" class="quiet" @click=${this.deleteDemo}>Delete the demo record…</button></p>`
          : nothing
      }
    </div>`;
  }
}
