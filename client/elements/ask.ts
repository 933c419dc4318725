import { html, nothing, render } from 'lit';

/** What a question to the person says, and what it asks for. */
export interface Question {
  heading: string;
  words?: string;
  /** Asks for a line of text under this label; without it the question is a plain yes or no. */
  label?: string;
  value?: string;
  /** Whether the text may stay empty. */
  optional?: boolean;
  confirm: string;
}

/**
 * Asks in a dialog and waits.
 *
 * @returns the text (empty for a plain yes), or `null` when it was closed.
 */
export function ask(question: Question): Promise<string | null> {
  const holder = document.createElement('div');
  document.body.append(holder);
  let answer: string | null = null;
  return new Promise((done) => {
    const submit = (event: SubmitEvent) => {
      event.preventDefault();
      const field = (event.target as HTMLFormElement).elements.namedItem('text');
      answer = field instanceof HTMLTextAreaElement ? field.value.trim() : '';
      if (question.label && !question.optional && !answer) answer = null;
      else dialog.close();
    };
    render(
      html`<dialog class="dialog" aria-labelledby="ask-heading">
        <form @submit=${submit}>
          <h2 id="ask-heading">${question.heading}</h2>
          ${question.words ? html`<p>${question.words}</p>` : nothing}
          ${
            question.label
              ? html`<label class="field"
                  >${question.label}<textarea name="text" rows="3" ?required=${!question.optional} autofocus>${question.value ?? ''}</textarea></label
                >`
              : nothing
          }
          <div class="acts">
            <button class="main" ?autofocus=${!question.label}>${question.confirm}</button>
            <button type="button" @click=${() => dialog.close()}>Cancel</button>
          </div>
        </form>
      </dialog>`,
      holder,
    );
    const dialog = holder.querySelector('dialog')!;
    dialog.addEventListener('close', () => {
      holder.remove();
      done(answer);
    });
    dialog.showModal();
  });
}
