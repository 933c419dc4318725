import { readFile } from 'node:fs/promises';
import type { Session } from './measure-speed-session.ts';
import { until } from './measure-speed-wait.ts';

const record = '/records/bench';
const song = `${record}/songs/long`;

/**
 * Work for the server's analysis workers: one stored file a version, each measured again as soon as it is done. All of
 * it goes through the product's own routes, and what goes on is learnt from the stream that open pages listen to.
 */
export class MeasurementLoad {
  readonly #owner: Session;
  readonly #versions: readonly string[];
  readonly #running = new Set<string>();
  readonly #listening = new AbortController();
  #wanted = false;
  #fault: unknown = null;
  #finished = 0;

  private constructor(owner: Session, versions: readonly string[]) {
    this.#owner = owner;
    this.#versions = versions;
  }

  /** Opens a record of its own, posts every file as a version there, and waits until all of that is measured. */
  static async prepare(owner: Session, paths: readonly string[]): Promise<MeasurementLoad> {
    await owner.ask('POST', '/records', {
      json: { recordId: 'bench', title: 'Bench', act: '', ownerName: 'Owner', ownerRoles: ['producer'] },
    });
    await owner.ask('POST', `${record}/songs`, { json: { songId: 'long', title: 'Long' } });
    const versions = paths.map((_, index) => `long-${index}`);
    for (const [index, path] of paths.entries()) await postRough(owner, versions[index]!, path);
    for (const newer of versions.slice(1))
      await until('the versions are compared', async () => {
        const comparison = await owner.ask('GET', `${song}/comparisons/${versions[0]}/${newer}`);
        await comparison.text();
        return comparison.status === 200;
      });
    const load = new MeasurementLoad(owner, versions);
    await load.#listen();
    return load;
  }

  /** How many measurements were finished so far. */
  get finished(): number {
    return this.#finished;
  }

  /** Comes back once all files are being measured at the same time. */
  async start(): Promise<void> {
    this.#wanted = true;
    await Promise.all(this.#versions.map((version) => this.#measure(version)));
    await this.#until('all files are being measured', () => this.#running.size === this.#versions.length);
  }

  /** Comes back once nothing is measured any more. */
  async stop(): Promise<void> {
    this.#wanted = false;
    await this.#until('the last measurements end', () => this.#running.size === 0);
  }

  close(): void {
    this.#listening.abort();
  }

  async #measure(version: string): Promise<void> {
    await this.#owner.ask('POST', `${song}/versions/${version}/measurement`, { json: {} });
  }

  async #listen(): Promise<void> {
    const { body } = await this.#owner.ask('GET', `${record}/stream`, { signal: this.#listening.signal });
    if (!body) throw new Error('The stream has no body.');
    void this.#follow(body).catch((error: unknown) => {
      if (!this.#listening.signal.aborted) this.#fault = error;
    });
  }

  async #follow(stream: AsyncIterable<Uint8Array>): Promise<void> {
    const decoder = new TextDecoder();
    let text = '';
    for await (const chunk of stream) {
      text += decoder.decode(chunk, { stream: true });
      const events = text.split('\n\n');
      text = events.pop() ?? '';
      for (const event of events) {
        const data = /^event: analysis\ndata: (.*)$/m.exec(event)?.[1];
        if (data !== undefined) await this.#hear(JSON.parse(data));
      }
    }
  }

  async #hear({ versionId, kind, state }: Record<'versionId' | 'kind' | 'state', string>): Promise<void> {
    if (kind !== 'measurement') return;
    if (state === 'failed') throw new Error(`The measurement of ${versionId} failed.`);
    if (state === 'running') this.#running.add(versionId);
    if (state !== 'ready') return;
    this.#running.delete(versionId);
    this.#finished++;
    if (this.#wanted) await this.#measure(versionId);
  }

  #until(what: string, isSo: () => boolean): Promise<void> {
    return until(what, () => {
      if (this.#fault) throw this.#fault;
      return isSo();
    });
  }
}

/** Uploads a file as a page does, waits for its check, and posts it at the production gate. */
async function postRough(owner: Session, versionId: string, path: string): Promise<void> {
  const bytes = new Uint8Array(await readFile(path));
  const about = { song: 'long', gate: 'production', filename: `${versionId}.wav` };
  const created = await owner.ask('POST', `${record}/uploads`, {
    headers: {
      'tus-resumable': '1.0.0',
      'upload-length': String(bytes.length),
      'upload-metadata': Object.entries(about)
        .map(([key, value]) => `${key} ${Buffer.from(value).toString('base64')}`)
        .join(','),
    },
  });
  const uploadId = (created.headers.get('location') ?? '').split('/').at(-1) ?? '';
  const upload = `${record}/uploads/${uploadId}`;
  await owner.ask('PATCH', upload, {
    bytes,
    headers: {
      'tus-resumable': '1.0.0',
      'upload-offset': '0',
      'content-type': 'application/offset+octet-stream',
    },
  });
  await until('the upload is checked', async () => {
    const inspection = await owner.ask('GET', `${upload}/inspection`);
    const { state, refusal } = (await inspection.json()) as { state: string; refusal: string | null };
    if (state === 'refused') throw new Error(`The upload was refused: ${refusal}`);
    return state === 'ready';
  });
  await owner.ask('POST', `${song}/versions`, {
    json: { versionId, uploadId, gate: 'production', printNotes: '', changes: [] },
  });
}
