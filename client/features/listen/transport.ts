import { html, nothing, svg, type TemplateResult } from 'lit';
import type { Matching } from '../../player/matching.ts';
import type { Heard, TwoVersionPlayer } from '../../player/two-version-player.ts';
import type { ChangeAlone } from './change-alone.ts';
import type { ListeningPair } from './listening-pair.ts';

const playShape = svg`<path d="M2 1l15 9-15 9z" fill="currentColor"/>`;
const pauseShape = svg`<path d="M2 1h5v18H2zM11 1h5v18h-5z" fill="currentColor"/>`;
/** Less than this is not worth the words. */
const leastGainDb = 0.05;

function matchedWords(pair: ListeningPair, matching: Matching | null): TemplateResult | typeof nothing {
  if (!pair.older) return nothing;
  if (!matching) return html`<span>Not matched yet:</span> <span>still being measured</span>`;
  const down = (name: string, gainDb: number) => `${name} turned down ${(-gainDb).toFixed(1)} dB`;
  const words =
    matching.newerGainDb <= -leastGainDb
      ? down(pair.newer.name, matching.newerGainDb)
      : matching.olderGainDb <= -leastGainDb
        ? down(pair.older.name, matching.olderGainDb)
        : 'neither is turned down';
  return html`<span>Matched by BS.1770:</span> <span>${words}</span>`;
}

/** Play, where the playhead stands, which version is heard or the change alone, and by how much it was matched. */
export function transport(
  pair: ListeningPair,
  player: TwoVersionPlayer,
  alone: Pick<ChangeAlone, 'wished'>,
  matching: Matching | null,
  changedAddress: string | null,
  onPlay: () => void,
  onHear: (heard: Heard) => void,
): TemplateResult {
  const wanted = alone.wished ? 'change' : player.wanted;
  const choices = [
    { side: 'newer' as const, version: pair.newer, letter: 'A' },
    ...(pair.older ? [{ side: 'older' as const, version: pair.older, letter: 'B' }] : []),
  ];
  return html`<div class="transport">
    <button type="button" class="play" aria-label=${player.playing ? 'Pause' : 'Play'} @click=${onPlay}>
      <svg width="18" height="20" viewBox="0 0 18 20" aria-hidden="true">${player.playing ? pauseShape : playShape}</svg>
    </button>
    <span class="where"><b></b><small></small></span>
    <span class="ab" role="group" aria-label="Which version is heard">
      ${choices.map(
        ({ side, version, letter }) => html`<button
          type="button"
          aria-pressed=${wanted === side}
          @click=${() => onHear(side)}
        >
          <i>${letter}</i><span>${version.name}${wanted === side && player.heard !== side ? ' …' : ''}</span>
        </button>`,
      )}
      ${
        pair.older
          ? html`<button type="button" class="alone-choice" aria-pressed=${wanted === 'change'} @click=${() => onHear('change')}>
              <span>The change alone</span>
            </button>`
          : nothing
      }
      ${changedAddress ? html`<a href=${changedAddress}>What changed</a>` : nothing}
    </span>
    <span class="matched">${player.waiting ? 'Loading …' : matchedWords(pair, matching)}</span>
  </div>`;
}
