import { html, type TemplateResult } from 'lit';
import './file-hash.css';

/** A SHA-256 in groups of four, so that two people can read it to each other. */
export function hashGroups(sha256: string): string {
  return sha256.match(/.{1,4}/g)?.join(' ') ?? '';
}

/** The whole SHA-256 of a file, grouped. */
export function fileHash(sha256: string): TemplateResult {
  return html`<span class="hash file-hash"><span class="unseen">SHA-256 </span>${hashGroups(sha256)}</span>`;
}

/** The first eight and the last four characters, for places where the whole one is a press away. */
export function shortHash(sha256: string): string {
  return `${sha256.slice(0, 4)} ${sha256.slice(4, 8)} … ${sha256.slice(-4)}`;
}
