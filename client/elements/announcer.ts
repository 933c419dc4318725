import { html } from 'lit';
import { customElement, state } from 'lit/decorators.js';
import { Refusal } from '../api/call.ts';
import { LightElement } from './light-element.ts';

interface Saying {
  words: string;
  tone: 'said' | 'refused';
}

const sayings = new EventTarget();
const readingMilliseconds = 6000;

/** Says one sentence at the page's foot and to screen readers; it goes by itself. */
export function announce(words: string): void {
  sayings.dispatchEvent(new CustomEvent<Saying>('saying', { detail: { words, tone: 'said' } }));
}

/** Says why something was refused; it stays until it is closed or the next sentence comes. */
export function announceRefusal(error: unknown): void {
  if (error instanceof DOMException && error.name === 'AbortError') return;
  const words =
    error instanceof Refusal
      ? error.message
      : 'Something went wrong on this page. What you wrote is still here.';
  if (!(error instanceof Refusal)) console.error(error);
  sayings.dispatchEvent(new CustomEvent<Saying>('saying', { detail: { words, tone: 'refused' } }));
}

/**
 * Does something that the server may refuse, and announces the refusal.
 *
 * @returns whether it was done.
 */
export async function attempt(deed: () => Promise<unknown>, said?: string): Promise<boolean> {
  try {
    await deed();
    if (said) announce(said);
    return true;
  } catch (error) {
    announceRefusal(error);
    return false;
  }
}

/** Where sentences appear; the shell holds one. */
@customElement('countoff-announcer')
export class Announcer extends LightElement {
  @state() private saying: Saying | null = null;
  private timer: ReturnType<typeof setTimeout> | undefined;

  private hear = (event: Event) => {
    this.saying = (event as CustomEvent<Saying>).detail;
    clearTimeout(this.timer);
    if (this.saying.tone === 'said') this.timer = setTimeout(() => this.close(), readingMilliseconds);
  };

  private close() {
    this.saying = null;
  }

  override connectedCallback() {
    super.connectedCallback();
    sayings.addEventListener('saying', this.hear);
  }

  override disconnectedCallback() {
    super.disconnectedCallback();
    sayings.removeEventListener('saying', this.hear);
  }

  override render() {
    const { saying } = this;
    return html`<div role="status" class="saying" ?hidden=${saying?.tone !== 'said'}>
        ${saying?.tone === 'said' ? saying.words : ''}
      </div>
      <div class="saying refused" ?hidden=${saying?.tone !== 'refused'}>
        <span role="alert">${saying?.tone === 'refused' ? saying.words : ''}</span>
        <button type="button" class="quiet" @click=${this.close}>Close</button>
      </div>`;
  }
}
