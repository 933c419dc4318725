import { Hono } from 'hono';
import { deleteCookie } from 'hono/cookie';
import { z } from 'zod';
import { rolesOf } from '../domain/record.ts';
import { type Access, isOwner, setSession, signInFirst } from './access.ts';
import { body, described } from './command-route.ts';
import { problem } from './problem.ts';
import type { Services } from './services.ts';

/** Tries at a link's secret are counted an address: guessing 256 bits is hopeless, and this keeps it cheap. */
const triesPerMinute = 30;

/** Coming in with a personal link, who one is, and leaving. */
export function sessionRoutes(services: Services): Hono<Access> {
  const tries = new Map<string, { minute: number; count: number }>();
  const tooMany = (address: string) => {
    const minute = Math.floor(Date.parse(services.now()) / 60_000);
    const entry = tries.get(address);
    if (entry?.minute !== minute) {
      if (tries.size > 10_000) tries.clear();
      tries.set(address, { minute, count: 1 });
      return false;
    }
    entry.count += 1;
    return entry.count > triesPerMinute;
  };

  return new Hono<Access>()
    .post(
      '/enter',
      described('Come in with a personal link', null, 204),
      body(z.object({ secret: z.string().max(100) })),
      async (context) => {
        const incoming = context.env as { incoming?: { socket?: { remoteAddress?: string } } } | undefined;
        const address = incoming?.incoming?.socket?.remoteAddress ?? 'local';
        const entered = await services.links.enter(
          context.req.valid('json').secret,
          context.get('session'),
          services.now(),
        );
        if (!entered) {
          if (tooMany(address))
            return problem(
              context,
              'too_many',
              'Too many links that are not valid came from here. Wait a minute.',
            );
          return problem(
            context,
            'link_not_valid',
            'This link is no longer valid. Ask the engineer who sent it for a new one.',
          );
        }
        setSession(context, services, entered.session);
        return context.body(null, 204);
      },
    )
    .post('/leave', described('Leave on this device', null, 204), async (context) => {
      const session = context.get('session');
      if (session) await services.links.leave(session);
      deleteCookie(context, 'countoff', { path: '/' });
      if (services.publicUrl().startsWith('https:'))
        deleteCookie(context, '__Host-countoff', { path: '/', secure: true });
      return context.body(null, 204);
    })
    .get(
      '/me',
      described('Who I am, and the records that my links open', z.looseObject({ owner: z.boolean() })),
      async (context) => {
        const links = context.get('links');
        if (!links.length) return signInFirst(context);
        const owner = isOwner(context);
        const ids = owner ? await services.ledger.recordIds() : links.flatMap((link) => link.recordId ?? []);
        const records = await Promise.all(
          ids.map(async (id) => {
            const record = await services.ledger.state(id);
            const link =
              links.find((each) => each.recordId === id) ?? links.find((each) => each.recordId === null);
            const person = link && record?.people[link.personId];
            if (!record || !person) return [];
            return [
              {
                id,
                title: record.title,
                act: record.act,
                personName: person.name,
                roles: rolesOf(record, person),
                demo: services.isDemo(id),
                songs: record.songOrder.map((song) => ({ id: song, title: record.songs[song]?.title ?? '' })),
              },
            ];
          }),
        );
        return context.json({ owner, records: records.flat(), server: { publicUrl: services.publicUrl() } });
      },
    );
}
