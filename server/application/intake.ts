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

  /** Checks a file that has arrived whole, and says how it went in the upload's state. */
  async check(upload: Upload, path: string): Promise<Inspection> {
    const tell = (state: Upload['state'], progress: number) => {
      this.#progress.set(upload.id, progress);
      for (const watcher of this.#watchers)
        watcher({ recordId: upload.recordId, uploadId: upload.id, state, progress });
    };
    await this.#uploads.update(upload.id, 'checking', null);
    tell('checking', 0);
    try {
      const tellProgress = (progress: number) => tell('checking', progress);
      const inspection =
        upload.purpose === 'stem'
          ? await this.takeStem(path, upload.fileName, tellProgress)
          : await this.take(path, upload.fileName, upload, tellProgress);
      const state = inspection.refusal ? 'refused' : 'ready';
      await this.#uploads.update(upload.id, state, inspection);
      tell(state, 1);
      return inspection;
    } catch (error) {
      // Its sender let go of it meanwhile, and with it of its bytes.
      if (!(await this.#uploads.find(upload.id))) return refused('The file was let go of.');
      this.#log.error({ err: error, upload: upload.id }, 'an upload could not be checked');
      const inspection = refused('The file could not be checked. It is kept; try again, or upload it anew.');
      await this.#uploads.update(upload.id, 'refused', inspection);
      tell('refused', 1);
      return inspection;
    }
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
    const record = await this.#ledger.state(place.recordId);
    const song = record?.songs[place.songId];
    const sections = song ? sectionSpans(song.sectionMap) : [];
    const { size } = await stat(path);
    const result = await this.#analyst.intake(
      { path, byteLength: size, audioFolder: this.#audio.folder, sections },
      onProgress,
    );
    if (!result.ok) return refused(result.message);
    const { sha256, format, measurement, listening } = result.value;
    if (measurement.silent) return { ...refused(silentRefusal), sha256, format };
    await this.#audio.take(path, sha256);
    await this.#audio.describe({ sha256, fileName, byteLength: size, format, listening }, this.#now());
    await this.#analyst.keep({ kind: 'measurement', sha256, sections }, measurement);
    return {
      sha256,
      format,
      durationSeconds: measurement.durationSeconds,
      clipped: (measurement.clippedRuns ?? 0) > 0,
      refusal: null,
    };
  }

  /** Reads a stem and takes it into the store under its SHA-256, or says why not; nothing is measured or drawn of it. */
  async takeStem(
    path: string,
    fileName: string,
    onProgress: (progress: number) => void,
  ): Promise<Inspection> {
    const { size } = await stat(path);
    const result = await this.#analyst.intakeStem({ path, byteLength: size }, onProgress);
    if (!result.ok) return refused(result.message);
    const { sha256, format, durationSeconds, silent } = result.value;
    const refusal = silent
      ? silentStemRefusal
      : format.channelCount > 2
        ? channelRefusal(format.channelCount)
        : null;
    if (refusal) return { ...refused(refusal), sha256, format };
    await this.#audio.take(path, sha256);
    // The same bytes may be a version already, with a listening copy.
    if (!(await this.#audio.find(sha256)))
      await this.#audio.describe(
        { sha256, fileName, byteLength: size, format, listening: 'original' },
        this.#now(),
      );
    return { sha256, format, durationSeconds, clipped: false, refusal: null };
  }

  /** Throws away an upload that was not posted. */
  async discard(upload: Upload, path: string): Promise<void> {
    await this.#uploads.remove(upload.id);
    for (const each of [path, `${path}.json`]) await rm(each, { force: true });
    this.#progress.delete(upload.id);
  }
}

function refused(refusal: string): Inspection {
  return { sha256: null, format: null, durationSeconds: null, clipped: false, refusal };
}
