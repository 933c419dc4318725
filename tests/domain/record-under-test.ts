import type { Act, Command } from '../../server/domain/command.ts';
import type { Gate } from '../../server/domain/contract.ts';
import { type Decision, decide } from '../../server/domain/decide.ts';
import { evolve, type UnchainedEntry } from '../../server/domain/evolve.ts';
import { chain, chainStart } from '../../server/domain/ledger-chain.ts';
import type { Fact, LedgerEntry, WrittenRequest } from '../../server/domain/ledger-entry.ts';
import type { PersonId } from '../../server/domain/person.ts';
import type { RecordState, Song } from '../../server/domain/record.ts';
import type { Level, RequestKind } from '../../server/domain/request-kind.ts';
import type { VersionFile } from '../../server/domain/version.ts';

/** The moment that lies so many hours after the record under test was opened. */
export function hour(hours: number): string {
  return new Date(Date.UTC(2026, 0, 5, 9) + hours * 3_600_000).toISOString();
}

/** A SHA-256 of a file's name: 64 hex digits that differ wherever the names do. */
export function sha256Of(name: string): string {
  return [...name, ...'countoff countoff countoff countoff']
    .map((character) => (character.codePointAt(0) ?? 0).toString(16).padStart(2, '0'))
    .join('')
    .slice(0, 64);
}

export function fileOf(name: string): VersionFile {
  return {
    sha256: sha256Of(name),
    fileName: `${name}.wav`,
    byteLength: 60_480_044,
    sampleRateHz: 48_000,
    channelCount: 2,
    bitDepth: 24,
    durationSeconds: 210,
  };
}

const kindOfLevel: Record<Level, RequestKind> = {
  mix: 'balance',
  production: 'new-part',
  mastering: 'overall-loudness',
  none: 'praise',
};

/** One wish of a note, already sorted. */
export function wish(
  id: string,
  level: Level,
  text = id,
  more: Partial<WrittenRequest> = {},
): WrittenRequest {
  return {
    id,
    text,
    kind: kindOfLevel[level],
    target: null,
    direction: null,
    place: null,
    range: null,
    grey: false,
    why: 'sorted beforehand',
    proposedLevel: level,
    level,
    ...more,
  };
}

type NoteCommand = Extract<Command, { type: 'writeNote' }>;

/** A note under the id of its first request, with `-note` behind it. */
export function note(
  song: string,
  versionId: string,
  requests: WrittenRequest[],
  more: Partial<NoteCommand> = {},
): NoteCommand {
  return {
    type: 'writeNote',
    song,
    noteId: `${requests[0]?.id ?? 'talk'}-note`,
    versionId,
    range: null,
    text: requests.map((request) => request.text).join(', and ') || 'nice',
    heardOn: null,
    protections: [],
    requests,
    contradictions: [],
    ...more,
  };
}

export function post(
  song: string,
  gate: Gate,
  versionId: string,
  changes: number[] = [],
): Extract<Command, { type: 'postVersion' }> {
  return {
    type: 'postVersion',
    song,
    gate,
    versionId,
    file: fileOf(versionId),
    printNotes: '',
    warnings: [],
    changes,
  };
}

export function sign(song: string, gate: Gate, versionId: string): Extract<Command, { type: 'signOff' }> {
  return {
    type: 'signOff',
    song,
    gate,
    versionId,
    sha256: sha256Of(versionId),
    statement: 'This is the file that I approve.',
  };
}

/** A record that commands are given to one after another, as the server would, with its chained ledger. */
export class RecordUnderTest {
  state: RecordState | null = null;
  readonly entries: LedgerEntry[] = [];
  #hours = 0;

  get record(): RecordState {
    if (!this.state) throw new Error('The record under test is not opened yet.');
    return this.state;
  }

  song(id: string): Song {
    const song = this.record.songs[id];
    if (!song) throw new Error(`The record under test has no song ${id}.`);
    return song;
  }

  get at(): string {
    return hour(this.#hours);
  }

  /** Lets so many hours pass. */
  wait(hours: number): this {
    this.#hours += hours;
    return this;
  }

  /** What the rules say to a command, with nothing written. */
  decide(by: PersonId, command: Command): Decision {
    return decide(this.state, { at: this.at, by, command });
  }

  /** Gives a command and writes down what follows from it. */
  give(by: PersonId, command: Command): Decision {
    const act: Act = { at: this.at, by, command };
    const decision = decide(this.state, act);
    if (decision.ok) for (const fact of decision.facts) this.#append(by, fact);
    return decision;
  }

  /** Gives a command that must be carried out; answers with the types of its facts. */
  done(by: PersonId, command: Command): Fact['type'][] {
    const decision = this.give(by, command);
    if (!decision.ok)
      throw new Error(`${command.type} was refused: ${decision.refusal.code}: ${decision.refusal.message}`);
    return decision.facts.map((fact) => fact.type);
  }

  /** A second record at the same place, which goes on by itself. */
  fork(): RecordUnderTest {
    const fork = new RecordUnderTest();
    fork.state = this.state;
    fork.entries.push(...this.entries);
    fork.#hours = this.#hours;
    return fork;
  }

  #append(by: PersonId, fact: Fact): void {
    const entry: UnchainedEntry = { sequence: this.entries.length + 1, at: this.at, by, fact };
    this.state = evolve(this.state, entry);
    this.entries.push(chain(this.entries.at(-1)?.hash ?? chainStart, entry));
  }
}
