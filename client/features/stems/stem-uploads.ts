import { newId } from '../../api/call.ts';
import type { StemRole } from '../../api/types.ts';
import { FileUpload, type UploadPlace } from '../post-version/file-upload.ts';
import { type NamedStem, stemNames } from './stem-name.ts';

/** The server takes no more for one version. */
export const mostStems = 64;
/** Uploads at a time: more would only slow each other down. */
const mostAtOnce = 2;

/** One stem on its way. */
export interface StemDraft extends NamedStem {
  key: string;
  fileName: string;
  upload: FileUpload;
}

type Place = Omit<UploadPlace, 'purpose'>;

const drafts = new Map<string, StemUploads>();

/** The stems on their way at a place; they go on while their page is left and found again. */
export function stemUploadsOf(place: Place): StemUploads {
  const key = `${place.recordId} ${place.songId} ${place.gate}`;
  const known = drafts.get(key);
  if (known) return known;
  const made = new StemUploads(place, key);
  drafts.set(key, made);
  return made;
}

/** Stems on their way: sent a few at a time, each checked by the server, named by people. */
export class StemUploads extends EventTarget {
  stems: StemDraft[] = [];
  readonly #place: Place;
  readonly #key: string;
  readonly #files = new Map<string, File>();

  constructor(place: Place, key: string) {
    super();
    this.#place = place;
    this.#key = `stems ${key}`;
    const kept: Omit<StemDraft, 'upload'>[] = JSON.parse(sessionStorage.getItem(this.#key) ?? '[]');
    // What had not arrived when the page was closed has no file any more; chosen again, it goes on where it stopped.
    this.stems = kept
      .map((each) => ({ ...each, upload: this.#uploadOf(each.key) }))
      .filter(({ upload }) => upload.state.step !== 'empty');
  }

  #uploadOf(key: string): FileUpload {
    const upload = new FileUpload({ ...this.#place, purpose: 'stem' }, `${this.#key} ${key}`);
    upload.addEventListener('changed', this.#changed);
    return upload;
  }

  #changed = () => {
    this.#startNext();
    this.#tell();
  };

  #tell(): void {
    const kept = this.stems.map(({ key, name, role, fileName }) => ({ key, name, role, fileName }));
    if (kept.length) sessionStorage.setItem(this.#key, JSON.stringify(kept));
    else sessionStorage.removeItem(this.#key);
    this.dispatchEvent(new Event('changed'));
  }

  /**
   * Takes files, each a stem.
   *
   * @param known What their names may hold that is no part.
   * @returns How many were too many and left out.
   */
  add(files: readonly File[], known: readonly string[]): number {
    const taken = files.slice(0, Math.max(0, mostStems - this.stems.length));
    const names = stemNames(
      taken.map(({ name }) => name),
      known,
    );
    for (const [index, file] of taken.entries()) {
      const key = newId();
      this.#files.set(key, file);
      this.stems = [
        ...this.stems,
        { ...names[index]!, key, fileName: file.name, upload: this.#uploadOf(key) },
      ];
    }
    this.#startNext();
    this.#tell();
    return files.length - taken.length;
  }

  #startNext(): void {
    let sending = this.stems.filter(({ upload }) => upload.state.step === 'sending').length;
    for (const { key, upload } of this.stems) {
      const file = this.#files.get(key);
      if (!file || sending >= mostAtOnce) continue;
      this.#files.delete(key);
      sending += 1;
      void upload.take(file);
    }
  }

  change(key: string, named: Partial<NamedStem>): void {
    this.stems = this.stems.map((stem) => (stem.key === key ? { ...stem, ...named } : stem));
    this.#tell();
  }

  /** Lets go of a stem, on the server too. */
  async remove(key: string): Promise<void> {
    const stem = this.stems.find((each) => each.key === key);
    this.stems = this.stems.filter((each) => each !== stem);
    this.#files.delete(key);
    this.#tell();
    await stem?.upload.discard();
    this.#changed();
  }

  /** Whether all have arrived and were found whole. */
  get ready(): boolean {
    return this.stems.every(({ upload }) => upload.state.step === 'ready');
  }

  /** What is sent of them once they are ready. */
  get sent(): { name: string; role: StemRole; uploadId: string; sha256: null }[] {
    return this.stems.flatMap(({ name, role, upload }) =>
      upload.state.step === 'ready' ? [{ name, role, uploadId: upload.state.uploadId, sha256: null }] : [],
    );
  }

  /** The files became stems: the place is free for others. */
  attached(): void {
    const { stems } = this;
    this.stems = [];
    for (const { upload } of stems) {
      upload.removeEventListener('changed', this.#changed);
      upload.posted();
    }
    this.#tell();
  }
}
