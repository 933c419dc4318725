import { html, nothing, type TemplateResult } from 'lit';
import type { SongSheet, VersionView } from '../../api/types.ts';
import type { PairComparison } from './pair-comparison.ts';

/** Whose turn it is, and what changed since the older of the two versions, in plain words. */
export function songLede(
  { turn }: Pick<SongSheet, 'turn'>,
  older: Pick<VersionView, 'name'> | null,
  { comparison, progress, fault }: Pick<PairComparison, 'comparison' | 'progress' | 'fault'>,
  onShowRound: (event: Event) => void,
): TemplateResult {
  const since = !older
    ? nothing
    : comparison
      ? html` Since ${older.name}: <span>${lowerFirst(comparison.summary.plain)}</span>`
      : progress !== null
        ? html` <span class="pending">Comparing with ${older.name} … ${progress ? `${Math.round(progress * 100)} %` : ''}</span>`
        : fault
          ? html` <span class="pending">${fault}</span>`
          : nothing;
  return html`<p class="lede">
    ${turn.mine ? html`<b>${turn.sentence}</b>` : turn.sentence}${since}
    ${
      turn.mine && turn.step === 'send round'
        ? html`<a href="#round" @click=${onShowRound}>Look over the list</a>`
        : nothing
    }
  </p>`;
}

function lowerFirst(sentence: string): string {
  // A section's name or a version's keeps its capital.
  return /^(A|An|The|Nothing|No|Everything|Only|Most|All|Both|There) /.test(sentence)
    ? sentence.charAt(0).toLowerCase() + sentence.slice(1)
    : sentence;
}
