import { html, nothing, type TemplateResult } from 'lit';
import type { SongSheet, VersionView } from '../../api/types.ts';
import { dayWords } from '../../elements/date-words.ts';
import type { ListeningPair } from './listening-pair.ts';

function under(version: VersionView, sheet: SongSheet): string {
  const gate = sheet.gates[version.gate];
  const signed = gate.versionId === version.id && (version.gate === 'production' ? 'approved' : 'signed');
  const round = version.answersRound ? `round ${version.answersRound}` : '';
  return [signed || dayWords(version.postedAt), round].filter(Boolean).join(' · ');
}

/** All versions of a song on a strip of tape; A and B mark the two at the playhead, the pressed one is heard. */
export function versionStrip(
  sheet: SongSheet,
  pair: ListeningPair,
  heardId: string,
  onPress: (versionId: string) => void,
): TemplateResult {
  return html`<div class="versions" role="group" aria-label="Versions">
    ${sheet.versions.map((version) => {
      const letter = version.id === pair.newer.id ? 'A' : version.id === pair.older?.id ? 'B' : null;
      return html`<button
        type="button"
        aria-pressed=${version.id === heardId}
        ?data-pair=${letter !== null}
        @click=${() => onPress(version.id)}
      >
        <span>${version.name}${letter ? html` <i>${letter}</i>` : nothing}</span>
        <small>${under(version, sheet)}</small>
      </button>`;
    })}
  </div>`;
}
