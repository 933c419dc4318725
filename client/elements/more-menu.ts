import { html, type TemplateResult } from 'lit';

/** One thing to do, in a menu of what is done less often. */
export interface MenuItem {
  words: string;
  act: () => void;
}

const openMenus = () => document.querySelectorAll<HTMLDetailsElement>('details.more[open]');

document.addEventListener('pointerdown', (event) => {
  for (const menu of openMenus()) if (!menu.contains(event.target as Node)) menu.open = false;
});
document.addEventListener('keydown', (event) => {
  if (event.key !== 'Escape') return;
  for (const menu of openMenus()) {
    menu.open = false;
    menu.querySelector('summary')?.focus();
  }
});

/** What is done less often, behind one press; it closes when something is chosen, on Escape, and on a press beside it. */
export function moreMenu(label: string, items: readonly MenuItem[]): TemplateResult {
  const choose = (event: Event, item: MenuItem) => {
    (event.currentTarget as HTMLElement).closest('details')?.removeAttribute('open');
    item.act();
  };
  return html`<details class="more">
    <summary class="button" aria-label=${label}>More</summary>
    <div>
      ${items.map((item) => html`<button type="button" @click=${(event: Event) => choose(event, item)}>${item.words}</button>`)}
    </div>
  </details>`;
}
