import { parentPort } from 'node:worker_threads';
import { measureFile } from '../../server/analysis/measure-file.ts';
import { MeasurementError } from '../../server/measurement/measurement-error.ts';

/** Measures each file whose path arrives, and answers with what became of it: `measured`, a typed code, or a defect. */
parentPort!.on('message', async (path: string) => {
  const outcome = await measureFile(path, [], { waveform: true }).then(
    () => ({ kind: 'measured', detail: '' }),
    (error: unknown) =>
      error instanceof MeasurementError
        ? { kind: error.code, detail: error.message }
        : { kind: 'defect', detail: error instanceof Error ? `${error.stack}` : String(error) },
  );
  parentPort!.postMessage(outcome);
});
