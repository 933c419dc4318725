import type { CommandOf, CommandType } from './command.ts';
import type { Fact } from './ledger-entry.ts';
import type { Person } from './person.ts';
import type { RecordState } from './record.ts';

/** What a rule sees: the state, who acts, when, and the command of its type. */
export interface Case<T extends CommandType> {
  record: RecordState;
  person: Person;
  at: string;
  command: CommandOf<T>;
}
export type Rule<T extends CommandType> = (given: Case<T>) => Fact[];
export type Rules<T extends CommandType> = { [K in T]: Rule<K> };
