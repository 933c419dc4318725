import { html } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { newId } from '../../api/call.ts';
import { recordCalls } from '../../api/record-calls.ts';
import { openRecord } from '../../api/session.ts';
import type { GivenRole } from '../../api/types.ts';
import { attempt } from '../../elements/announcer.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { roleChoice } from '../../elements/role-choice.ts';
import { navigate } from '../../navigate.ts';
import { recordAddress } from '../../route.ts';

export const tag = 'countoff-new-record';

/** Opens a record: what it is called, who it is by, who runs it, and its songs. */
@customElement(tag)
export class NewRecord extends FeatureElement {
  @state() private busy = false;
  /** Kept for this form, so that sending it again after a lost answer opens one record, not two. */
  private readonly newRecordId = newId();
  private readonly songIds = new Map<string, string>();

  private submit = async (event: SubmitEvent) => {
    event.preventDefault();
    const fields = new FormData(event.target as HTMLFormElement);
    const text = (name: string) => String(fields.get(name) ?? '').trim();
    const titles = text('songs')
      .split('\n')
      .map((line) => line.trim())
      .filter(Boolean);
    this.busy = true;
    const done = await attempt(async () => {
      await openRecord({
        recordId: this.newRecordId,
        title: text('title'),
        act: text('act'),
        ownerName: text('ownerName'),
        ownerRoles: fields.getAll('roles') as GivenRole[],
      }).catch((error) => {
        if (error.code !== 'already_exists') throw error;
      });
      for (const title of titles) {
        const songId = this.songIds.get(title) ?? newId();
        this.songIds.set(title, songId);
        await recordCalls(this.newRecordId).addSong({ songId, title });
      }
    });
    this.busy = false;
    if (!done) return;
    window.dispatchEvent(new Event('countoff:me'));
    navigate(recordAddress(this.newRecordId, 'set-up'));
  };

  override render() {
    if (this.me && !this.me.owner)
      return html`<div class="page narrow"><h1>New record</h1>
        <p class="lede">Records are opened by the owner of this server.</p><p><a href="/">Your records</a></p></div>`;
    return html`<div class="page narrow">
      <h1>New record</h1>
      <p class="lede">
        A record is the songs of one contract: an album, an EP or a single. Four lines now; people and contract come next.
      </p>
      <form @submit=${this.submit}>
        <label class="field">Title of the record<input name="title" required maxlength="300" autocomplete="off" autofocus /></label>
        <label class="field">The act: who it is by<input name="act" required maxlength="300" autocomplete="off" /></label>
        <label class="field">Your name, as the others read it<input name="ownerName" required maxlength="120" autocomplete="name" /></label>
        ${roleChoice({ legend: 'Your hats on this record', chosen: ['mix engineer'] })}
        <label class="field">Songs, one a line; more can be added later<textarea name="songs" rows="5"></textarea></label>
        <div class="acts"><button class="main" ?disabled=${this.busy}>Open the record</button></div>
      </form>
    </div>`;
  }
}
