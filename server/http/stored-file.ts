import { stat } from 'node:fs/promises';
import type { Context } from 'hono';
import type { VersionFile } from '../domain/version.ts';
import { byteRange } from './byte-range.ts';
import { problem } from './problem.ts';
import type { Services } from './services.ts';

const mediaTypes: Record<string, string> = {
  wav: 'audio/wav',
  rf64: 'audio/wav',
  bw64: 'audio/wav',
  aiff: 'audio/aiff',
  aifc: 'audio/aiff',
  flac: 'audio/flac',
  mp3: 'audio/mpeg',
  m4a: 'audio/mp4',
};

/** A file name as RFC 6266 wants it: an ASCII one and, in UTF-8, the real one. */
function attachment(fileName: string): string {
  const plain = fileName.replace(/[^\x20-\x7e]|["\\/]/g, '_');
  return `attachment; filename="${plain}"; filename*=UTF-8''${encodeURIComponent(fileName).replace(/['()*]/g, (c) => `%${c.charCodeAt(0).toString(16)}`)}`;
}

/** A file of the store, whole or the range that is asked for. */
export function ranged(
  services: Services,
  context: Context,
  path: string,
  size: number,
  headers: Record<string, string> & { etag: string },
): Response {
  const { etag } = headers;
  if (context.req.header('if-none-match') === etag) return context.body(null, 304, headers);
  const range = byteRange(context.req.header('range'), context.req.header('if-range'), etag, size);
  if (range.status === 'unsatisfiable')
    return context.body(null, 416, { ...headers, 'content-range': `bytes */${size}` });
  const [start, end] = range.status === 'part' ? [range.start, range.end] : [0, size - 1];
  const sized: Record<string, string> = { ...headers, 'content-length': String(end - start + 1) };
  if (range.status === 'part') sized['content-range'] = `bytes ${start}-${end}/${size}`;
  const status = range.status === 'part' ? 206 : 200;
  if (context.req.method === 'HEAD') return context.body(null, status, sized);
  return context.body(services.audio.stream(path, start, end), status, sized);
}

/**
 * Gives out a file that stands on the record.
 *
 * @param exact Whether its very bytes are wanted, to be kept; else what browsers can play.
 */
export async function serveStored(
  services: Services,
  context: Context,
  { sha256, fileName }: Pick<VersionFile, 'sha256' | 'fileName'>,
  exact: boolean,
): Promise<Response> {
  const file = await services.audio.find(sha256);
  if (!file) return problem(context, 'not_ready', `The file ${fileName} is not in the store.`);
  const copy = !exact && file.listening !== 'original';
  const path = services.audio.pathOf(sha256, copy ? 'listening.wav' : 'original');
  const size = await stat(path).then(
    (found) => found.size,
    () => null,
  );
  if (size === null) {
    services.log.error({ sha256 }, 'a file is missing from the store');
    return problem(
      context,
      'not_ready',
      `The file ${fileName} is missing from the store. Tell the engineer.`,
    );
  }
  return ranged(services, context, path, size, {
    etag: `"${sha256}${copy ? '-listening' : ''}"`,
    'accept-ranges': 'bytes',
    'cache-control': 'private, max-age=31536000, immutable',
    'content-type': copy ? 'audio/wav' : (mediaTypes[file.format.container] ?? 'application/octet-stream'),
    'content-security-policy': 'sandbox',
    ...(exact ? { 'content-disposition': attachment(fileName) } : {}),
  });
}
