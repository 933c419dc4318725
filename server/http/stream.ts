import { Hono } from 'hono';
import { streamSSE } from 'hono/streaming';
import type { Access } from './access.ts';
import { described } from './command-route.ts';
import type { Services } from './services.ts';

const pingMilliseconds = 15_000;

/** What happens on a record, as it happens (server-sent events). Mounted below `/records/:record`. */
export function streamRoutes(services: Services): Hono<Access> {
  return new Hono<Access>().get(
    '/stream',
    described('What happens on a record, as it happens', null, 200, 'text/event-stream'),
    (context) => {
      const record = context.get('record');
      const personId = context.get('person').id;
      const lastSeen = Number(context.req.header('last-event-id') ?? Number.NaN);
      context.header('cache-control', 'no-store');
      context.header('x-accel-buffering', 'no');
      return streamSSE(context, async (stream) => {
        const done = new Promise<void>((resolve) => {
          context.req.raw.signal.addEventListener('abort', () => resolve());
          stream.onAbort(resolve);
        });
        const send = (event: string, data: unknown, id?: number) => {
          if (stream.closed || stream.aborted) return;
          void stream
            .writeSSE({ event, data: JSON.stringify(data), ...(id === undefined ? {} : { id: String(id) }) })
            .catch(() => undefined);
        };
        const stops = [
          services.ledger.watch(({ recordId, sequence, entries }) => {
            if (recordId !== record.id) return;
            const songs = new Set(entries.map(({ fact }) => ('song' in fact ? fact.song : null)));
            for (const song of songs) send('changed', { sequence, song }, sequence);
            if (!entries.length) send('changed', { sequence, song: null });
          }),
          services.analyst.watch(({ input, state, progress }) => {
            // Whoever asked for anything else waits for it; it is no news of a version.
            if (input.kind !== 'measurement' && input.kind !== 'comparison') return;
            void services.ledger.state(record.id).then((current) => {
              for (const song of Object.values(current?.songs ?? {}))
                for (const version of song.versions) {
                  const { sha256 } = version.file;
                  if (input.kind === 'measurement' ? input.sha256 === sha256 : input.newerSha256 === sha256)
                    send('analysis', {
                      song: song.id,
                      versionId: version.id,
                      kind: input.kind,
                      state,
                      progress,
                    });
                }
            });
          }),
          services.intake.watch((upload) => {
            if (upload.recordId === record.id) send('upload', { ...upload, personId });
          }),
        ];
        const ping = setInterval(
          () => void stream.write(': ping\n\n').catch(() => undefined),
          pingMilliseconds,
        );
        const { sequence } = (await services.ledger.state(record.id)) ?? { sequence: 0 };
        await stream.write(': open\n\n');
        if (Number.isFinite(lastSeen) && lastSeen < sequence)
          send('changed', { sequence, song: null }, sequence);
        await done;
        clearInterval(ping);
        for (const stop of stops) stop();
      });
    },
  );
}
