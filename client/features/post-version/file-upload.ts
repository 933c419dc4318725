import { Upload } from 'tus-js-client';
import { Refusal } from '../../api/call.ts';
import type { Gate } from '../../api/types.ts';
import { discardUpload, type Inspection, readInspection, uploadsPath } from '../../api/uploads.ts';

/** Bytes sent in one request; a broken connection costs at most this much. */
const chunkBytes = 8 * 1024 * 1024;
const retryMilliseconds = [0, 1000, 3000, 5000, 10_000, 20_000];
const pollMilliseconds = 400;

/** How far a file has come on its way. */
export type UploadState =
  | { step: 'empty' }
  | { step: 'sending'; fileName: string; byteLength: number; sentBytes: number; resumed: boolean }
  | { step: 'paused'; fileName: string; byteLength: number; sentBytes: number }
  | { step: 'broken'; fileName: string; byteLength: number; sentBytes: number; words: string }
  | { step: 'checking'; fileName: string; progress: number }
  | { step: 'ready' | 'refused'; uploadId: string; inspection: Inspection };

/** What a file is uploaded for. */
export interface UploadPlace {
  recordId: string;
  songId: string;
  gate: Gate;
  purpose: 'version' | 'stem';
}

/** One file on its way: sent in pieces by the open tus protocol, resumed where it stopped, checked by the server. */
export class FileUpload extends EventTarget {
  state: UploadState = { step: 'empty' };
  readonly #place: UploadPlace;
  readonly #key: string;
  #upload: Upload | null = null;
  #checks = 0;

  /** @param key Its own within this browser: under it the upload is found again after the page was closed. */
  constructor(place: UploadPlace, key: string) {
    super();
    this.#place = place;
    this.#key = `upload ${key}`;
    const uploadId = sessionStorage.getItem(this.#key);
    if (uploadId) void this.#check(uploadId, '');
  }

  #set(state: UploadState): void {
    this.state = state;
    this.dispatchEvent(new Event('changed'));
  }

  #url(): string {
    return new URL(uploadsPath(this.#place.recordId), location.href).href;
  }

  /** Takes a file. The same file at the same place goes on where it stopped, also after the page was closed. */
  async take(file: File): Promise<void> {
    await this.#stop();
    const { songId, gate, purpose } = this.#place;
    const { name: fileName, size: byteLength } = file;
    const upload = new Upload(file, {
      endpoint: this.#url(),
      chunkSize: chunkBytes,
      retryDelays: retryMilliseconds,
      removeFingerprintOnSuccess: true,
      metadata: { song: songId, gate, purpose, filename: fileName },
      fingerprint: async () =>
        ['countoff', this.#url(), songId, gate, purpose, fileName, byteLength, file.lastModified].join(' '),
      onProgress: (sentBytes) => {
        if (this.#upload !== upload) return;
        const resumed = this.state.step === 'sending' && this.state.resumed;
        this.#set({ step: 'sending', fileName, byteLength, sentBytes, resumed });
      },
      onError: (error) => {
        if (this.#upload !== upload) return;
        const answer = 'originalResponse' in error ? error.originalResponse : null;
        this.#set({
          step: 'broken',
          fileName,
          byteLength,
          sentBytes: this.#sentBytes(),
          words: answer
            ? plainAnswer(answer.getBody())
            : 'The connection broke. What has arrived is kept on the server; go on when it is back.',
        });
      },
      onSuccess: () => {
        if (this.#upload !== upload) return;
        const uploadId = upload.url?.split('/').at(-1) ?? '';
        sessionStorage.setItem(this.#key, uploadId);
        void this.#check(uploadId, fileName);
      },
    });
    this.#upload = upload;
    this.#set({ step: 'sending', fileName, byteLength, sentBytes: 0, resumed: false });
    const [previous] = await upload.findPreviousUploads();
    if (this.#upload !== upload) return;
    if (previous) {
      upload.resumeFromPreviousUpload(previous);
      this.#set({ step: 'sending', fileName, byteLength, sentBytes: 0, resumed: true });
    }
    upload.start();
  }

  #sentBytes(): number {
    return 'sentBytes' in this.state ? this.state.sentBytes : 0;
  }

  async pause(): Promise<void> {
    if (this.state.step !== 'sending') return;
    const { fileName, byteLength, sentBytes } = this.state;
    await this.#upload?.abort();
    this.#set({ step: 'paused', fileName, byteLength, sentBytes });
  }

  /** Goes on after a pause or a break. */
  goOn(): void {
    if (this.state.step !== 'paused' && this.state.step !== 'broken') return;
    const { fileName, byteLength, sentBytes } = this.state;
    this.#set({ step: 'sending', fileName, byteLength, sentBytes, resumed: true });
    this.#upload?.start();
  }

  async #check(uploadId: string, fileName: string): Promise<void> {
    this.#checks += 1;
    const check = this.#checks;
    this.#set({ step: 'checking', fileName, progress: 0 });
    while (check === this.#checks) {
      try {
        const inspection = await readInspection(this.#place.recordId, uploadId);
        if (check !== this.#checks) return;
        if (inspection.state === 'ready' || inspection.state === 'refused') {
          this.#set({ step: inspection.state, uploadId, inspection });
          return;
        }
        this.#set({ step: 'checking', fileName: inspection.fileName, progress: inspection.progress });
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        if (error.status === 404) {
          this.#forget();
          return;
        }
      }
      await new Promise((done) => setTimeout(done, pollMilliseconds));
    }
  }

  async #stop(): Promise<void> {
    this.#checks += 1;
    const upload = this.#upload;
    this.#upload = null;
    await upload?.abort();
  }

  #forget(): void {
    sessionStorage.removeItem(this.#key);
    this.#upload = null;
    this.#set({ step: 'empty' });
  }

  /** Lets go of the file, on the server too. */
  async discard(): Promise<void> {
    const uploadId =
      'uploadId' in this.state ? this.state.uploadId : (this.#upload?.url?.split('/').at(-1) ?? null);
    await this.#stop();
    this.#forget();
    if (uploadId)
      await discardUpload(this.#place.recordId, uploadId).catch((error) => {
        if (!(error instanceof Refusal)) throw error;
      });
  }

  /** The file became what it was for: the place is free for the next one. */
  posted(): void {
    this.#checks += 1;
    this.#forget();
  }
}

/** The server's plain words, out of a problem document or as they are. */
function plainAnswer(body: string): string {
  try {
    return JSON.parse(body).detail ?? body;
  } catch {
    return body || 'The server did not take the file. It is still on your machine; try again.';
  }
}
