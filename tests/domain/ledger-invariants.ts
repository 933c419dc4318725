import { strict as assert } from 'node:assert';
import type { Command } from '../../server/domain/command.ts';
import type { Decision } from '../../server/domain/decide.ts';
import type { Request } from '../../server/domain/note.ts';
import { isClient } from '../../server/domain/person.ts';
import {
  beyondContractMinorUnits,
  productionLock,
  type RecordState,
  roundStandings,
} from '../../server/domain/record.ts';
import { isSent } from '../../server/domain/round.ts';
import type { Version } from '../../server/domain/version.ts';
import { ledgerModel } from './ledger-model.ts';
import type { RecordUnderTest } from './record-under-test.ts';
import { storySong } from './worked-story.ts';

/** Freezes a value and all that it holds, so that a rule which changed a state in place would throw. */
export function frozen<T>(value: T): T {
  if (value && typeof value === 'object' && !Object.isFrozen(value)) {
    Object.freeze(value);
    for (const each of Object.values(value)) frozen(each);
  }
  return value;
}

/** Gives a command and holds what came of it against everything that must be true after any command. */
export function giveAndCheck(record: RecordUnderTest, by: string, command: Command): Decision {
  const before = frozen(record.record);
  const length = record.entries.length;
  const decision = record.give(by, command);
  const again = record.decide(by, command);
  if (decision.ok) {
    assert.deepEqual(again.ok ? again.facts : [], [], `${command.type} sent again`);
    checkWritten(before, decision);
  } else {
    assert.deepEqual(again, decision, `${command.type} refused again`);
    assert.equal(record.state, before);
    assert.equal(record.entries.length, length);
  }
  checkState(record);
  return decision;
}

/** What each written fact presupposes of the state that it was written on. */
function checkWritten(before: RecordState, decision: Extract<Decision, { ok: true }>): void {
  const song = before.songs[storySong];
  if (!song) return;
  for (const fact of decision.facts) {
    if (fact.type === 'versionPosted') {
      const { gate } = fact.version;
      if (gate === 'production') assert.notEqual(productionLock(song).status, 'locked');
      else {
        assert.equal(song.gates.production.status, 'closed');
        assert.equal(song.gates[gate].status, 'open');
        assert(!roundStandings(before, song, gate).some((each) => each.waitsForGoAhead));
      }
      if (gate === 'master') assert.equal(song.gates.mix.status, 'closed');
    }
    if (fact.type === 'gateClosed') {
      const version: Version | undefined = song.versions.find(({ id }) => id === fact.versionId);
      assert.equal(version?.file.sha256, fact.sha256);
      const signed = decision.facts.flatMap((each) => (each.type === 'signedOff' ? [each.sha256] : []));
      const terms = before.contract?.terms;
      for (const id of terms?.signers[fact.gate] ?? []) {
        const standing = song.gates[fact.gate].signatures.find((each) => each.personId === id)?.sha256;
        assert([...signed, standing].includes(fact.sha256), `${id} signed another file`);
      }
    }
    if (fact.type === 'lockOpened') assert.notEqual(productionLock(song).status, 'open');
  }
}

const standingsOf = (state: RecordState) =>
  (['mix', 'master'] as const).flatMap((gate) => roundStandings(state, state.songs[storySong]!, gate));

/** What is true of every state, told from the ledger's entries by the smaller model. */
function checkState(record: RecordUnderTest): void {
  const { record: state, entries } = record;
  const song = state.songs[storySong];
  if (!song) return;
  assert.equal(state.sequence, entries.length);
  assert.equal(entries.at(-1)?.sequence, entries.length);
  const clients = new Set(
    Object.values(state.people)
      .filter(isClient)
      .map(({ id }) => id),
  );
  const model = ledgerModel(entries, clients);
  for (const gate of ['mix', 'master'] as const) {
    const standings = roundStandings(state, song, gate);
    const counted = standings.filter((each) => each.counts).length;
    const sent = standings.filter(({ round }) => isSent(round)).length;
    const beyond = standings.filter((each) => each.beyond).length;
    assert.deepEqual(
      { gate, sent, counted, beyond },
      { gate, sent: model.sent[gate], counted: model.counted[gate], beyond: model.beyond[gate] },
    );
    assert(counted <= sent);
    assert(standings.every(({ round }, index) => round.number === index + 1));
    assert(standings.slice(0, -1).every(({ round }) => round.status !== 'open'));
    for (const { round, beyond } of standings)
      if (round.status === 'answered' && beyond) assert(round.goAhead, 'work beyond the contract unasked');
  }
  for (const { round } of standingsOf(state))
    if (isSent(round))
      for (const id of round.requestIds)
        assert.equal(song.requests.find((each) => each.id === id)?.mergedInto, null, 'sent twice');
  for (const { mergedInto, noteId } of song.requests) {
    if (mergedInto === null) continue;
    const lead: Request | undefined = song.requests.find(({ id }) => id === mergedInto);
    assert(lead && lead.mergedInto === null, 'made one with what stands for nothing');
    for (const id of [noteId, lead.noteId])
      assert.equal(song.notes.find((each) => each.id === id)?.withdrawn, false);
  }
  assert.equal(beyondContractMinorUnits(state, song), model.agreedMinorUnits);
  for (const gate of ['production', 'mix', 'master'] as const) {
    const closed = song.gates[gate];
    if (closed.status !== 'closed') continue;
    const posted = song.versions.filter((version) => version.gate === gate);
    assert(posted.some(({ file }) => file.sha256 === closed.sha256));
  }
  if (song.gates.master.status === 'closed') assert.equal(song.gates.mix.status, 'closed');
  for (const { requestId, number, status } of song.lockBreaks)
    if (status !== 'withdrawn') {
      const request: Request | undefined = song.requests.find(({ id }) => id === requestId);
      assert.deepEqual([request?.lockBreak, request?.level], [number, 'production']);
    }
}
