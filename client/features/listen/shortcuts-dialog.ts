import { html, type TemplateResult } from 'lit';
import { modal } from '../../elements/modal.ts';

const shortcuts: [string, string][] = [
  ['Space', 'play or pause'],
  ['← →', 'five seconds back or on; with Shift one second'],
  ['a b', 'hear the newer or the older version at the same playhead'],
  ['c', 'hear the change between the two alone'],
  ['[ ]', 'section before, section after'],
  ['i o', 'the note starts here, ends here'],
  ['l', 'play the marked range round and round'],
  ['n', 'write a note'],
  ['Ctrl+Enter', 'pin the note'],
  ['Esc', 'leave the field; clear the range'],
  ['+ −', 'close-up nearer, farther'],
  ['?', 'this list'],
];

/** The keys of the listening page. */
export function shortcutsDialog(open: boolean, onClose: () => void): TemplateResult {
  return html`<dialog class="dialog" aria-labelledby="keys-heading" ${modal(open)} @close=${onClose}>
    <h2 id="keys-heading">Keys</h2>
    <dl class="shortcuts">
      ${shortcuts.map(
        ([keys, meaning]) => html`<div>
          <dt>${keys.split(' ').map((key) => html`<kbd>${key}</kbd> `)}</dt>
          <dd>${meaning}</dd>
        </div>`,
      )}
    </dl>
    <div class="acts"><button type="button" @click=${onClose}>Close</button></div>
  </dialog>`;
}
