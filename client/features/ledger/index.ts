import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../../api/call.ts';
import { type LedgerView, recordCalls } from '../../api/record-calls.ts';
import type { FactType } from '../../api/types.ts';
import { announceRefusal } from '../../elements/announcer.ts';
import { asSentence } from '../../elements/count-words.ts';
import { momentWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { hashGroups, shortHash } from '../../elements/file-hash.ts';
import { navigate } from '../../navigate.ts';
import { recordAddress } from '../../route.ts';
import '../../styles/lists.css';
import './ledger.css';

export const tag = 'countoff-ledger';

/** Entries that follow from somebody's deed rather than being one. */
const consequences: ReadonlySet<FactType> = new Set<FactType>([
  'contradictionFound',
  'lockBroken',
  'lockBreakWithdrawn',
  'lockOpened',
  'gateClosed',
  'productionLocked',
]);

/** The append-only record of who did what and when, in words, with its chain checked by the server. */
@customElement(tag)
export class LedgerPage extends FeatureElement {
  @state() private ledger: LedgerView | null = null;
  @state() private fault: string | null = null;
  private readAt = '';

  protected override willUpdate() {
    const { record } = this;
    const at = record ? `${record.record.id} ${record.record.sequence}` : '';
    if (!at || at === this.readAt) return;
    this.readAt = at;
    void this.readLedger();
  }

  private async readLedger() {
    try {
      this.ledger = await recordCalls(this.recordId).ledger();
      this.fault = null;
    } catch (error) {
      if (error instanceof Refusal) this.fault = error.message;
      else announceRefusal(error);
    }
  }

  /** What the address asks to see: one song, the record itself, or all. */
  private get chosen(): string {
    return this.query.get('song') ?? '';
  }

  private choose = (event: Event) => {
    const song = (event.target as HTMLSelectElement).value;
    const at = recordAddress(this.recordId, 'ledger');
    navigate(song ? `${at}?song=${encodeURIComponent(song)}` : at, { replace: true });
  };

  private entries(ledger: LedgerView) {
    const { chosen } = this;
    return ledger.entries
      .filter(({ fact }) => {
        if (!chosen) return true;
        return chosen === 'record' ? !('song' in fact) : 'song' in fact && fact.song === chosen;
      })
      .toReversed();
  }

  private entry(entry: LedgerView['entries'][number]) {
    return html`<li>
      <span class="sequence">${entry.sequence}</span>
      <time datetime=${entry.at}>${momentWords(entry.at)}</time>
      <p>
        ${
          consequences.has(entry.fact.type)
            ? html`${asSentence(entry.words)} <small>with ${entry.by.name}’s entry</small>`
            : html`<b>${entry.by.name}</b> ${entry.words}`
        }
      </p>
      <details>
        <summary>${shortHash(entry.hash)}</summary>
        <p class="hash">${hashGroups(entry.hash)}</p>
        <p class="hash">after ${hashGroups(entry.previousHash)}</p>
        <p class="hash">${entry.at} · ${entry.fact.type}</p>
      </details>
    </li>`;
  }

  override render() {
    const { record, ledger, fault } = this;
    if (fault) return html`<div class="page narrow"><h1>Ledger</h1><p class="lede">${fault}</p></div>`;
    if (!record || !ledger)
      return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    const entries = this.entries(ledger);
    const count = ledger.entries.length;
    return html`<div class="page ledger">
      <h1>${record.record.title} · ledger</h1>
      <p class="lede">
        ${
          ledger.verified
            ? html`The chain is <b>whole</b>: each of its ${count} entries holds the SHA-256 of the one before, from the first to the last.`
            : html`<b class="broken">The chain is broken.</b> An entry was changed outside Countoff. Keep a copy of this ledger and tell whoever runs the server.`
        }
      </p>
      <div class="facts">
        <span>Last entry <b>${count}</b></span>
        <span>Head <b class="hash">${shortHash(ledger.head)}</b></span>
        <span>Nothing on it is ever changed or removed; a mistake is put right by another entry.</span>
      </div>
      <div class="tools">
        <label class="field"
          >Show<select @change=${this.choose}>
            <option value="" ?selected=${!this.chosen}>everything</option>
            <option value="record" ?selected=${this.chosen === 'record'}>record, people and contract</option>
            ${record.songs.map((song) => html`<option value=${song.id} ?selected=${this.chosen === song.id}>${song.title}</option>`)}
          </select></label
        >
        <a class="button main" href=${recordCalls(this.recordId).ledgerFile} download>Download the ledger</a>
      </div>
      <ol class="sheet entries" reversed>
        ${entries.map((entry) => this.entry(entry))}
      </ol>
      ${entries.length ? nothing : html`<p class="empty">No entry here yet.</p>`}
      <p class="caution">
        The file has one entry a line, as JSON. <code>countoff ledger verify</code> on the server walks the chain and names the
        first entry that doesn’t fit. A record of what was agreed, not legal advice.
      </p>
    </div>`;
  }
}
