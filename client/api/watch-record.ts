/** What a record's stream tells. */
export type StreamEvent =
  | { type: 'changed'; sequence: number; song: string | null }
  | {
      type: 'analysis';
      song: string;
      versionId: string;
      kind: 'measurement' | 'comparison';
      state: string;
      progress: number;
    }
  | { type: 'upload'; uploadId: string; state: string; progress: number };

export type Connection = 'connecting' | 'open' | 'reconnecting';

const eventTypes = ['changed', 'analysis', 'upload'] as const;
const retryMilliseconds = 1500;

/**
 * Follows a record's stream until the returned function is called. The browser reconnects by itself after a lost
 * connection but gives up on an error answer, so that case is opened again here.
 */
export function watchRecord(
  recordId: string,
  onEvent: (event: StreamEvent) => void,
  onConnection: (connection: Connection) => void = () => {},
): () => void {
  let source: EventSource | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let stopped = false;

  const open = () => {
    const current = new EventSource(`/api/records/${encodeURIComponent(recordId)}/stream`);
    source = current;
    current.onopen = () => onConnection('open');
    current.onerror = () => {
      if (stopped) return;
      onConnection('reconnecting');
      if (current.readyState !== EventSource.CLOSED) return;
      clearTimeout(timer);
      timer = setTimeout(open, retryMilliseconds);
    };
    for (const type of eventTypes)
      current.addEventListener(type, (message) => onEvent({ type, ...JSON.parse(message.data) }));
  };

  onConnection('connecting');
  open();
  return () => {
    stopped = true;
    clearTimeout(timer);
    source?.close();
  };
}
