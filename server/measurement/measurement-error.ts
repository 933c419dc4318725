/**
 * A file or signal that can't be measured: expected, typed, and said in plain words. The version that the file belongs
 * to stays where it is, with this reason, and can be measured again.
 */
export class MeasurementError extends Error {
  readonly code: string;

  constructor(code: string, message: string) {
    super(message);
    this.name = 'MeasurementError';
    this.code = code;
  }
}
