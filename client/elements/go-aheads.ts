import { html, nothing } from 'lit';
import { customElement, property } from 'lit/decorators.js';
import type { RoundGate, SongSheet } from '../api/types.ts';
import { ask } from './ask.ts';
import './go-aheads.css';
import { LightElement } from './light-element.ts';
import { money } from './money.ts';

/** Something beyond the contract that waits for the payer's yes. */
export interface GoAhead {
  kind: 'round' | 'change' | 'reopening';
  songId: string;
  songTitle: string;
  /** The round's or the change order's number. */
  number: number;
  gate: RoundGate;
  feeMinorUnits: number;
  currency: string;
  /** Where the fee comes from. */
  clause: string;
  heading: string;
  words: string;
}

/** The payer's answer to one of them. */
export interface GoAheadAnswer {
  goAhead: GoAhead;
  /** `null` for yes; else the reason for no. */
  refusal: string | null;
}

/** What waits for the payer on a song, in the order of its numbers. */
export function goAheadsOf(sheet: SongSheet): GoAhead[] {
  const { currency } = sheet;
  const song = { songId: sheet.song.id, songTitle: sheet.song.title, currency };
  const rounds = sheet.rounds.flatMap((round): GoAhead[] =>
    round.waitsForGoAhead && !round.waitsForQuote
      ? [
          {
            ...song,
            kind: 'round',
            number: round.number,
            gate: round.gate,
            feeMinorUnits: round.feeMinorUnits ?? 0,
            clause: `${round.feeClause}${round.late ? '; the days for notes had run out' : ''}`,
            heading: `${round.gate === 'mix' ? 'Mix' : 'Master'} round ${round.number}, beyond the contract`,
            words: `${round.requestIds.length} request${round.requestIds.length === 1 ? '' : 's'} on ${round.versionName}, sent by ${round.sentBy?.name}. No work starts before your yes.`,
          },
        ]
      : [],
  );
  const changes = sheet.lockBreaks.flatMap((each): GoAhead[] =>
    each.status === 'priced'
      ? [
          {
            ...song,
            kind: 'change',
            number: each.number,
            gate: 'mix',
            feeMinorUnits: each.price.amountMinorUnits,
            clause: `${each.price.hours} h of production changes at ${money(sheet.clauses?.productionRateMinorUnits ?? 0, currency)} an hour`,
            heading: `Change order ${each.number}: ${each.price.words}`,
            words: `Asked for by ${each.request?.author.name}: “${each.request?.text}”. With your yes the production lock opens for this change only.`,
          },
        ]
      : [],
  );
  const reopenings = (['mix', 'master'] as const).flatMap((gate): GoAhead[] => {
    const { reopening } = sheet.gates[gate];
    return reopening
      ? [
          {
            ...song,
            kind: 'reopening',
            number: 0,
            gate,
            feeMinorUnits: reopening.feeMinorUnits,
            clause: reopening.feeClause,
            heading: `Reopening the ${gate} gate`,
            words: `${reopening.by.name} asks for it: “${reopening.reason}”. The signatures stay on the ledger; a new version has to be signed.`,
          },
        ]
      : [];
  });
  return [...rounds, ...changes, ...reopenings];
}

/**
 * The payer's list of what waits for a yes, each with its fee and its clause.
 *
 * @fires go-ahead `GoAheadAnswer`, after the payer confirmed it in a dialog.
 */
@customElement('countoff-go-aheads')
export class GoAheads extends LightElement {
  @property({ attribute: false }) goAheads: GoAhead[] = [];
  /** Whether its first button is the page's filled one. */
  @property({ type: Boolean }) main = false;

  private report(goAhead: GoAhead, refusal: string | null) {
    this.dispatchEvent(
      new CustomEvent<GoAheadAnswer>('go-ahead', { detail: { goAhead, refusal }, bubbles: true }),
    );
  }

  private async accept(goAhead: GoAhead) {
    const fee = money(goAhead.feeMinorUnits, goAhead.currency);
    const yes = await ask({
      heading: goAhead.heading,
      words: `“${goAhead.songTitle}”. ${fee} beyond the contract, by its clause: ${goAhead.clause}. Your yes is kept on the ledger with your name and the time. It is a record of what was agreed, not legal advice.`,
      confirm: goAhead.kind === 'change' ? `Accept for ${fee}` : `Give the go-ahead for ${fee}`,
    });
    if (yes !== null) this.report(goAhead, null);
  }

  private async decline(goAhead: GoAhead) {
    const consequence = {
      round: 'The list goes back to the spokesperson, who can shorten it; nothing is lost.',
      change: 'The production stays locked as it is; the request stays on the record.',
      reopening: 'The gate stays closed on the signed file.',
    }[goAhead.kind];
    const reason = await ask({
      heading: `Decline: ${goAhead.heading}`,
      words: consequence,
      label: 'Your reason',
      confirm: 'Decline',
    });
    if (reason) this.report(goAhead, reason);
  }

  override render() {
    if (!this.goAheads.length) return nothing;
    return html`<section class="list go-aheads">
      <h2>Waits for your yes <small>beyond the contract</small></h2>
      ${this.goAheads.map(
        (each, index) => html`<div class="go-ahead">
          <div>
            <h3>${each.heading}</h3>
            <p>${each.songTitle} · ${each.words}</p>
            <p class="caution">By the clause: ${each.clause}.</p>
          </div>
          <b class="fee">${money(each.feeMinorUnits, each.currency)}</b>
          <div class="acts">
            <button type="button" class=${this.main && index === 0 ? 'main' : nothing} @click=${() => this.accept(each)}>
              ${each.kind === 'change' ? 'Accept…' : 'Give go-ahead…'}
            </button>
            <button type="button" @click=${() => this.decline(each)}>Decline…</button>
          </div>
        </div>`,
      )}
    </section>`;
  }
}
