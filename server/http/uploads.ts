import { randomUUID } from 'node:crypto';
import { join } from 'node:path';
import { FileStore } from '@tus/file-store';
import { Server as TusServer } from '@tus/server';
import { type Context, Hono } from 'hono';
import { z } from 'zod';
import { entitlements } from '../application/entitlements.ts';
import { warningWords } from '../application/song-sheet.ts';
import { versionWarnings } from '../application/version-warnings.ts';
import { type Gate, gates } from '../domain/contract.ts';
import type { RecordState } from '../domain/record.ts';
import type { Upload } from '../storage/upload-store.ts';
import type { Access } from './access.ts';
import { described } from './command-route.ts';
import { problem } from './problem.ts';
import type { Services } from './services.ts';

const longestFileName = 255;

/** Where an upload's bytes arrive; the id is the server's own, never the sender's. */
export const arrivingPath = (services: Pick<Services, 'arrivingFolder'>, upload: Pick<Upload, 'id'>) =>
  join(services.arrivingFolder, upload.id);

/**
 * Resumable uploads by the open tus 1.0 protocol, and what the server found in the file. Mounted below
 * `/records/:record`.
 */
export function uploadRoutes(services: Services): Hono<Access> {
  const asked = new WeakMap<Request, { record: RecordState; personId: string }>();
  const full = (error: unknown) => error instanceof Error && 'code' in error && error.code === 'ENOSPC';

  const tus = new TusServer({
    path: '/api/records',
    datastore: new FileStore({ directory: services.arrivingFolder }),
    maxSize: services.largestUploadBytes,
    relativeLocation: true,
    respectForwardedHeaders: true,
    namingFunction: () => randomUUID(),
    generateUrl: (request, { id }) => `${new URL(request.url).pathname.replace(/\/$/, '')}/${id}`,
    getFileIdFromRequest: (request) =>
      /\/uploads\/([A-Za-z0-9_-]+)$/.exec(new URL(request.url).pathname)?.[1],
    onUploadCreate: async (request, upload) => {
      const who = asked.get(request as Request);
      const song = upload.metadata?.song ?? '';
      const gate = upload.metadata?.gate ?? '';
      const purpose = upload.metadata?.purpose ?? 'version';
      if (!who?.record.songs[song] || !gates.includes(gate as Gate))
        throw { status_code: 422, body: 'The upload does not say which song and gate it is for.' };
      if (purpose !== 'version' && purpose !== 'stem')
        throw { status_code: 422, body: 'An upload is for a version or for a stem.' };
      await services.uploads.add({
        id: upload.id,
        recordId: who.record.id,
        songId: song,
        gate,
        purpose,
        personId: who.personId,
        fileName: (upload.metadata?.filename ?? 'file').slice(0, longestFileName),
        byteLength: upload.size ?? 0,
        createdAt: services.now(),
      });
      return { metadata: upload.metadata };
    },
    onUploadFinish: async (_request, upload) => {
      const known = await services.uploads.find(upload.id);
      if (known) void services.intake.check(known, arrivingPath(services, known));
      return {};
    },
    onResponseError: (_request, error) => {
      if (full(error))
        return {
          status_code: 507,
          body: 'The storage of the server is full. What has arrived is kept; go on once there is room.',
        };
      if (error instanceof Error) services.log.error({ err: error }, 'an upload broke');
      return undefined;
    },
  });

  const ownUpload = async (context: Context<Access>): Promise<Upload | null> => {
    const upload = await services.uploads.find(context.req.param('upload') ?? '');
    return upload &&
      upload.recordId === context.get('record').id &&
      upload.personId === context.get('person').id
      ? upload
      : null;
  };
  const unknown = (context: Context) => problem(context, 'not_found', 'There is no such upload of yours.');

  const protocol = async (context: Context<Access>): Promise<Response> => {
    const record = context.get('record');
    const person = context.get('person');
    if (!entitlements(record, person).includes('postVersion'))
      return problem(context, 'not_entitled', 'Posting versions is for the engineers and the producer.');
    if (context.req.method !== 'POST' && context.req.method !== 'OPTIONS' && !(await ownUpload(context)))
      return unknown(context);
    asked.set(context.req.raw, { record, personId: person.id });
    return tus.handleWeb(context.req.raw);
  };

  return new Hono<Access>()
    .get(
      '/uploads/:upload/inspection',
      described('What the server found in an uploaded file', z.looseObject({ state: z.string() })),
      async (context) => {
        const upload = await ownUpload(context);
        if (!upload) return unknown(context);
        const song = context.get('record').songs[upload.songId];
        const { inspection } = upload;
        return context.json({
          state: upload.state,
          progress:
            upload.state === 'checking'
              ? services.intake.progressOf(upload.id)
              : upload.state === 'receiving'
                ? 0
                : 1,
          fileName: upload.fileName,
          byteLength: upload.byteLength,
          format: inspection?.format ?? null,
          sha256: inspection?.sha256 ?? null,
          durationSeconds: inspection?.durationSeconds ?? null,
          warnings:
            inspection && song && upload.purpose === 'version'
              ? versionWarnings(song, upload.gate as Gate, inspection).map((code) => ({
                  code,
                  words: warningWords[code],
                }))
              : [],
          refusal: inspection?.refusal ?? null,
        });
      },
    )
    .delete('/uploads/:upload', described('Throw an upload away', null, 204), async (context) => {
      const upload = await ownUpload(context);
      if (!upload) return unknown(context);
      await services.intake.discard(upload, arrivingPath(services, upload));
      return context.body(null, 204);
    })
    .on(['POST', 'OPTIONS'], '/uploads', protocol)
    .on(['HEAD', 'PATCH', 'GET'], '/uploads/:upload', protocol);
}
