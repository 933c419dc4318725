import type { ElementPart } from 'lit';
import { Directive, directive, type PartInfo, PartType } from 'lit/directive.js';

/**
 * Opens and closes a native `<dialog>` as a modal one, which keeps the focus inside and gives it back afterwards:
 * `<dialog ${modal(this.open)} @close=${…}>`. A press on the ground around it closes it.
 */
class Modal extends Directive {
  private listening = false;

  constructor(part: PartInfo) {
    super(part);
    if (part.type !== PartType.ELEMENT) throw new Error('modal() belongs on a <dialog>.');
  }

  override update(part: ElementPart, [open]: [boolean]) {
    const dialog = part.element as HTMLDialogElement;
    if (!this.listening) {
      this.listening = true;
      dialog.addEventListener('pointerdown', (event) => {
        if (event.target !== dialog) return;
        const box = dialog.getBoundingClientRect();
        const inside =
          event.clientX >= box.left &&
          event.clientX <= box.right &&
          event.clientY >= box.top &&
          event.clientY <= box.bottom;
        if (!inside) dialog.close();
      });
    }
    // The dialog may not stand in the page until this rendering ends.
    queueMicrotask(() => {
      if (open && !dialog.open && dialog.isConnected) dialog.showModal();
      if (!open && dialog.open) dialog.close();
    });
  }

  render(_open: boolean) {}
}

export const modal = directive(Modal);
