import type { RoundGate } from '../../server/domain/contract.ts';
import type { LedgerEntry } from '../../server/domain/ledger-entry.ts';
import type { PersonId } from '../../server/domain/person.ts';

/** What a ledger says about rounds and money, read off its entries alone: no state, no rules, one song. */
export interface LedgerModel {
  /** Lists that stand as sent or answered, by gate. */
  sent: Record<RoundGate, number>;
  counted: Record<RoundGate, number>;
  beyond: Record<RoundGate, number>;
  /** Accepted changes, go-aheads to rounds beyond the contract, and reopenings. */
  agreedMinorUnits: number;
}

interface ModelRound {
  gate: RoundGate;
  requestIds: string[];
  included: number;
  late: boolean;
  goAheadMinorUnits: number | null;
  answered: { counts: boolean; beyond: boolean } | null;
}

const levelOf: Record<RoundGate, string> = { mix: 'mix', master: 'mastering' };

export function ledgerModel(entries: readonly LedgerEntry[], clients: ReadonlySet<PersonId>): LedgerModel {
  const levels = new Map<string, string>();
  const authors = new Map<string, PersonId>();
  const mistakes = new Set<string>();
  /** Requests made one, by the one that stands for them. */
  const merged = new Map<string, string[]>();
  const rounds = new Map<string, ModelRound>();
  const model: LedgerModel = {
    sent: { mix: 0, master: 0 },
    counted: { mix: 0, master: 0 },
    beyond: { mix: 0, master: 0 },
    agreedMinorUnits: 0,
  };
  for (const { fact, by } of entries) {
    const round = 'gate' in fact && 'number' in fact ? rounds.get(`${fact.gate} ${fact.number}`) : undefined;
    if (fact.type === 'noteWritten')
      for (const { id, level } of fact.requests) {
        levels.set(id, level);
        authors.set(id, by);
      }
    if (fact.type === 'levelChosen' || fact.type === 'requestResorted')
      levels.set(fact.requestId, fact.level);
    if (fact.type === 'requestsMerged')
      merged.set(fact.into, [...(merged.get(fact.into) ?? []), ...fact.others]);
    if (fact.type === 'requestsUnmerged') merged.delete(fact.into);
    if (fact.type === 'ownMistakeMarked') mistakes.add(fact.requestId);
    if (fact.type === 'roundSent')
      rounds.set(`${fact.gate} ${fact.number}`, {
        gate: fact.gate,
        requestIds: fact.requestIds,
        included: fact.terms.includedRounds,
        late: fact.terms.late,
        goAheadMinorUnits: null,
        answered: null,
      });
    if (fact.type === 'roundDeclined') rounds.delete(`${fact.gate} ${fact.number}`);
    if (round && fact.type === 'roundAnswered') round.answered = { counts: fact.counts, beyond: fact.beyond };
    if (round && fact.type === 'roundGoAheadGiven') round.goAheadMinorUnits = fact.feeMinorUnits;
    if (fact.type === 'changeAccepted') model.agreedMinorUnits += fact.amountMinorUnits;
    if (fact.type === 'gateReopened') model.agreedMinorUnits += fact.feeMinorUnits;
  }
  const inOrder = [...rounds].sort(([a], [b]) => a.localeCompare(b, 'en', { numeric: true }));
  for (const [, round] of inOrder) {
    model.sent[round.gate] += 1;
    const counts = round.requestIds.some(
      (id) =>
        levels.get(id) === levelOf[round.gate] &&
        !mistakes.has(id) &&
        [id, ...(merged.get(id) ?? [])].some((each) => clients.has(authors.get(each) ?? '')),
    );
    if (!counts || round.answered?.counts === false) continue;
    model.counted[round.gate] += 1;
    const beyond = round.late || model.counted[round.gate] > round.included;
    if (!beyond || round.answered?.beyond === false) continue;
    model.beyond[round.gate] += 1;
    model.agreedMinorUnits += round.goAheadMinorUnits ?? 0;
  }
  return model;
}
