import { html, nothing, type TemplateResult } from 'lit';
import type { RequestView } from '../../api/types.ts';
import { listWords } from '../../elements/count-words.ts';
import { dayWords } from '../../elements/date-words.ts';
import { levelMark, levelWord } from '../../elements/level-mark.ts';
import { moreMenu } from '../../elements/more-menu.ts';
import { wishWords } from '../../elements/request-words.ts';
import { rangeCode, timeCode } from '../../elements/time-code.ts';
import type { QueueItem } from './queue-order.ts';

/** What can be done with a request from its row. */
export type RowAct = 'done' | 'not done' | 'question' | 'park' | 'resort' | 'mistake' | 'reply';

const answerWord = { done: 'Done', 'not done': 'Not done', question: 'Question' } as const;

/** What a row shows beside its request, and what its reader may do. */
export interface Row {
  item: QueueItem;
  current: boolean;
  /** Where Listen opens at the spot. */
  address: string;
  seen: TemplateResult | typeof nothing;
  acts: readonly RowAct[];
  onAct: (act: RowAct) => void;
  onFocus: () => void;
}

const buttonWords: Partial<Record<RowAct, { words: string; key: string }>> = {
  done: { words: 'Done', key: 'd' },
  'not done': { words: 'Not done…', key: 'n' },
  question: { words: 'Ask…', key: 'a' },
  reply: { words: 'Reply…', key: '' },
};

const moreWords: Partial<Record<RowAct, string>> = {
  park: 'Park for mastering…',
  resort: 'Re-sort…',
  mistake: 'Own mistake…',
  reply: 'Reply to the note…',
};

function answerOf(request: RequestView) {
  const { answer } = request;
  if (!answer) return nothing;
  return html`<p class="answer ${answer.kind.replace(' ', '-')}">
    <b>${answerWord[answer.kind]}</b>${answer.text ? html`: ${answer.text}` : nothing}
  </p>`;
}

/** Who wishes what, at which level, and behind a press how it came to that level. */
function behind({ request, note }: QueueItem) {
  const about = [
    listWords([...new Set([request, ...request.merged].map((each) => each.author.name))]),
    wishWords(request),
    ...note.protections.map((words) => `keep: ${words}`),
    ...(request.grey ? ['grey area'] : []),
  ];
  return html`<details class="behind">
    <summary>
      ${levelMark(request.level)} <span>· ${about.join(' · ')}</span>
    </summary>
    ${request.grey ? html`<p>People read this kind of wish differently; the contract’s scope sheet settles it.</p>` : nothing}
    ${request.why ? html`<p>${request.why}</p>` : nothing}
    <ol>
      ${request.decisionNames.map((words) => html`<li>${words}</li>`)}
    </ol>
    ${note.text.trim() === request.text.trim() ? nothing : html`<p>The whole note: “${note.text}”</p>`}
    <p>${note.by.name} on ${note.versionName}, ${dayWords(note.at)}${note.heardOn ? `, heard on ${note.heardOn}` : ''}</p>
  </details>`;
}

/** One request of the queue: where, what, by whom, what was measured there, and its answer. */
export function requestRow({ item, current, address, seen, acts, onAct, onFocus }: Row): TemplateResult {
  const { request, note, range } = item;
  // What can't be answered can be replied to.
  const answerable = acts.includes('done');
  const buttons = acts.filter((act) => buttonWords[act] && (act !== 'reply' || !answerable));
  const more = acts.filter((act) => moreWords[act] && !buttons.includes(act));
  return html`<li
    class="req"
    id="request-${request.id}"
    tabindex="-1"
    aria-current=${current ? 'true' : nothing}
    @focusin=${onFocus}
  >
    <a class="at" href=${address} aria-label="Listen at ${range ? rangeCode(range) : 'the start'}"
      >${range ? timeCode(range.startSeconds) : 'all'}</a
    >
    <div class="wish">
      <p>${request.text}</p>
      ${request.merged.map((each) => html`<p class="reply"><b>${each.author.name}:</b> ${each.text}</p>`)}
      ${behind(item)}
      ${request.ownMistake ? html`<p class="aside">Own mistake, counts in no round: ${request.ownMistake.reason}</p>` : nothing}
      ${note.replies.map((reply) => html`<p class="reply"><b>${reply.by.name}:</b> ${reply.text}</p>`)}
    </div>
    <div class="seen">${answerOf(request)}${seen}</div>
    <div class="acts">
      ${buttons.map(
        (act) => html`<button
          type="button"
          ?data-main=${act === 'done'}
          aria-label="${buttonWords[act]!.words.replace('…', '')}: ${request.text}"
          @click=${() => onAct(act)}
        >
          ${buttonWords[act]!.words}${buttonWords[act]!.key ? html` <kbd>${buttonWords[act]!.key}</kbd>` : nothing}
        </button>`,
      )}
      ${
        more.length
          ? moreMenu(
              `More for: ${request.text}`,
              more.map((act) => ({ words: moreWords[act]!, act: () => onAct(act) })),
            )
          : nothing
      }
    </div>
  </li>`;
}

/** A short name of a request for a dialog's heading. */
export function requestHeading(request: RequestView): string {
  const words = request.text.length > 60 ? `${request.text.slice(0, 58)}…` : request.text;
  return `“${words}” (${levelWord[request.level].toLowerCase()})`;
}
