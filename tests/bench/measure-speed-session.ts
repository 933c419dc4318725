/** Somebody who came in with a personal link, as their browser would go on: requests with the session's cookie. */
export class Session {
  readonly #url: string;
  readonly #cookie: string;

  private constructor(url: string, cookie: string) {
    this.#url = url;
    this.#cookie = cookie;
  }

  static async enter(url: string, link: string): Promise<Session> {
    const response = await new Session(url, '').ask('POST', '/enter', {
      json: { secret: new URL(link).hash.slice(1) },
    });
    return new Session(url, response.headers.get('set-cookie')?.split(';')[0] ?? '');
  }

  /**
   * @param path below `/api`
   * @throws Error where the answer isn't a success, with what it says
   */
  async ask(
    method: string,
    path: string,
    {
      json,
      bytes,
      headers,
      signal,
    }: { json?: object; bytes?: Uint8Array; headers?: Record<string, string>; signal?: AbortSignal } = {},
  ): Promise<Response> {
    const response = await fetch(`${this.#url}/api${path}`, {
      method,
      headers: {
        cookie: this.#cookie,
        ...(json ? { 'content-type': 'application/json' } : {}),
        ...headers,
      },
      body: json ? JSON.stringify(json) : (bytes as Uint8Array<ArrayBuffer> | undefined),
      signal,
    });
    if (!response.ok)
      throw new Error(`${method} ${path}: ${response.status} ${(await response.text()).slice(0, 300)}`);
    return response;
  }
}
