import { html, nothing, type TemplateResult } from 'lit';
import type { SongSheet, VersionView } from '../../api/types.ts';
import type { ListeningPair } from './listening-pair.ts';
import { versionStrip } from './version-strip.ts';

/** Where the links of the head lead. */
interface HeadAddresses {
  sections: string;
  figures: string;
  stems: string;
}

/** What the buttons of the head do. */
interface HeadDeeds {
  pressVersion: (versionId: string) => void;
  toggleCloseUp: () => void;
  zoom: (by: 1 | -1) => void;
  showKeys: () => void;
}

/** The strip of versions with what can be opened from it, above the lines. */
export function stripRow(
  sheet: SongSheet,
  pair: ListeningPair,
  heardId: string,
  closeUpOpen: boolean,
  addresses: HeadAddresses,
  deeds: HeadDeeds,
): TemplateResult {
  const { newer } = pair;
  const may = (command: 'nameSections' | 'attachStems') => sheet.reader.may.includes(command);
  return html`<div class="strip-row">
    ${versionStrip(sheet, pair, heardId, deeds.pressVersion)}
    <div class="acts">
      <button type="button" aria-expanded=${closeUpOpen} @click=${deeds.toggleCloseUp}>Close-up</button>
      ${
        closeUpOpen
          ? html`<button type="button" aria-label="Nearer" @click=${() => deeds.zoom(-1)}>+</button>
              <button type="button" aria-label="Farther" @click=${() => deeds.zoom(1)}>−</button>`
          : nothing
      }
      ${may('nameSections') ? html`<a class="button" href=${addresses.sections}>Sections…</a>` : nothing}
      <a href=${addresses.figures}>All figures</a>
      ${
        may('attachStems')
          ? html`<a href=${addresses.stems}>${newer.stems ? 'Stems' : 'Attach stems'} of ${newer.name}</a>`
          : nothing
      }
      <button type="button" class="keys" @click=${deeds.showKeys}>Keys <kbd>?</kbd></button>
    </div>
  </div>`;
}

/** How far a version has been measured, where that isn't done. */
export function versionStanding({ name, analysis }: VersionView): TemplateResult | typeof nothing {
  if (analysis.state === 'ready') return nothing;
  const progress = analysis.progress ? `: ${Math.round(analysis.progress * 100)} %` : '';
  return html`<p class="measuring" role="status">
    ${
      analysis.state === 'failed'
        ? `${name} could not be measured. ${analysis.message ?? ''} It can be heard and written about all the same.`
        : `${name} is being measured and drawn${progress}. It can be heard already.`
    }
  </p>`;
}

/** What is said of a song that nobody has named sections of. */
export function sectionless(
  { song, reader }: Pick<SongSheet, 'song' | 'reader'>,
  sectionsAddress: string,
): TemplateResult | typeof nothing {
  if (song.sectionMap.sections.length) return nothing;
  return html`<p class="measuring">
    The song has no sections yet, so it is drawn on four equal lines.
    ${
      reader.may.includes('nameSections')
        ? html`<a href=${sectionsAddress}>Name them</a>: intro, verse 1, chorus 1 …`
        : 'The engineer names them: intro, verse 1, chorus 1 …'
    }
  </p>`;
}
