import { read, send } from './call.ts';
import type { Contract, ContractTerms, Fact, GivenRole } from './types.ts';

export interface LinkView {
  id: string;
  personId: string;
  createdAt: string;
  lastUsedAt: string | null;
  revokedAt: string | null;
}

export interface LedgerView {
  entries: {
    sequence: number;
    at: string;
    by: { id: string; name: string };
    fact: Fact;
    words: string;
    hash: string;
    previousHash: string;
  }[];
  verified: boolean;
  head: string;
}

export interface ContractAnswer {
  contract: Contract | null;
  /** The trade's defaults, without the people. */
  defaults: Omit<ContractTerms, 'spokesperson' | 'payer' | 'signers'>;
}

export const recordPath = (recordId: string) => `/api/records/${encodeURIComponent(recordId)}`;

/** The calls on one record; each changing one may be given the key of the intent that it repeats. */
export function recordCalls(recordId: string) {
  const at = recordPath(recordId);
  const person = (personId: string) => `${at}/people/${encodeURIComponent(personId)}`;
  const amendment = (number: number) => `${at}/contract/amendments/${number}`;
  return {
    rename: (body: { title: string; act: string }, key?: string) => send('PUT', at, body, key),
    deleteDemo: () => send<null>('DELETE', at),
    addPerson: (body: { personId: string; name: string; roles: GivenRole[] }, key?: string) =>
      send('POST', `${at}/people`, body, key),
    changePerson: (personId: string, body: { name: string; roles: GivenRole[] }, key?: string) =>
      send('PUT', person(personId), body, key),
    removePerson: (personId: string, key?: string) => send('DELETE', person(personId), {}, key),
    links: () => read<{ links: LinkView[] }>(`${at}/links`),
    issueLink: (personId: string, key?: string) =>
      send<{ linkId: string; url: string }>('POST', `${person(personId)}/links`, {}, key),
    revokeLink: (linkId: string, key?: string) =>
      send('DELETE', `${at}/links/${encodeURIComponent(linkId)}`, {}, key),
    contract: () => read<ContractAnswer>(`${at}/contract`),
    draftContract: (terms: ContractTerms, key?: string) => send('PUT', `${at}/contract`, { terms }, key),
    agreeContract: (how: string, key?: string) => send('POST', `${at}/contract/agreement`, { how }, key),
    proposeAmendment: (body: { terms: ContractTerms; reason: string }, key?: string) =>
      send('POST', `${at}/contract/amendments`, body, key),
    acceptAmendment: (number: number, key?: string) =>
      send('POST', `${amendment(number)}/acceptance`, {}, key),
    declineAmendment: (number: number, reason: string, key?: string) =>
      send('POST', `${amendment(number)}/refusal`, { reason }, key),
    addSong: (body: { songId: string; title: string }, key?: string) =>
      send('POST', `${at}/songs`, body, key),
    ledger: () => read<LedgerView>(`${at}/ledger`),
    /** Address of the ledger as a file, one entry a line. */
    ledgerFile: `${at}/ledger.jsonl`,
  };
}
