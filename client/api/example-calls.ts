import { read, send } from './call.ts';
import { recordPath } from './record-calls.ts';
import type { ExampleView } from './types.ts';

/** The calls on what was taught to the sorting: of one record, or of all of this server where none is given. */
export function exampleCalls(recordId: string | null) {
  const at = `${recordId ? recordPath(recordId) : '/api'}/examples`;
  const one = ({ record, requestId }: ExampleView) =>
    `${recordPath(record.id)}/examples/${encodeURIComponent(requestId)}`;
  return {
    all: async () => (await read<{ examples: ExampleView[] }>(at)).examples,
    remove: (example: ExampleView, key?: string) => send<null>('DELETE', one(example), {}, key),
    restore: (example: ExampleView, key?: string) =>
      send<null>('POST', `${one(example)}/restoration`, {}, key),
    /** Address of the examples as a file, one a line. */
    file: `${at}.jsonl`,
  };
}
