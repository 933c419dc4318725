import { readFile } from 'node:fs/promises';
import { extname, join, normalize } from 'node:path';
import { Hono } from 'hono';
import { bodyLimit } from 'hono/body-limit';
import { secureHeaders } from 'hono/secure-headers';
import { openAPIRouteHandler } from 'hono-openapi';
import { type Access, readSession, requirePerson, sameOrigin } from './http/access.ts';
import { contractRoutes } from './http/contract.ts';
import { exampleRoutes, studioExampleRoutes } from './http/examples.ts';
import { ledgerRoutes } from './http/ledger.ts';
import { peopleRoutes } from './http/people.ts';
import { problem } from './http/problem.ts';
import { recordRoutes } from './http/records.ts';
import type { Services } from './http/services.ts';
import { sessionRoutes } from './http/sessions.ts';
import { songRoutes } from './http/songs.ts';
import { streamRoutes } from './http/stream.ts';
import { uploadRoutes } from './http/uploads.ts';

const largestBodyBytes = 512 * 1024;

const pageTypes: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.json': 'application/json',
  '.map': 'application/json',
  '.woff2': 'font/woff2',
  '.png': 'image/png',
  '.webmanifest': 'application/manifest+json',
};

/** The built client: hashed files for good, and the one page under every other address. */
function pages(folder: string): Hono {
  const send = async (path: string) => {
    const bytes = await readFile(path).catch(() => null);
    return (
      bytes && { bytes: new Uint8Array(bytes), type: pageTypes[extname(path)] ?? 'application/octet-stream' }
    );
  };
  return new Hono().get('*', async (context) => {
    const path = normalize(decodeURIComponent(context.req.path));
    const file = extname(path) && !path.includes('..') ? await send(join(folder, path)) : null;
    if (file)
      return context.body(file.bytes, 200, {
        'content-type': file.type,
        'cache-control': path.startsWith('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
      });
    if (extname(path)) return context.notFound();
    const page = await send(join(folder, 'index.html'));
    return page
      ? context.body(page.bytes, 200, { 'content-type': page.type, 'cache-control': 'no-cache' })
      : context.text('The pages are not built. Run: npm run build', 503);
  });
}

/** The whole server as one application: routes mounted, refusals in one place, nothing listening yet. */
export function createApp(services: Services): Hono<Access> {
  const app = new Hono<Access>();
  app.use(
    secureHeaders({
      contentSecurityPolicy: {
        defaultSrc: ["'self'"],
        styleSrc: ["'self'", "'unsafe-inline'"],
        imgSrc: ["'self'", 'data:', 'blob:'],
        mediaSrc: ["'self'", 'blob:'],
        connectSrc: ["'self'"],
        objectSrc: ["'none'"],
        baseUri: ["'none'"],
        frameAncestors: ["'none'"],
        formAction: ["'self'"],
      },
      referrerPolicy: 'no-referrer',
      xFrameOptions: 'DENY',
      crossOriginResourcePolicy: 'same-origin',
      strictTransportSecurity: 'max-age=31536000',
    }),
  );

  const api = new Hono<Access>();
  api.use(sameOrigin);
  api.use(async (context, next) => {
    await next();
    if (!context.res.headers.has('cache-control')) context.res.headers.set('cache-control', 'no-store');
  });
  api.use(readSession(services));
  const limit = bodyLimit({
    maxSize: largestBodyBytes,
    onError: (context) => problem(context, 'too_large', 'That is too long to be taken in one piece.'),
  });
  api.use((context, next) => (/\/uploads(\/|$)/.test(context.req.path) ? next() : limit(context, next)));
  api.route('/', sessionRoutes(services));
  api.route('/', recordRoutes(services));
  api.route('/', studioExampleRoutes(services));

  const record = new Hono<Access>();
  record.use(requirePerson(services));
  record.route('/', peopleRoutes(services));
  record.route('/', contractRoutes(services));
  record.route('/', songRoutes(services));
  record.route('/', uploadRoutes(services));
  record.route('/', ledgerRoutes(services));
  record.route('/', exampleRoutes(services));
  record.route('/', streamRoutes(services));
  api.route('/records/:record', record);

  app.route('/api', api);
  app.get(
    '/api/openapi.json',
    openAPIRouteHandler(app, {
      documentation: {
        openapi: '3.1.0',
        info: {
          title: 'Countoff',
          version: '1',
          description:
            'Review of mixes: versions, notes, rounds, measurements, sign-off and the ledger of all of it.',
        },
      },
    }),
  );
  app.all('/api/*', (context) => problem(context, 'not_found', 'There is nothing under this address.'));
  if (services.clientFolder) app.route('/', pages(services.clientFolder));
  app.notFound((context) => problem(context, 'not_found', 'There is nothing under this address.'));
  app.onError((error, context) => {
    services.log.error({ err: error, method: context.req.method, path: context.req.path }, 'a request broke');
    return problem(
      context,
      'internal',
      'Something broke on the server. Nothing was lost; try again, or tell the engineer.',
    );
  });
  return app;
}
