import { randomUUID } from 'node:crypto';
import { Hono } from 'hono';
import { z } from 'zod';
import type { Access } from './access.ts';
import { answerOutcome, body, commandRoute, described } from './command-route.ts';
import { problem } from './problem.ts';
import { personSchema } from './schemas.ts';
import type { Services } from './services.ts';

const linkSchema = z.object({
  id: z.string(),
  personId: z.string(),
  createdAt: z.string(),
  lastUsedAt: z.string().nullable(),
  revokedAt: z.string().nullable(),
});

/** The people of a record and their personal links. Mounted below `/records/:record`. */
export function peopleRoutes(services: Services): Hono<Access> {
  return new Hono<Access>()
    .post(
      '/people',
      ...commandRoute(services, 'Add a person', personSchema, ({ personId, name, roles }) => ({
        type: 'addPerson',
        person: { id: personId, name, roles, owner: false },
      })),
    )
    .put(
      '/people/:person',
      ...commandRoute(
        services,
        'Change a person',
        personSchema.omit({ personId: true }),
        ({ name, roles }, context) => {
          const id = context.req.param('person') ?? '';
          return {
            type: 'changePerson',
            person: { id, name, roles, owner: context.get('record').people[id]?.owner ?? false },
          };
        },
      ),
    )
    .delete(
      '/people/:person',
      ...commandRoute(services, 'Remove a person', z.object({}), (_sent, context) => ({
        type: 'removePerson',
        personId: context.req.param('person') ?? '',
      })),
    )
    .get(
      '/links',
      described('The personal links of a record', z.object({ links: z.array(linkSchema) })),
      async (context) => {
        if (!context.get('person').owner)
          return problem(context, 'not_entitled', 'Personal links are for the owner.');
        const links = await services.links.ofRecord(context.get('record').id);
        return context.json({ links: links.map(({ recordId: _recordId, ...link }) => link) });
      },
    )
    .post(
      '/people/:person/links',
      described(
        'Make a personal link; its secret is shown this once',
        z.object({ linkId: z.string(), url: z.string() }),
      ),
      body(z.object({})),
      async (context) => {
        const record = context.get('record');
        const personId = context.req.param('person');
        if (record.people[personId]?.owner)
          return problem(
            context,
            'not_entitled_here',
            'The owner comes in with the owner link that the server prints.',
          );
        const linkId = randomUUID();
        const outcome = await services.ledger.execute(record.id, context.get('person').id, {
          type: 'issueLink',
          personId,
          linkId,
        });
        if (!outcome.ok) return answerOutcome(context, outcome);
        const { secret } = await services.links.issue(record.id, personId, services.now(), linkId);
        return context.json({ linkId, url: `${services.publicUrl()}/enter#${secret}` });
      },
    )
    .delete('/links/:link', described('Revoke a personal link', null, 204), async (context) => {
      const record = context.get('record');
      const link = (await services.links.ofRecord(record.id)).find(
        (each) => each.id === context.req.param('link'),
      );
      if (!link) return problem(context, 'not_found', 'There is no such link on this record.');
      const outcome = await services.ledger.execute(record.id, context.get('person').id, {
        type: 'revokeLink',
        personId: link.personId,
        linkId: link.id,
      });
      if (!outcome.ok) return answerOutcome(context, outcome);
      await services.links.revoke(link.id, services.now());
      return context.body(null, 204);
    });
}
