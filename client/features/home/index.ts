import { html, nothing } from 'lit';
import { customElement } from 'lit/decorators.js';
import { leave } from '../../api/session.ts';
import { attempt } from '../../elements/announcer.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { navigate } from '../../navigate.ts';
import './home.css';
import { recordAddress, songAddress } from '../../route.ts';

export const tag = 'countoff-home';

/** The records that this person is on, each with its songs one press away. */
@customElement(tag)
export class Home extends FeatureElement {
  private async leave() {
    if (await attempt(() => leave())) {
      window.dispatchEvent(new Event('countoff:me'));
      navigate('/', { replace: true });
    }
  }

  override render() {
    const { me } = this;
    if (!me) return nothing;
    const { records } = me;
    return html`<div class="page">
      <h1>${records.length === 1 ? 'Your record' : 'Your records'}</h1>
      <p class="lede">
        ${
          records.length
            ? 'Open a song to hear its newest version, or a record to see all of its songs at a glance.'
            : me.owner
              ? 'There is no record yet. Set one up: its songs, its people and its contract.'
              : 'You are on no record at the moment. Ask whoever sent you the link.'
        }
      </p>
      ${records.map(
        (record) => html`<section class="list">
          <h2>
            <a href=${recordAddress(record.id)}>${record.title}</a>
            <small>${record.act}${record.demo ? ' · demo record' : ''} · you: ${record.personName}${record.roles.length ? `, ${record.roles.join(', ')}` : ''}</small>
          </h2>
          ${
            record.songs.length
              ? html`<ul class="songs">
                  ${record.songs.map(
                    (song) => html`<li><a href=${songAddress(record.id, song.id)}>${song.title}</a></li>`,
                  )}
                </ul>`
              : html`<p class="songless">No songs yet.</p>`
          }
        </section>`,
      )}
      <p class="caution">
        Your link is personal: whoever has it is you here. The music is unreleased, so please pass neither on.
      </p>
      <div class="acts">
        ${
          me.owner
            ? html`<a class="button main" href="/new">Set up a record</a>
              <a href="/taught">What this studio has taught the sorting</a>`
            : nothing
        }
        <button type="button" class="quiet" @click=${this.leave}>Leave on this device</button>
      </div>
    </div>`;
  }
}
