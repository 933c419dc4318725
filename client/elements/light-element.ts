import { LitElement } from 'lit';

/**
 * The base of all our elements. They render into the page itself, not into a shadow root, so that one set of
 * stylesheets (`styles/`) dresses every page, labels and live regions reach across elements, and find-in-page works.
 */
export class LightElement extends LitElement {
  protected override createRenderRoot(): HTMLElement {
    return this;
  }
}
