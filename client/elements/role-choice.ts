import { html, type TemplateResult } from 'lit';
import type { GivenRole } from '../api/types.ts';
import './role-choice.css';

/** Roles that a person is given, each with what it does here. The spokesperson is named in the contract. */
export const roleMeaning: Record<GivenRole, string> = {
  artist: 'listens, writes notes',
  'mix engineer': 'posts mixes, works the queue',
  producer: 'answers for the production',
  'mastering engineer': 'posts masters',
  label: 'signs, pays, follows',
  manager: 'signs, pays, follows',
};

/** A set of check boxes named `roles`, for a form. */
export function roleChoice({
  legend,
  chosen,
}: {
  legend: string;
  chosen: readonly GivenRole[];
}): TemplateResult {
  return html`<fieldset class="roles">
    <legend>${legend}</legend>
    ${(Object.keys(roleMeaning) as GivenRole[]).map(
      (role) => html`<label
        ><input type="checkbox" name="roles" value=${role} ?checked=${chosen.includes(role)} /><span
          >${role} <small>${roleMeaning[role]}</small></span
        ></label
      >`,
    )}
  </fieldset>`;
}
