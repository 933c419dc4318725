import { MeasurementError } from './measurement-error.ts';

/**
 * Why two versions can't be compared.
 * - `silent_file`: one of them holds no sound.
 * - `channel_counts_differ`: one of them is neither mono nor stereo.
 * - `different_songs`: the two share too little sound to be laid over each other.
 * - `too_short`: less than a second of one of them.
 */
export type ComparisonErrorCode = 'silent_file' | 'channel_counts_differ' | 'different_songs' | 'too_short';

/** Two versions that can't be compared. Both stay as they are; neither's own measurement is touched. */
export class ComparisonError extends MeasurementError {
  declare readonly code: ComparisonErrorCode;

  constructor(code: ComparisonErrorCode, message: string) {
    super(code, message);
    this.name = 'ComparisonError';
  }
}
