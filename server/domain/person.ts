/** Roles that a person is given on a record. The spokesperson is not among them: the contract names that one. */
export const givenRoles = [
  'artist',
  'mix engineer',
  'producer',
  'mastering engineer',
  'label',
  'manager',
] as const;
export type GivenRole = (typeof givenRoles)[number];

export const roles = [...givenRoles, 'spokesperson'] as const;
export type Role = (typeof roles)[number];

export type PersonId = string;

/** Somebody on a record. One person may wear several hats. */
export interface Person {
  id: PersonId;
  name: string;
  roles: GivenRole[];
  /** Runs this server: sets up the record, its people and its contract. */
  owner: boolean;
}

const clientRoles: ReadonlySet<GivenRole> = new Set(['artist', 'label', 'manager']);

/** On the client's side of the contract: whose requests can make a round count. */
export function isClient(person: Person): boolean {
  return person.roles.some((role) => clientRoles.has(role));
}

/** On the engineer's side of the contract. */
export function isEngineerSide(person: Person): boolean {
  return person.owner || person.roles.some((role) => !clientRoles.has(role));
}
