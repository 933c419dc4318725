import { html, type TemplateResult } from 'lit';
import type { Gate, GateView } from '../api/types.ts';

export const gateOrder: readonly Gate[] = ['production', 'mix', 'master'];

export const gateWord: Record<Gate, string> = { production: 'Production', mix: 'Mix', master: 'Master' };

/** What a version is called at a gate. */
export const versionWord: Record<Gate, string> = { production: 'Rough', mix: 'Mix', master: 'Master' };

/** The three gates of a song in order: closed, the one where it stands, to come. */
export function gateStrip(gates: Record<Gate, GateView>, current: Gate | null): TemplateResult {
  return html`<span class="gates">${gateOrder.map((gate) => {
    const state = gates[gate].status === 'closed' ? 'closed' : gate === current ? 'open now' : 'to come';
    return html`<i ?data-done=${state === 'closed'} ?data-now=${state === 'open now'}
      >${gateWord[gate]}<span class="unseen">, ${state}</span></i
    >`;
  })}</span>`;
}
