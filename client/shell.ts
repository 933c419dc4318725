import { html, nothing } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { RecordStore, type StoreState } from './api/record-store.ts';
import { type Me, readMe } from './api/session.ts';
import './elements/announcer.ts';
import { announceRefusal } from './elements/announcer.ts';
import type { FeatureElement } from './elements/feature-element.ts';
import { LightElement } from './elements/light-element.ts';
import { type PageName, type Route, recordAddress, routeOf, songAddress } from './route.ts';

/** A feature's folder: its `index.ts` defines the element and exports the tag. */
export interface Feature {
  tag: string;
}

/** The features by name, each loaded when an address first asks for it. */
export type Features = Record<string, () => Promise<Feature>>;

const pageWord: Record<PageName, string> = {
  home: 'Records',
  enter: 'Enter',
  glossary: 'Glossary',
  'new-record': 'New record',
  record: 'Record',
  'set-up': 'Set-up',
  ledger: 'Ledger',
  taught: 'What the sorting was taught',
  listen: 'Listen',
  sections: 'Sections',
  queue: 'Queue',
  scope: 'Scope',
  'sign-off': 'Sign-off',
  changed: 'What changed',
  figures: 'Figures',
  'post-version': 'Post a version',
  stems: 'Stems',
  certificate: 'Certificate',
};

/** Which of the head's words a page stands under. */
const underWord: Partial<Record<PageName, PageName>> = {
  sections: 'listen',
  changed: 'listen',
  figures: 'listen',
  'post-version': 'queue',
  stems: 'listen',
  taught: 'queue',
  certificate: 'sign-off',
};

/** Holds the head, the page that the address names, and the data that it stands on. */
@customElement('countoff-shell')
export class Shell extends LightElement {
  features: Features = {};
  @state() private route: Route | null = routeOf(location.pathname);
  @state() private me: Me | null | 'unknown' = 'unknown';
  @state() private store: StoreState;
  @state() private lost = false;
  private readonly records: RecordStore;
  private page: FeatureElement | null = null;
  /** Which element for which song the page is, so that it is made anew for another. */
  private pageKey = '';
  private lastSongId: string | null = null;

  constructor() {
    super();
    this.records = new RecordStore(
      (store) => {
        this.store = store;
      },
      (event) => window.dispatchEvent(new CustomEvent('countoff:stream', { detail: event })),
    );
    this.store = this.records.state;
  }

  override connectedCallback() {
    super.connectedCallback();
    window.addEventListener('popstate', this.arrive);
    window.addEventListener('countoff:navigated', this.arrive);
    window.addEventListener('countoff:me', this.learnMe);
    document.addEventListener('click', this.follow);
    // Whoever enters has no session yet, and the page goes on to another address when it has one.
    if (this.route?.page !== 'enter') void this.learnMe();
    void this.arrive();
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    window.removeEventListener('popstate', this.arrive);
    window.removeEventListener('countoff:navigated', this.arrive);
    window.removeEventListener('countoff:me', this.learnMe);
    document.removeEventListener('click', this.follow);
  }

  private learnMe = async () => {
    try {
      this.me = await readMe();
    } catch (error) {
      announceRefusal(error);
    }
  };

  /** Turns a plain press on one of our links into a change of page. */
  private follow = (event: MouseEvent) => {
    if (event.defaultPrevented || event.button !== 0) return;
    if (event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    const link = (event.target as Element).closest('a');
    if (!link?.href || link.target || link.hasAttribute('download')) return;
    const address = new URL(link.href);
    if (address.origin !== location.origin || address.pathname.startsWith('/api/')) return;
    if (address.hash && address.pathname === location.pathname) return;
    event.preventDefault();
    if (link.href !== location.href) history.pushState(null, '', link.href);
    void this.arrive();
  };

  private arrive = async () => {
    const before = this.route;
    const route = routeOf(location.pathname);
    this.route = route;
    if (route?.songId) this.lastSongId = route.songId;
    if (route?.recordId !== before?.recordId) this.lastSongId = route?.songId ?? null;
    this.records.goTo(route?.recordId ?? null, route?.songId ?? null);
    const load = route && this.features[`./features/${route.page}/index.ts`];
    this.lost = !load;
    if (!route || !load) {
      this.page = null;
      this.pageKey = '';
      return;
    }
    try {
      const { tag } = await load();
      if (this.route !== route) return;
      const key = [tag, route.recordId, route.songId].join('/');
      if (key !== this.pageKey) {
        const moved = this.page !== null;
        this.pageKey = key;
        this.page = document.createElement(tag) as FeatureElement;
        if (moved) {
          window.scrollTo(0, 0);
          void this.updateComplete.then(() => this.querySelector<HTMLElement>('main')?.focus());
        }
      }
      this.requestUpdate();
    } catch (error) {
      announceRefusal(error);
    }
  };

  protected override willUpdate() {
    const { page, route } = this;
    if (page && route) {
      page.recordId = route.recordId ?? '';
      page.songId = route.songId ?? '';
      page.gate = route.gate ?? '';
      const search = location.search.slice(1);
      if (page.query.toString() !== search) page.query = new URLSearchParams(search);
      page.record = this.store.record;
      page.sheet = this.store.sheet;
      page.me = this.me === 'unknown' ? null : this.me;
    }
    document.title = this.subjectTitle();
  }

  private subjectTitle(): string {
    const { record, sheet } = this.store;
    const subject = sheet?.song.title ?? record?.record.title;
    const page = this.route ? pageWord[this.route.page] : 'No such page';
    return [subject, page, 'Countoff'].filter(Boolean).join(' · ');
  }

  private get headSongId(): string | null {
    const songs = this.store.record?.songs ?? [];
    const last = songs.find((song) => song.id === this.lastSongId);
    return this.route?.songId ?? (last ?? songs.find((song) => song.turn.mine) ?? songs[0])?.id ?? null;
  }

  private head() {
    const { record } = this.store;
    const recordId = this.route?.recordId;
    const current = this.route ? (underWord[this.route.page] ?? this.route.page) : null;
    const link = (page: PageName, address: string) =>
      html`<a href=${address} aria-current=${page === current ? 'page' : nothing}>${pageWord[page]}</a>`;
    const songId = this.headSongId;
    return html`<header class="top">
      <a class="mark" href="/">Countoff</a>
      ${record && recordId ? html`<a class="whose" href=${recordAddress(recordId)}>${record.record.title} · ${record.record.act}</a>` : nothing}
      ${
        recordId
          ? html`<nav aria-label="Pages of the record">
              ${link('record', recordAddress(recordId))}
              ${
                songId
                  ? (['listen', 'queue', 'scope', 'sign-off'] as const).map((page) =>
                      link(page, songAddress(recordId, songId, page)),
                    )
                  : nothing
              }
              ${link('ledger', recordAddress(recordId, 'ledger'))}
              ${record?.reader.owner ? link('set-up', recordAddress(recordId, 'set-up')) : nothing}
            </nav>`
          : nothing
      }
    </header>`;
  }

  private body() {
    const { fault, record, sheet, songId } = this.store;
    if (this.route?.page !== 'enter' && this.me === null)
      return html`<div class="page narrow"><h1>A personal link opens this</h1>
        <p class="lede">Countoff has no accounts and no passwords. Open the link that was sent to you; it is yours alone and brings you straight to the record.</p>
        <p>If it no longer works, ask whoever runs this server for a new one.</p></div>`;
    if (fault && !(songId ? sheet : record))
      return html`<div class="page narrow"><h1>${fault.status === 404 ? 'Nothing here' : 'This can’t be shown'}</h1>
        <p class="lede">${fault.message}</p>
        <p><a href="/">Your records</a></p></div>`;
    if (this.lost)
      return html`<div class="page narrow"><h1>No such page</h1>
        <p class="lede">This address names nothing here. Nothing is lost; it was only a wrong turn.</p>
        <p><a href="/">Your records</a></p></div>`;
    return this.page;
  }

  override render() {
    const away = this.route?.recordId && this.store.connection === 'reconnecting';
    return html`<a class="skip" href="#main" @click=${this.skip}>Skip to the page</a>
      ${this.head()}
      <div class="away" role="status" ?hidden=${!away}>${away ? 'Reconnecting: what others change may be missing for a moment. What you write stays.' : ''}</div>
      <main id="main" tabindex="-1">${this.body()}</main>
      <countoff-announcer></countoff-announcer>`;
  }

  private skip(event: Event) {
    event.preventDefault();
    this.querySelector<HTMLElement>('main')?.focus();
  }
}
