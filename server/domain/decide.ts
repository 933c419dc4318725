import type { Act, CommandType } from './command.ts';
import { decideChange } from './decide-change.ts';
import { decideGate } from './decide-gate.ts';
import { decideNote } from './decide-note.ts';
import { decideRound } from './decide-round.ts';
import { decideSetUp, openRecord } from './decide-set-up.ts';
import { decideStems } from './decide-stems.ts';
import { decideVersion } from './decide-version.ts';
import type { Fact } from './ledger-entry.ts';
import type { RecordState } from './record.ts';
import type { Refusal } from './refusal.ts';
import { Refused, refuse } from './refused.ts';
import type { Case, Rule, Rules } from './rule.ts';

export type Decision = { ok: true; facts: Fact[] } | { ok: false; refusal: Refusal };

const rules: Rules<Exclude<CommandType, 'openRecord'>> = {
  ...decideSetUp,
  ...decideVersion,
  ...decideStems,
  ...decideNote,
  ...decideRound,
  ...decideChange,
  ...decideGate,
};

/**
 * The facts that a command leads to in a record's state, or the one rule that stands in its way (by the precedence of
 * `refusalCodes`). Pure: the clock and the ids arrive in the act. A command that was already carried out, word for
 * word, leads to no facts.
 */
export function decide(record: RecordState | null, { at, by, command }: Act): Decision {
  try {
    if (command.type === 'openRecord') return { ok: true, facts: openRecord(record, command, by) };
    const person = record?.people[by];
    if (!record || !person)
      return refuse(
        'not_on_record',
        'This person is not on the record. Ask the engineer for a link of your own.',
      );
    const rule = rules[command.type] as Rule<typeof command.type>;
    return { ok: true, facts: rule({ record, person, at, command } as Case<typeof command.type>) };
  } catch (error) {
    if (error instanceof Refused) return { ok: false, refusal: error.refusal };
    throw error;
  }
}
