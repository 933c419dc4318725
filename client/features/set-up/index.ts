import { html, nothing } from 'lit';
import { customElement, query, state } from 'lit/decorators.js';
import { newId, Refusal } from '../../api/call.ts';
import { type LinkView, recordCalls } from '../../api/record-calls.ts';
import { songCalls } from '../../api/song-calls.ts';
import { readSongSheet } from '../../api/song-sheet.ts';
import type { ContractTerms, GivenRole, Part, RecordSheet } from '../../api/types.ts';
import { announceRefusal, attempt } from '../../elements/announcer.ts';
import { ask } from '../../elements/ask.ts';
import '../../elements/copy-field.ts';
import { asSentence, countWords, listWords } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { FeatureElement } from '../../elements/feature-element.ts';
import { modal } from '../../elements/modal.ts';
import { moreMenu } from '../../elements/more-menu.ts';
import { roleChoice } from '../../elements/role-choice.ts';
import '../../styles/lists.css';
import './contract-section.ts';
import type { ContractAct, ContractSection } from './contract-section.ts';
import { suggestedTerms } from './contract-terms.ts';
import './set-up.css';

export const tag = 'countoff-set-up';

type RecordPerson = RecordSheet['people'][number];

/** Sets a record up: what it is called, its songs, its people with their links, and the contract. */
@customElement(tag)
export class SetUpPage extends FeatureElement {
  @state() private links: LinkView[] = [];
  @state() private suggested: ContractTerms | null = null;
  @state() private busy = false;
  @state() private changing: RecordPerson | null = null;
  /** The link made just now; its secret is shown this once. */
  @state() private made: { personId: string; url: string } | null = null;
  /** Parts of the songs whose list is open. */
  @state() private parts = new Map<string, Part[]>();
  @query('countoff-contract-section') private contractSection!: ContractSection;
  private readAt = '';
  private scrolled = false;

  private get calls() {
    return recordCalls(this.recordId);
  }

  protected override willUpdate() {
    const { record } = this;
    const at = record ? `${record.record.id} ${record.record.sequence}` : '';
    if (!record || at === this.readAt) return;
    this.readAt = at;
    if (record.reader.owner) void this.readLinks();
    if (record.reader.owner && !record.contract) void this.readDefaults(record);
  }

  protected override updated() {
    if (this.scrolled || !this.record || !location.hash) return;
    this.scrolled = true;
    this.querySelector(location.hash)?.scrollIntoView();
  }

  private async readLinks() {
    try {
      this.links = (await this.calls.links()).links;
    } catch (error) {
      announceRefusal(error);
    }
  }

  private async readDefaults(record: RecordSheet) {
    try {
      const { defaults } = await this.calls.contract();
      this.suggested = suggestedTerms(defaults, record.people, record.record.act);
    } catch (error) {
      announceRefusal(error);
    }
  }

  // Record and songs

  private rename = async (event: SubmitEvent) => {
    event.preventDefault();
    const fields = new FormData(event.target as HTMLFormElement);
    const title = String(fields.get('title') ?? '').trim();
    const act = String(fields.get('act') ?? '').trim();
    if (await attempt(() => this.calls.rename({ title, act }), 'Saved.'))
      window.dispatchEvent(new Event('countoff:me'));
  };

  private addSongs = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.target as HTMLFormElement;
    const title = String(new FormData(form).get('title') ?? '').trim();
    if (!title) return;
    if (await attempt(() => this.calls.addSong({ songId: newId(), title }))) {
      form.reset();
      window.dispatchEvent(new Event('countoff:me'));
    }
  };

  private async renameSong(songId: string, event: SubmitEvent) {
    event.preventDefault();
    const title = String(new FormData(event.target as HTMLFormElement).get('title') ?? '').trim();
    if (title) await attempt(() => songCalls(this.recordId, songId).rename(title), 'Renamed.');
  }

  private async openParts(songId: string, event: Event) {
    if (!(event.target as HTMLDetailsElement).open || this.parts.has(songId)) return;
    try {
      const { song } = await readSongSheet(this.recordId, songId);
      this.parts = new Map(this.parts).set(songId, song.parts);
    } catch (error) {
      announceRefusal(error);
    }
  }

  private async saveParts(songId: string, event: SubmitEvent) {
    event.preventDefault();
    const fields = new FormData(event.target as HTMLFormElement);
    const names = (name: string, delivered: boolean): Part[] =>
      [
        ...new Set(
          String(fields.get(name) ?? '')
            .split('\n')
            .map((line) => line.trim())
            .filter(Boolean),
        ),
      ].map((part) => ({ name: part, delivered }));
    const parts = [...names('delivered', true), ...names('missing', false)];
    if (await attempt(() => songCalls(this.recordId, songId).nameParts(parts), 'Saved.'))
      this.parts = new Map(this.parts).set(songId, parts);
  }

  // People

  private addPerson = async (event: SubmitEvent) => {
    event.preventDefault();
    const form = event.target as HTMLFormElement;
    const fields = new FormData(form);
    const name = String(fields.get('name') ?? '').trim();
    const roles = fields.getAll('roles') as GivenRole[];
    if (
      await attempt(
        () => this.calls.addPerson({ personId: newId(), name, roles }),
        `${name} is on the record.`,
      )
    )
      form.reset();
  };

  private changePerson = async (event: SubmitEvent) => {
    event.preventDefault();
    const { changing } = this;
    if (!changing) return;
    const fields = new FormData(event.target as HTMLFormElement);
    const name = String(fields.get('name') ?? '').trim();
    const roles = fields.getAll('roles') as GivenRole[];
    if (await attempt(() => this.calls.changePerson(changing.id, { name, roles }), 'Saved.'))
      this.changing = null;
  };

  private async removePerson(person: RecordPerson) {
    const yes = await ask({
      heading: `Take ${person.name} off the record?`,
      words: 'What the ledger says stays. Their links stop working.',
      confirm: 'Take off the record',
    });
    if (yes === null) return;
    const links = this.links.filter((link) => link.personId === person.id && !link.revokedAt);
    await attempt(async () => {
      await this.calls.removePerson(person.id);
      for (const link of links)
        await this.calls.revokeLink(link.id).catch((error) => {
          if (!(error instanceof Refusal)) throw error;
        });
    });
  }

  private async makeLink(person: RecordPerson) {
    this.busy = true;
    try {
      const { url } = await this.calls.issueLink(person.id);
      this.made = { personId: person.id, url };
    } catch (error) {
      announceRefusal(error);
    }
    this.busy = false;
    await this.readLinks();
  }

  private async revokeLinks(person: RecordPerson, links: readonly LinkView[]) {
    const yes = await ask({
      heading: `Revoke ${person.name}’s ${links.length === 1 ? 'link' : 'links'}?`,
      words:
        'It stops working at once, also where it is open now. What they wrote stays. You can make a new one.',
      confirm: 'Revoke',
    });
    if (yes === null) return;
    await attempt(async () => {
      for (const link of links) await this.calls.revokeLink(link.id);
    }, 'Revoked.');
    if (this.made?.personId === person.id) this.made = null;
    await this.readLinks();
  }

  // The contract

  private contractAct = async (event: CustomEvent<ContractAct>) => {
    const act = event.detail;
    this.busy = true;
    switch (act.act) {
      case 'draft':
        if (await attempt(() => this.calls.draftContract(act.terms), 'The draft is saved.'))
          this.contractSection.done();
        break;
      case 'agree': {
        const how = await ask({
          heading: 'Agree to the contract',
          words:
            'From here on it is changed only by an amendment that both sides accept. It is a record of what was agreed, not legal advice; your own contract and local law come first.',
          label: 'How it was agreed',
          value: this.record?.reader.payer ? 'agreed here' : 'on paper, signed by both sides',
          confirm: 'Agree',
        });
        if (how) await attempt(() => this.calls.agreeContract(how), 'The contract is agreed.');
        break;
      }
      case 'propose':
        if (
          await attempt(
            () => this.calls.proposeAmendment({ terms: act.terms, reason: act.reason }),
            'Proposed; the other side accepts or declines it.',
          )
        )
          this.contractSection.done();
        break;
      case 'accept':
        await attempt(() => this.calls.acceptAmendment(act.number), 'Accepted; it holds from now on.');
        break;
      case 'decline': {
        const reason = await ask({
          heading: `Decline amendment ${act.number}`,
          label: 'Your reason',
          confirm: 'Decline',
        });
        if (reason) await attempt(() => this.calls.declineAmendment(act.number, reason), 'Declined.');
      }
    }
    this.busy = false;
  };

  // The page

  private lede(record: RecordSheet) {
    const linked = new Set(this.links.filter((link) => !link.revokedAt).map((link) => link.personId));
    const unlinked = record.people.filter((person) => !person.owner && !linked.has(person.id));
    const left = [
      record.songs.length ? '' : 'its songs',
      record.people.length > 1 ? '' : 'its people',
      record.contract
        ? record.contract.status === 'agreed'
          ? ''
          : 'the agreement to the contract'
        : 'the contract',
      unlinked.length && record.people.length > 1
        ? `a personal link for ${listWords(unlinked.map((each) => each.name))}`
        : '',
    ].filter(Boolean);
    return left.length
      ? html`Still missing: <b>${listWords(left)}</b>. It takes a few minutes, and everything can be changed later.`
      : html`Everything is set up: ${countWords(record.songs.length, 'song')}, ${countWords(record.people.length, 'person', 'people')} and an agreed contract.`;
  }

  private person(person: RecordPerson) {
    const links = this.links.filter((link) => link.personId === person.id && !link.revokedAt);
    const newest = links.at(-1);
    const { made } = this;
    const roles = person.roles.length ? listWords(person.roles) : 'no role';
    return html`<li class="person">
      <div>
        <b>${person.name}</b>
        <small>${roles}${person.owner ? ', owner of this server' : ''}</small>
      </div>
      <div class="link-state">
        ${
          person.owner
            ? html`<small>comes in with the owner link that the server prints</small>`
            : newest
              ? html`<small>link of ${dayWords(newest.createdAt)}, ${newest.lastUsedAt ? `last used ${dayWords(newest.lastUsedAt)}` : 'not used yet'}</small>`
              : html`<small>no link yet</small>`
        }
      </div>
      <div class="acts">
        ${
          person.owner
            ? nothing
            : html`<button type="button" ?disabled=${this.busy} aria-label="${newest ? 'New link' : 'Make a personal link'} for ${person.name}" @click=${() => this.makeLink(person)}>${newest ? 'New link' : 'Make a personal link'}</button>`
        }
        ${moreMenu(`More for ${person.name}`, [
          {
            words: 'Change name and roles…',
            act: () => {
              this.changing = person;
            },
          },
          ...(links.length
            ? [
                {
                  words: `Revoke ${links.length === 1 ? 'the link' : 'the links'}…`,
                  act: () => void this.revokeLinks(person, links),
                },
              ]
            : []),
          ...(person.owner
            ? []
            : [{ words: 'Take off the record…', act: () => void this.removePerson(person) }]),
        ])}
      </div>
      ${
        made?.personId === person.id
          ? html`<div class="made">
              <countoff-copy-field label="${person.name}’s personal link" .value=${made.url}></countoff-copy-field>
              <p class="caution">Shown this once; only a hash of it is kept. Whoever has it is ${person.name} here, and the music is unreleased: send it to ${person.name} alone. It can be revoked whenever you like.</p>
            </div>`
          : nothing
      }
    </li>`;
  }

  private song(line: RecordSheet['songs'][number]) {
    const parts = this.parts.get(line.id);
    const text = (delivered: boolean) =>
      parts
        ?.filter((part) => part.delivered === delivered)
        .map((part) => part.name)
        .join('\n') ?? '';
    return html`<li class="song">
      <details @toggle=${(event: Event) => this.openParts(line.id, event)}>
        <summary><b class="song-title">${line.title}</b> <small>title and parts</small></summary>
        <form class="add" @submit=${(event: SubmitEvent) => this.renameSong(line.id, event)}>
          <label class="field">Title<input name="title" required maxlength="300" value=${line.title} /></label>
          <button>Rename</button>
        </form>
        ${
          parts
            ? html`<form @submit=${(event: SubmitEvent) => this.saveParts(line.id, event)}>
                <p class="caution">With a list of what was delivered, a wish is sorted better: “cello up” is a mix request when there is a cello, and new audio when there is none.</p>
                <div class="grid">
                  <label class="field">Delivered parts, one a line<textarea name="delivered" rows="6" .defaultValue=${text(true)}></textarea></label>
                  <label class="field">Parts that are not there, though people may think so<textarea name="missing" rows="6" .defaultValue=${text(false)}></textarea></label>
                </div>
                <div class="acts"><button>Save the parts</button></div>
              </form>`
            : html`<p role="status">One moment …</p>`
        }
      </details>
    </li>`;
  }

  private contract(record: RecordSheet) {
    return html`<section class="list" id="contract">
      <h2>Contract <small>what both sides agreed: rounds, money, who signs, and what a mix includes</small></h2>
      <div class="inside">
        <countoff-contract-section
          .record=${record}
          .suggested=${this.suggested}
          ?busy=${this.busy}
          @contract-act=${this.contractAct}
        ></countoff-contract-section>
      </div>
    </section>`;
  }

  override render() {
    const { record, changing } = this;
    if (!record) return html`<div class="page"><p class="lede" role="status">One moment …</p></div>`;
    if (!record.reader.owner)
      return html`<div class="page set-up">
        <h1>${record.record.title} · contract</h1>
        <p class="lede">${
          record.contract?.status === 'agreed'
            ? 'These are the terms that both sides agreed to.'
            : record.contract
              ? 'The contract is drafted and waits for both sides to agree.'
              : 'There is no contract yet.'
        }</p>
        ${this.contract(record)}
      </div>`;
    return html`<div class="page set-up">
      <h1>${record.record.title} · set-up</h1>
      <p class="lede">${this.lede(record)}</p>

      <section class="list">
        <h2>Record</h2>
        <form class="inside grid" @submit=${this.rename}>
          <label class="field">Title<input name="title" required maxlength="300" value=${record.record.title} /></label>
          <label class="field">Act<input name="act" required maxlength="300" value=${record.record.act} /></label>
          <div class="acts end"><button>Save</button></div>
        </form>
      </section>

      <section class="list">
        <h2>Songs <small>${record.songs.length ? asSentence(countWords(record.songs.length, 'song')) : 'each passes its gates: production, mix, master'}</small></h2>
        <ul class="rows">${record.songs.map((line) => this.song(line))}</ul>
        <form class="inside add" @submit=${this.addSongs}>
          <label class="field">Title of the next song<input name="title" required maxlength="300" autocomplete="off" /></label>
          <button>Add the song</button>
        </form>
      </section>

      <section class="list">
        <h2>People <small>no accounts: each has a personal link, which can be revoked</small></h2>
        <ul class="rows">${record.people.map((person) => this.person(person))}</ul>
        <form class="inside" @submit=${this.addPerson}>
          <h3>Add a person</h3>
          <label class="field">Name, as the others read it<input name="name" required maxlength="120" autocomplete="off" /></label>
          ${roleChoice({ legend: 'Roles; one person may wear several hats', chosen: [] })}
          <div class="acts"><button>Add the person</button></div>
        </form>
      </section>

      ${this.contract(record)}

      <dialog class="dialog" aria-labelledby="person-heading" ${modal(changing !== null)} @close=${() => {
        this.changing = null;
      }}>
        ${
          changing
            ? html`<form @submit=${this.changePerson}>
                <h2 id="person-heading">Change ${changing.name}</h2>
                <label class="field">Name<input name="name" required maxlength="120" value=${changing.name} /></label>
                ${roleChoice({ legend: 'Roles', chosen: changing.given })}
                <div class="acts"><button class="main">Save</button>
                  <button type="button" @click=${() => {
                    this.changing = null;
                  }}>Cancel</button></div>
              </form>`
            : nothing
        }
      </dialog>
    </div>`;
  }
}
