import { html, nothing, type TemplateResult } from 'lit';
import type { SongSheet } from '../../api/types.ts';
import { dueWords } from '../../elements/date-words.ts';
import { money } from '../../elements/money.ts';

const heardOnChoices = [
  'phone speaker',
  'earbuds',
  'headphones',
  'laptop speakers',
  'small speaker',
  'car',
  'hi-fi',
  'studio monitors',
];

const lockWords: Record<SongSheet['lock']['status'], string> = {
  open: 'parts and arrangement may still change',
  locked: 'what was recorded and arranged stays as approved',
  'open for changes': 'for the accepted change only',
};

function roundFacts({ openRound, rounds, currency, counted }: SongSheet): TemplateResult[] {
  const facts: TemplateResult[] = [];
  if (openRound?.beyond)
    facts.push(
      html`<span
        >Round <b>${openRound.number}</b> is open, <b>beyond the ${openRound.includedRounds} included</b>:
        ${money(openRound.feeMinorUnits, currency)}</span
      >`,
    );
  else if (openRound)
    facts.push(
      html`<span
        >Round <b>${openRound.position} of ${openRound.includedRounds}</b> is open${counted ? `, ${counted.rounds} counted` : ''}</span
      >`,
    );
  const sent = rounds.find((round) => round.status === 'sent');
  if (sent?.waitsForGoAhead)
    facts.push(
      html`<span
        >Round <b>${sent.number}</b> waits for the go-ahead${sent.feeMinorUnits ? `, ${money(sent.feeMinorUnits, currency)}` : ''}</span
      >`,
    );
  else if (sent) facts.push(html`<span>Round <b>${sent.number}</b> is with the engineer</span>`);
  return facts;
}

/** The short row of facts under the first sentence, with what the listener listens on. */
export function songFacts(
  sheet: SongSheet,
  heardOn: string,
  onHeardOn: (heardOn: string) => void,
): TemplateResult {
  const { counted, gate, gates } = sheet;
  const signed = gate === 'master' ? gates.mix : gate === null ? gates.master : null;
  return html`<div class="facts">
    ${gate === 'production' ? nothing : roundFacts(sheet)}
    ${
      counted && gate !== 'production' && !sheet.openRound
        ? html`<span><b>${counted.rounds} of ${counted.included}</b> rounds counted</span>`
        : nothing
    }
    ${sheet.notesDueAt ? html`<span>Notes until <b>${dueWords(sheet.notesDueAt)}</b></span>` : nothing}
    <span>Production <b>${sheet.lock.status}</b>: ${lockWords[sheet.lock.status]}</span>
    ${signed?.versionName ? html`<span>Signed: <b>${signed.versionName}</b></span>` : nothing}
    ${
      sheet.beyondContractMinorUnits
        ? html`<span>Beyond the contract <b>${money(sheet.beyondContractMinorUnits, sheet.currency)}</b></span>`
        : nothing
    }
    <label class="heard"
      >Heard on
      <select @change=${(event: Event) => onHeardOn((event.target as HTMLSelectElement).value)}>
        <option value="" ?selected=${!heardOn}>not said</option>
        ${heardOnChoices.map((choice) => html`<option value=${choice} ?selected=${choice === heardOn}>${choice}</option>`)}
      </select></label
    >
  </div>`;
}
