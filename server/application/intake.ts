import { rm, stat } from 'node:fs/promises';
import type { Logger } from 'pino';
import type { Analyst } from '../analysis/analyst.ts';
import type { AudioStore } from '../storage/audio-store.ts';
import type { Inspection, Upload, UploadStore } from '../storage/upload-store.ts';
import type { RecordLedger } from './record-ledger.ts';
import { sectionSpans } from './section-spans.ts';

const silentStemRefusal =
  'The stem is silent from start to end. Leave it out, or check the export and upload it again.';
/** Mono and stereo stems sum to a stereo print; of more channels nobody can say where they go. */
const channelRefusal = (channelCount: number) =>
  `The file has ${channelCount} channels. Only mono and stereo stems are taken.`;

const silentRefusal =
  'The file is silent from start to end, so it is no version. Nothing is lost: check the export and upload it again.';

export interface IntakeProgress {
  recordId: string;
  uploadId: string;
  state: Upload['state'];
  progress: number;
}

/** Takes an uploaded file in: reads it whole on a worker, and keeps it, its figures and its waveform in the store. */
export class Intake {
  readonly #uploads: UploadStore;
  readonly #audio: AudioStore;
  readonly #analyst: Analyst;
  readonly #ledger: RecordLedger;
  readonly #log: Logger;
  readonly #now: () => string;
  readonly #progress = new Map<string, number>();
  readonly #watchers = new Set<(progress: IntakeProgress) => void>();
  readonly #checking = new Map<string, { byteLength: number; done: Promise<unknown> }>();
  #turn: Promise<unknown> = Promise.resolve();

  constructor(
    uploads: UploadStore,
    audio: AudioStore,
    analyst: Analyst,
    ledger: RecordLedger,
    log: Logger,
    now: () => string,
  ) {
    this.#uploads = uploads;
    this.#audio = audio;
    this.#analyst = analyst;
    this.#ledger = ledger;
    this.#log = log;
    this.#now = now;
  }

  watch(onProgress: (progress: IntakeProgress) => void): () => void {
    this.#watchers.add(onProgress);
    return () => this.#watchers.delete(onProgress);
  }

  progressOf(uploadId: string): number {
    return this.#progress.get(uploadId) ?? 0;
  }

  /** Takes up the uploads whose check the process before did not finish. */
  async start(pathOf: (upload: Upload) => string): Promise<void> {
    for (const upload of await this.#uploads.inState('checking')) void this.check(upload, pathOf(upload));
  }

  /**
   * Does what changes or goes by which files are kept, one piece of work after the other, so that no file goes while
   * something is about to refer to it.
   */
  inTurn<Value>(work: () => Promise<Value>): Promise<Value> {
    const done = this.#turn.then(work);
    this.#turn = done.catch(() => undefined);
    return done;
  }

  /** Checks a file that has arrived whole, and says how it went in the upload's state. */
  async check(upload: Upload, path: string): Promise<Inspection> {
    const done = this.#check(upload, path);
    this.#checking.set(upload.id, { byteLength: upload.byteLength, done });
    const { inspection, kept } = await done.finally(() => this.#checking.delete(upload.id));
    if (!kept) await this.#clear(upload, path, inspection.sha256);
    return inspection;
  }

  async #check(upload: Upload, path: string): Promise<{ inspection: Inspection; kept: boolean }> {
    const tell = (state: Upload['state'], progress: number) => {
      this.#progress.set(upload.id, progress);
      for (const watcher of this.#watchers)
        watcher({ recordId: upload.recordId, uploadId: upload.id, state, progress });
    };
    await this.#uploads.update(upload.id, 'checking', null);
    tell('checking', 0);
    const tellProgress = (progress: number) => tell('checking', progress);
    const broken = (error: unknown): Inspection => {
      this.#log.error({ err: error, upload: upload.id }, 'an upload could not be checked');
      return refused('The file could not be checked. It is kept; try again, or upload it anew.');
    };
    const read =
      upload.purpose === 'stem'
        ? this.#readStem(path, upload.fileName, tellProgress)
        : this.#readPrint(path, upload.fileName, upload, tellProgress);
    const found = await read.catch((error: unknown) => unstored(broken(error)));
    return this.inTurn(async () => {
      // Its sender may have let go of it meanwhile.
      if (!(await this.#uploads.find(upload.id))) return { inspection: found.inspection, kept: false };
      const inspection = await found.store().then(() => found.inspection, broken);
      const state = inspection.refusal ? 'refused' : 'ready';
      await this.#uploads.update(upload.id, state, inspection);
      tell(state, 1);
      return { inspection, kept: true };
    });
  }

  /**
   * Reads a file and takes it into the store under its SHA-256, or says why not; a refused file stays where it is.
   */
  async take(
    path: string,
    fileName: string,
    place: { recordId: string; songId: string },
    onProgress: (progress: number) => void,
  ): Promise<Inspection> {
    const { inspection, store } = await this.#readPrint(path, fileName, place, onProgress);
    await this.inTurn(store);
    return inspection;
  }

  /** Reads a stem and takes it into the store under its SHA-256, or says why not; nothing is measured or drawn of it. */
  async takeStem(
    path: string,
    fileName: string,
    onProgress: (progress: number) => void,
  ): Promise<Inspection> {
    const { inspection, store } = await this.#readStem(path, fileName, onProgress);
    await this.inTurn(store);
    return inspection;
  }

  async #readPrint(
    path: string,
    fileName: string,
    place: { recordId: string; songId: string },
    onProgress: (progress: number) => void,
  ): Promise<ReadFile> {
    const record = await this.#ledger.state(place.recordId);
    const song = record?.songs[place.songId];
    const sections = song ? sectionSpans(song.sectionMap) : [];
    const { size } = await stat(path);
    const result = await this.#analyst.intake(
      { path, byteLength: size, audioFolder: this.#audio.folder, sections },
      onProgress,
    );
    if (!result.ok) return unstored(refused(result.message));
    const { sha256, format, measurement, listening } = result.value;
    if (measurement.silent) return unstored({ ...refused(silentRefusal), sha256, format });
    return {
      inspection: {
        sha256,
        format,
        durationSeconds: measurement.durationSeconds,
        clipped: (measurement.clippedRuns ?? 0) > 0,
        refusal: null,
      },
      store: async () => {
        await this.#audio.take(path, sha256);
        await this.#audio.describe({ sha256, fileName, byteLength: size, format, listening }, this.#now());
        await this.#analyst.keep({ kind: 'measurement', sha256, sections }, measurement);
      },
    };
  }

  async #readStem(path: string, fileName: string, onProgress: (progress: number) => void): Promise<ReadFile> {
    const { size } = await stat(path);
    const result = await this.#analyst.intakeStem({ path, byteLength: size }, onProgress);
    if (!result.ok) return unstored(refused(result.message));
    const { sha256, format, durationSeconds, silent } = result.value;
    const refusal = silent
      ? silentStemRefusal
      : format.channelCount > 2
        ? channelRefusal(format.channelCount)
        : null;
    if (refusal) return unstored({ ...refused(refusal), sha256, format });
    return {
      inspection: { sha256, format, durationSeconds, clipped: false, refusal: null },
      store: async () => {
        await this.#audio.take(path, sha256);
        // The same bytes may be a version already, with a listening copy.
        if (!(await this.#audio.find(sha256)))
          await this.#audio.describe(
            { sha256, fileName, byteLength: size, format, listening: 'original' },
            this.#now(),
          );
      },
    };
  }

  /**
   * Throws away an upload. Its bytes go too, with what was made of them, unless a version, a stem or another upload of
   * any record is the same file. Of one that is being checked they go as soon as that ends.
   */
  async discard(upload: Upload, path: string): Promise<void> {
    const found = await this.inTurn(async () => {
      const { inspection } = (await this.#uploads.find(upload.id)) ?? upload;
      await this.#uploads.remove(upload.id);
      return inspection;
    });
    if (!this.#checking.has(upload.id)) await this.#clear(upload, path, found?.sha256 ?? null);
    this.#progress.delete(upload.id);
  }

  async #clear(upload: Upload, path: string, sha256: string | null): Promise<void> {
    for (const each of [path, `${path}.json`]) await rm(each, { force: true });
    this.#progress.delete(upload.id);
    if (sha256 !== null) while (!(await this.#dropUnreferred(sha256, upload.byteLength)));
  }

  /** Removes a stored file that nothing refers to; `false` where a file that is being checked may turn out to be it. */
  async #dropUnreferred(sha256: string, byteLength: number): Promise<boolean> {
    const sameLength = () =>
      [...this.#checking.values()].filter((checking) => checking.byteLength === byteLength);
    await Promise.allSettled(sameLength().map(({ done }) => done));
    return this.inTurn(async () => {
      if (sameLength().length) return false;
      if ((await this.#ledger.mentions(sha256)) || (await this.#uploads.hasFile(sha256))) return true;
      await this.#analyst.forgetUnfinished(sha256);
      await this.#audio.remove(sha256);
      return true;
    });
  }
}

/** What reading an uploaded file found, and what takes it into the store. */
interface ReadFile {
  inspection: Inspection;
  store: () => Promise<void>;
}

/** A refused file stays where it is. */
const unstored = (inspection: Inspection): ReadFile => ({ inspection, store: async () => {} });

function refused(refusal: string): Inspection {
  return { sha256: null, format: null, durationSeconds: null, clipped: false, refusal };
}
