import type { Logger } from 'pino';
import type { Analyst } from '../analysis/analyst.ts';
import type { Intake } from '../application/intake.ts';
import type { RecordLedger } from '../application/record-ledger.ts';
import type { StudioExamples } from '../application/studio-examples.ts';
import type { AudioStore } from '../storage/audio-store.ts';
import type { LinkStore } from '../storage/link-store.ts';
import type { UploadStore } from '../storage/upload-store.ts';

/** What the HTTP layer is given; made once in `main.ts`. */
export interface Services {
  ledger: RecordLedger;
  links: LinkStore;
  uploads: UploadStore;
  audio: AudioStore;
  analyst: Analyst;
  intake: Intake;
  examples: StudioExamples;
  log: Logger;
  now: () => string;
  owner: { id: string; name: string };
  /** The address that people reach the server under, without a slash at the end. */
  publicUrl: () => string;
  /** Where arriving uploads are kept. */
  arrivingFolder: string;
  largestUploadBytes: number;
  /** The built client, or `null` where pages are served by a development server. */
  clientFolder: string | null;
  isDemo: (recordId: string) => boolean;
  forgetDemo: (recordId: string) => Promise<void>;
}
