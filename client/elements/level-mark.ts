import { html, nothing, svg, type TemplateResult } from 'lit';
import type { Level } from '../api/types.ts';

/** A level as people read it. */
export const levelWord: Record<Level, string> = {
  mix: 'Mix',
  production: 'Production',
  mastering: 'Mastering',
  none: 'No request',
};

/** What a level means, in one short sentence. */
export const levelMeaning: Record<Level, string> = {
  mix: 'Belongs to this round of the mix.',
  production: 'New or changed audio: goes to the producer and counts in no round.',
  mastering: 'About the whole finished song: kept for the master gate.',
  none: 'Talk: answered, counted nowhere.',
};

const shapes: Record<Level, TemplateResult> = {
  mix: svg`<circle cx="8" cy="8" r="6" fill="none" stroke="currentColor" stroke-width="2"/><path d="M3 8h10" stroke="currentColor" stroke-width="2"/>`,
  production: svg`<path d="M3 1v14M3 2h10l-3 3.5L13 9H3z" fill="currentColor" stroke="currentColor" stroke-width="1.5" stroke-linejoin="round"/>`,
  mastering: svg`<path d="M2 2h12v12H2z" fill="none" stroke="currentColor" stroke-width="2"/><path d="M5 8h6" stroke="currentColor" stroke-width="2"/>`,
  none: svg`<path d="M2 3h12v8H8l-4 3v-3H2z" fill="none" stroke="currentColor" stroke-width="1.6" stroke-linejoin="round"/>`,
};

/** The shape of a level: a ring with a fader's cap, a pennant, a framed square, a speech mark. */
export function levelShape(level: Level): TemplateResult {
  return html`<svg class="shape ${level}" viewBox="0 0 16 16" aria-hidden="true">${shapes[level]}</svg>`;
}

/** A level as shape and word, or as the shape alone with the word for screen readers. */
export function levelMark(level: Level, { word = true }: { word?: boolean } = {}): TemplateResult {
  return html`<span class="level ${level}"
    >${levelShape(level)}<span class=${word ? nothing : 'unseen'}>${levelWord[level]}</span></span
  >`;
}
