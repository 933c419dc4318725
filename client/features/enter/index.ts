import { html } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../../api/call.ts';
import { enter, readMe } from '../../api/session.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { recordAddress, songAddress } from '../../route.ts';

export const tag = 'countoff-enter';

/** Trades the secret behind the # of a personal link for a session; the secret leaves the address bar first. */
@customElement(tag)
export class Enter extends FeatureElement {
  @state() private fault: string | null = null;
  private secret = '';

  override connectedCallback() {
    super.connectedCallback();
    this.secret = decodeURIComponent(location.hash.slice(1));
    history.replaceState(null, '', '/enter');
    void this.go();
  }

  private async go() {
    this.fault = null;
    if (!this.secret) {
      this.fault =
        'The link is not whole: the part behind the # is missing. Open it once more from the message that it came in.';
      return;
    }
    try {
      await enter(this.secret);
      location.replace(await startingAddress());
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.fault = error.message;
    }
  }

  override render() {
    return this.fault
      ? html`<div class="page narrow">
          <h1>This link opens nothing</h1>
          <p class="lede">${this.fault}</p>
          <p>A link can be withdrawn and sent anew; whoever runs this server does that. Nothing that you wrote is lost.</p>
          <div class="acts"><button type="button" @click=${this.go}>Try again</button><a class="button" href="/">Your records</a></div>
        </div>`
      : html`<div class="page narrow"><p class="lede" role="status">One moment …</p></div>`;
  }
}

/** Straight to the music where there is only one place to go. */
async function startingAddress(): Promise<string> {
  const me = await readMe();
  const [record, ...others] = me?.records ?? [];
  if (!record || others.length || me?.owner) return '/';
  const [song, ...songs] = record.songs;
  return song && !songs.length ? songAddress(record.id, song.id) : recordAddress(record.id);
}
