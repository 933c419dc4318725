import { html, nothing, svg, type TemplateResult } from 'lit';
import type { AskedView, RequestVerdict } from '../api/types.ts';
import './asked-list.css';

/** What the measurement says, as a person reads it; never “done”, which is for the author's ear. */
export const verdictWord: Record<RequestVerdict, string> = {
  'seen in the measurement': 'Seen in the measurement',
  'no change measured': 'No change measured',
  opposite: 'Measured the other way',
  'cannot be told this way': 'Can’t be told this way',
};

const verdictShapes: Record<RequestVerdict, TemplateResult> = {
  'seen in the measurement': svg`<path d="M3 8.5l3.5 3.5L13 4.5" fill="none" stroke="currentColor" stroke-width="2"/>`,
  'no change measured': svg`<path d="M3 8h10" stroke="currentColor" stroke-width="2"/>`,
  opposite: svg`<path d="M13 5H4m3-3L4 5l3 3M3 11h9m-3-3l3 3-3 3" fill="none" stroke="currentColor" stroke-width="1.6"/>`,
  'cannot be told this way': svg`<path d="M5.5 5.5a2.5 2.5 0 1 1 2.5 3v1.5M8 12v1.8" fill="none" stroke="currentColor" stroke-width="1.8"/>`,
};

const verdictClass: Record<RequestVerdict, string> = {
  'seen in the measurement': 'seen',
  'no change measured': 'still',
  opposite: 'opposite',
  'cannot be told this way': 'untold',
};

/** A verdict as shape and word. */
export function verdictMark(verdict: RequestVerdict): TemplateResult {
  return html`<span class="verdict-mark ${verdictClass[verdict]}"
    ><svg viewBox="0 0 16 16" aria-hidden="true">${verdictShapes[verdict]}</svg>${verdictWord[verdict]}</span
  >`;
}

const answerWord = { done: 'answered “done”', 'not done': 'answered “not done”', question: 'asked back' };

/** Each request with its verdict, the figure behind it, and a way to hear the spot. */
export function askedList(
  asked: readonly AskedView[],
  listenAddress: ((view: AskedView) => string) | null,
): TemplateResult {
  return html`<ul class="rows asked">
    ${asked.map(
      (view) => html`<li>
        <div class="wish">
          <p>“${view.text}”</p>
          ${view.merged.map(({ text, author }) => html`<p class="with">“${text}” <small>${author.name}</small></p>`)}
          <small
            >${[
              view.author.name,
              view.where,
              view.round ? `round ${view.round.number}` : '',
              view.answer ? answerWord[view.answer] : '',
            ]
              .filter(Boolean)
              .join(' · ')}</small
          >
        </div>
        <div class="told">
          <p>${verdictMark(view.verdict)}</p>
          <p class="figure">${view.figure}</p>
        </div>
        ${
          listenAddress
            ? html`<a class="button spot" href=${listenAddress(view)} aria-label="Play this spot: ${view.text}">Play this spot</a>`
            : nothing
        }
      </li>`,
    )}
  </ul>`;
}
