import { property } from 'lit/decorators.js';
import type { Me } from '../api/session.ts';
import type { RecordSheet, SongSheet } from '../api/types.ts';
import { LightElement } from './light-element.ts';

/**
 * A page. The shell creates it by the `tag` that its folder's `index.ts` exports, and keeps these properties fresh: when
 * somebody changes the record, new sheets arrive here within a second. What a person is typing belongs into the page's
 * own state, which stays.
 */
export class FeatureElement extends LightElement {
  @property({ attribute: false }) recordId = '';
  @property({ attribute: false }) songId = '';
  /** The gate in a certificate's address. */
  @property({ attribute: false }) gate = '';
  @property({ attribute: false }) query = new URLSearchParams();
  @property({ attribute: false }) record: RecordSheet | null = null;
  @property({ attribute: false }) sheet: SongSheet | null = null;
  @property({ attribute: false }) me: Me | null = null;
}
