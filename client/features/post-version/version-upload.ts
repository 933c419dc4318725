import { newId } from '../../api/call.ts';
import { FileUpload, type UploadPlace } from './file-upload.ts';

type Place = Omit<UploadPlace, 'purpose'>;

const drafts = new Map<string, VersionUpload>();

/** The upload of a place; it goes on while its page is left and found again. */
export function versionUploadOf(place: Place): VersionUpload {
  const key = `${place.recordId} ${place.songId} ${place.gate}`;
  const known = drafts.get(key);
  if (known) return known;
  const made = new VersionUpload({ ...place, purpose: 'version' }, key);
  drafts.set(key, made);
  return made;
}

/** The file that becomes the next version. */
export class VersionUpload extends FileUpload {
  /** Kept with the file, so that posting again after a lost answer posts one version. */
  versionId = newId();

  override async take(file: File): Promise<void> {
    this.versionId = newId();
    await super.take(file);
  }

  override async discard(): Promise<void> {
    await super.discard();
    this.versionId = newId();
  }

  override posted(): void {
    super.posted();
    this.versionId = newId();
  }
}
