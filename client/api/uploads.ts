import { read, send } from './call.ts';
import { recordPath } from './record-calls.ts';
import type { AudioFormat } from './types.ts';

/** What the server found in an uploaded file. */
export interface Inspection {
  state: 'receiving' | 'checking' | 'ready' | 'refused';
  /** 0 to 1, of what `state` says. */
  progress: number;
  fileName: string;
  byteLength: number;
  format: AudioFormat | null;
  sha256: string | null;
  durationSeconds: number | null;
  warnings: { code: string; words: string }[];
  /** Why the file can't become a version, in plain words. */
  refusal: string | null;
}

export const uploadsPath = (recordId: string) => `${recordPath(recordId)}/uploads`;

const uploadPath = (recordId: string, uploadId: string) =>
  `${uploadsPath(recordId)}/${encodeURIComponent(uploadId)}`;

export const readInspection = (recordId: string, uploadId: string) =>
  read<Inspection>(`${uploadPath(recordId, uploadId)}/inspection`);

/** Throws an upload away that never became a version. */
export const discardUpload = (recordId: string, uploadId: string) =>
  send<null>('DELETE', uploadPath(recordId, uploadId));
