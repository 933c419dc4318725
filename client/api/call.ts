/** What every changing call answers. */
export interface Outcome {
  sequence: number;
  facts: string[];
}

/** A server's plain no, or a call that did not get through; `message` is the sentence to show. */
export class Refusal extends Error {
  readonly status: number;
  readonly code: string;
  readonly feeMinorUnits: number | null;
  readonly requestIds: [string, string][];
  /** Of what is still in the making, how far it has come, 0 to 1. */
  readonly progress: number;

  constructor(
    detail: string,
    status: number,
    code: string,
    extra: { feeMinorUnits?: number; requestIds?: [string, string][]; progress?: number } = {},
  ) {
    super(detail);
    this.name = 'Refusal';
    this.status = status;
    this.code = code;
    this.feeMinorUnits = extra.feeMinorUnits ?? null;
    this.requestIds = extra.requestIds ?? [];
    this.progress = extra.progress ?? 0;
  }
}

/** An answer that is not ready yet: how far the work behind it has come, 0 to 1. */
export interface Pending {
  pending: true;
  state: string;
  progress: number;
}

/** Tells the store that something was changed from this page, so that it looks at once. */
export const sent = new EventTarget();

/**
 * A random 128-bit id in UUID form. `crypto.randomUUID` is missing where the page is not served over TLS, as on a local
 * network, so it is made from `getRandomValues`.
 */
export function newId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6]! & 0x0f) | 0x40;
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

const unreachable = () =>
  new Refusal(
    'The server can’t be reached. What you wrote is still here; try again when the connection is back.',
    0,
    'unreachable',
  );

export const wait = (milliseconds: number) => new Promise((done) => setTimeout(done, milliseconds));

async function refusalOf(response: Response): Promise<Refusal> {
  const problem = (await response.json().catch(() => null)) as {
    detail?: string;
    title?: string;
    code?: string;
    feeMinorUnits?: number;
    requestIds?: [string, string][];
    progress?: number;
  } | null;
  return new Refusal(
    problem?.detail ?? problem?.title ?? 'The server could not do this. Nothing was changed.',
    response.status,
    problem?.code ?? 'unknown',
    problem ?? {},
  );
}

/**
 * Reads JSON from the server.
 *
 * @throws Refusal on a refusal or when the server can't be reached.
 */
export async function read<T>(path: string, signal?: AbortSignal): Promise<T> {
  const answer = await readOrPending<T>(path, signal);
  if (isPending(answer)) throw new Refusal('This is not ready yet.', 202, 'not_ready');
  return answer;
}

/** As `read`, for answers that may still be in the making (202). */
export async function readOrPending<T>(path: string, signal?: AbortSignal): Promise<T | Pending> {
  const response = await fetch(path, { headers: { accept: 'application/json' }, signal }).catch((error) => {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    throw unreachable();
  });
  if (!response.ok) throw await refusalOf(response);
  const body: unknown = await response.json().catch((error) => {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    throw unreachable();
  });
  if (response.status !== 202) return body as T;
  const { state = 'running', progress = 0 } = body as Partial<Pick<Pending, 'state' | 'progress'>>;
  return { pending: true, state, progress };
}

/**
 * Reads a file of the server's own form.
 *
 * @throws Refusal
 */
export async function readBytes(path: string, signal: AbortSignal): Promise<ArrayBuffer> {
  const response = await fetch(path, { signal }).catch((error) => {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    throw unreachable();
  });
  if (!response.ok) throw await refusalOf(response);
  return response.arrayBuffer();
}

export function isPending(answer: unknown): answer is Pending {
  return typeof answer === 'object' && answer !== null && 'pending' in answer;
}

/**
 * Asks until the answer is ready.
 *
 * @param onProgress hears how far it has come, 0 to 1.
 */
export async function readWhenReady<T>(
  path: string,
  signal: AbortSignal,
  onProgress: (progress: number) => void = () => {},
): Promise<T> {
  for (;;) {
    const answer = await readOrPending<T>(path, signal);
    if (!isPending(answer)) return answer;
    onProgress(answer.progress);
    await wait(700);
    signal.throwIfAborted();
  }
}

/**
 * A changing call. One intent of a person has one key: a call whose answer got lost on the way is sent again under the
 * same key, and the server does it once.
 *
 * @throws Refusal
 */
export async function send<T = Outcome>(
  method: 'POST' | 'PUT' | 'DELETE',
  path: string,
  body: unknown = {},
  idempotencyKey: string = newId(),
): Promise<T> {
  for (let attempt = 0; ; attempt++) {
    const response = await fetch(path, {
      method,
      headers: {
        accept: 'application/json',
        'content-type': 'application/json',
        'idempotency-key': idempotencyKey,
      },
      body: JSON.stringify(body),
    }).catch(() => null);
    if (!response) {
      if (attempt === 2) throw unreachable();
      await wait(400 * 2 ** attempt);
      continue;
    }
    if (!response.ok) throw await refusalOf(response);
    sent.dispatchEvent(new Event('sent'));
    return (response.status === 204 ? null : await response.json().catch(() => null)) as T;
  }
}
