import { html, nothing, type TemplateResult } from 'lit';
import type { TwoVersionPlayer } from '../../player/two-version-player.ts';
import { type ChangeAlone, changeAloneWords } from './change-alone.ts';
import type { ListeningPair } from './listening-pair.ts';

/** What is wrong, or else what is heard where that is not one of the versions. */
export function footWords(
  { newer, older }: ListeningPair,
  player: Pick<TwoVersionPlayer, 'fault' | 'wanted'>,
  { fault, figures, progress, wished }: Pick<ChangeAlone, 'fault' | 'figures' | 'progress' | 'wished'>,
  onRenderAgain: () => void,
): TemplateResult | typeof nothing {
  if (player.fault) return html`<p class="fault" role="alert">${player.fault}</p>`;
  if (fault)
    return html`<p class="fault">
      <span role="alert">${fault}</span>
      <button type="button" @click=${onRenderAgain}>Render it again</button>
    </p>`;
  if (!older || !(wished || player.wanted === 'change')) return nothing;
  return html`<p class="alone" role="status">
    ${
      figures
        ? changeAloneWords(figures, newer.name, older.name)
        : `Taking ${older.name} away from ${newer.name}, once for everybody … ${Math.round((progress ?? 0) * 100)} %`
    }
  </p>`;
}
