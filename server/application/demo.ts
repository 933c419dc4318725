import { randomUUID } from 'node:crypto';
import { mkdir, rm } from 'node:fs/promises';
import type { Logger } from 'pino';
import {
  demoContract,
  demoPeople,
  demoRecord,
  demoSong,
  demoSongs,
  type PersonKey,
} from '../../fixtures/demo/scenario.ts';
import { type DemoStep, demoTimeline } from '../../fixtures/demo/timeline.ts';
import type { Analyst } from '../analysis/analyst.ts';
import type { Command } from '../domain/command.ts';
import { defaultTerms } from '../domain/default-contract.ts';
import { newestVersion } from '../domain/record.ts';
import type { VersionFile } from '../domain/version.ts';
import type { LinkStore } from '../storage/link-store.ts';
import type { ServerFactStore } from '../storage/server-fact-store.ts';
import type { Inspection } from '../storage/upload-store.ts';
import type { Intake } from './intake.ts';
import type { RecordLedger } from './record-ledger.ts';
import { noteCommand } from './sorting.ts';
import { versionWarnings } from './version-warnings.ts';

interface Dependencies {
  ledger: RecordLedger;
  links: LinkStore;
  intake: Intake;
  analyst: Analyst;
  facts: ServerFactStore;
  owner: { id: string; name: string };
  log: Logger;
  now: () => string;
  /** Where the demo's files are rendered; the last mix of the main song stays there to be posted by hand. */
  folder: string;
}

/** A rendered file that was taken in. */
interface TakenFile {
  song: string;
  version: string;
  /** `null` for the version itself. */
  stem: string | null;
  inspection: Inspection;
  file: VersionFile;
}

const demoFact = 'demo record';

/** The demo record: its people, links and contract at once, and its songs as they are rendered. */
export class Demo {
  readonly #given: Dependencies;
  #recordId: string | null = null;

  constructor(given: Dependencies) {
    this.#given = given;
  }

  async load(): Promise<void> {
    this.#recordId = (await this.#given.facts.get(demoFact)) || null;
  }

  isDemo(recordId: string): boolean {
    return this.#recordId === recordId;
  }

  /** On a database that never held a record, and where the demo was not deleted before. */
  async isWanted(): Promise<boolean> {
    if ((await this.#given.facts.get(demoFact)) !== null) return false;
    return (await this.#given.ledger.recordIds()).length === 0;
  }

  /** Deletes the demo record; it isn't made again. */
  async forget(recordId: string): Promise<void> {
    if (!this.isDemo(recordId)) return;
    this.#recordId = null;
    await this.#given.facts.set(demoFact, '');
    await this.#given.ledger.deleteRecord(recordId);
    await rm(this.#given.folder, { recursive: true, force: true });
  }

  /** Opens the record and makes its personal links. */
  async open(): Promise<{ name: string; roles: string; secret: string }[]> {
    const { facts, links, owner, now } = this.#given;
    const recordId = randomUUID();
    await facts.set(demoFact, recordId);
    this.#recordId = recordId;
    const opened = demoTimeline.opened(now());
    const { owner: ownerKey, ...terms } = demoContract;
    const ownerPerson = demoPeople[ownerKey];
    await this.#run(ownerKey, opened, {
      type: 'openRecord',
      recordId,
      title: demoRecord.title,
      act: demoRecord.act,
      owner: { id: owner.id, name: ownerPerson.name, roles: ownerPerson.roles, owner: true },
    });
    const made: { name: string; roles: string; secret: string }[] = [];
    for (const [key, { name, roles }] of Object.entries(demoPeople) as [
      PersonKey,
      (typeof demoPeople)[PersonKey],
    ][]) {
      if (key === ownerKey) continue;
      await this.#run(ownerKey, opened, {
        type: 'addPerson',
        person: { id: this.#personId(key), name, roles, owner: false },
      });
      const { linkId, secret } = await links.issue(recordId, this.#personId(key), now());
      await this.#run(ownerKey, opened, { type: 'issueLink', personId: this.#personId(key), linkId });
      made.push({ name, roles: roles.join(', '), secret });
    }
    const ids = (keys: PersonKey[]) => keys.map((key) => this.#personId(key));
    await this.#run(ownerKey, opened, {
      type: 'draftContract',
      terms: {
        ...defaultTerms(),
        ...terms,
        spokesperson: this.#personId(terms.spokesperson),
        payer: this.#personId(terms.payer),
        signers: {
          production: ids(terms.signers.production),
          mix: ids(terms.signers.mix),
          master: ids(terms.signers.master),
        },
      },
    });
    await this.#run(ownerKey, opened, { type: 'agreeContract', how: 'signed on paper by both sides' });
    for (const song of demoSongs) {
      await this.#run(ownerKey, opened, { type: 'addSong', song: song.key, title: song.title });
      await this.#run(ownerKey, opened, {
        type: 'nameSections',
        song: song.key,
        sections: song.sections.map((section, index) => ({
          id: `section-${index + 1}`,
          name: section.name,
          startSeconds: section.start,
          endSeconds: section.end,
        })),
        tempoBpm: song.tempoBpm,
        beatsPerBar: song.beatsPerBar,
        firstBarSeconds: 0,
        basedOnRevision: 0,
      });
      await this.#run(ownerKey, opened, {
        type: 'nameParts',
        song: song.key,
        parts: song.parts.map((name) => ({ name, delivered: true })),
      });
    }
    return made;
  }

  /** Renders the songs on a worker and plays what happened to them, step by step, as if in the days before now. */
  async render(say: (words: string) => void): Promise<void> {
    const { analyst, folder, intake, now } = this.#given;
    const recordId = this.#recordId;
    if (!recordId) return;
    await mkdir(folder, { recursive: true });
    let tenth = 0;
    const files = await analyst.renderDemo(folder, (progress) => {
      if (Math.floor(progress * 4) <= tenth) return;
      tenth = Math.floor(progress * 4);
      say(`${tenth * 25} % rendered`);
    });
    const taken: TakenFile[] = [];
    const posted = new Set(
      demoTimeline.steps.flatMap((step) => ('post' in step ? [`${step.song} ${step.post}`] : [])),
    );
    await Promise.all(
      files
        .filter((file) => posted.has(`${file.song} ${file.version}`))
        .map(async ({ path, fileName, byteLength, song, version, stem }) => {
          const inspection = stem
            ? await intake.takeStem(path, fileName, () => undefined)
            : await intake.take(path, fileName, { recordId, songId: song }, () => undefined);
          const { sha256, format, durationSeconds } = inspection;
          if (!sha256 || !format || durationSeconds === null) return;
          const { sampleRateHz, channelCount, bitDepth } = format;
          const file = {
            sha256,
            fileName,
            byteLength,
            sampleRateHz,
            channelCount,
            bitDepth,
            durationSeconds,
          };
          taken.push({ song, version, stem, inspection, file });
        }),
    );
    const until = now();
    for (const step of demoTimeline.steps) await this.#play(step, demoTimeline.at(step, until), taken);
    analyst.wake();
  }

  async #play(step: DemoStep, at: string, taken: readonly TakenFile[]): Promise<void> {
    const { ledger } = this.#given;
    const recordId = this.#recordId;
    const record = recordId ? await ledger.state(recordId) : null;
    const song = record?.songs[step.song];
    if (!record || !song) return;
    const by = this.#personId(step.by);
    const run = (command: Command) => this.#run(step.by, at, command);
    if ('post' in step) {
      const posted = taken.find(
        ({ song, version, stem }) => song === step.song && version === step.post && stem === null,
      );
      if (!posted) return;
      const { file, inspection } = posted;
      await run({
        type: 'postVersion',
        song: song.id,
        gate: step.gate,
        versionId: randomUUID(),
        file,
        printNotes:
          demoSong(step.song).versions.find((version) => version.name === step.post)?.printNotes ?? '',
        warnings: versionWarnings(song, step.gate, inspection),
        changes: [],
      });
      return;
    }
    const newest = newestVersion(song, step.gate);
    if (!newest) return;
    if ('attachStems' in step) {
      // In the order of the song's parts, whichever was taken in first.
      const stems = demoSong(step.song).parts.flatMap((name) =>
        taken
          .filter((each) => each.song === step.song && each.version === newest.name && each.stem === name)
          .map(({ file }) => ({ name, role: 'part' as const, file })),
      );
      await run({ type: 'attachStems', song: song.id, versionId: newest.id, stems, reason: '' });
    } else if ('write' in step) {
      const range = step.range ? { startSeconds: step.range[0], endSeconds: step.range[1] } : null;
      await run(
        noteCommand(
          record,
          song,
          by,
          {
            noteId: randomUUID(),
            versionId: newest.id,
            range,
            text: step.write,
            heardOn: step.heardOn ?? null,
            levels: [],
          },
          randomUUID,
        ),
      );
    } else if ('sign' in step) {
      await run({
        type: 'signOff',
        song: song.id,
        gate: step.gate,
        versionId: newest.id,
        sha256: newest.file.sha256,
        statement: step.sign,
      });
    } else if ('send' in step && step.gate !== 'production') {
      await run({ type: 'sendRound', song: song.id, gate: step.gate, agreedFeeMinorUnits: null });
    } else if ('answer' in step) {
      const request = song.requests.find((each) => each.text.includes(step.words) && !each.answer);
      if (request)
        await run({
          type: 'answerRequest',
          song: song.id,
          requestId: request.id,
          answer: step.answer,
          text: step.text ?? '',
        });
    } else if ('reply' in step) {
      const note = song.notes.find((each) => each.text.includes(step.to));
      if (note) await run({ type: 'replyToNote', song: song.id, noteId: note.id, text: step.reply });
    }
  }

  #personId(key: PersonKey): string {
    return key === demoContract.owner ? this.#given.owner.id : `demo-${key}`;
  }

  async #run(by: PersonKey, at: string, command: Command): Promise<void> {
    if (!this.#recordId) return;
    const outcome = await this.#given.ledger.execute(this.#recordId, this.#personId(by), command, { at });
    if (!outcome.ok)
      this.#given.log.error({ outcome, command: command.type }, 'a step of the demo was refused');
  }
}
