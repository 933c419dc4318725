import { randomUUID } from 'node:crypto';
import { Hono } from 'hono';
import { z } from 'zod';
import { recordSheet } from '../application/record-sheet.ts';
import { givenRoles } from '../domain/person.ts';
import { type Access, isOwner, requireOwner, requirePerson } from './access.ts';
import { answerOutcome, body, commandRoute, described, idempotencyOf } from './command-route.ts';
import { problem } from './problem.ts';
import { idSchema, shortWordsSchema } from './schemas.ts';
import type { Services } from './services.ts';

const newRecord = z.object({
  recordId: idSchema.optional(),
  title: shortWordsSchema,
  act: shortWordsSchema,
  ownerName: shortWordsSchema.min(1),
  ownerRoles: z.array(z.enum(givenRoles)).max(6),
});

/** Records: opened by the owner, read by everybody on them. */
export function recordRoutes(services: Services): Hono<Access> {
  const person = requirePerson(services);
  return new Hono<Access>()
    .post(
      '/records',
      requireOwner(),
      described('Open a record', z.object({ recordId: z.string(), sequence: z.number() })),
      body(newRecord),
      async (context) => {
        const sent = context.req.valid('json');
        const recordId = sent.recordId ?? randomUUID();
        const outcome = await services.ledger.execute(
          recordId,
          services.owner.id,
          {
            type: 'openRecord',
            recordId,
            title: sent.title,
            act: sent.act,
            owner: { id: services.owner.id, name: sent.ownerName, roles: sent.ownerRoles, owner: true },
          },
          { idempotency: idempotencyOf(context, sent) },
        );
        return outcome.ok
          ? context.json({ recordId, sequence: outcome.sequence })
          : answerOutcome(context, outcome);
      },
    )
    .get(
      '/records/:record',
      person,
      described('A record at a glance', z.looseObject({ sentence: z.string() })),
      (context) => {
        const record = context.get('record');
        return context.json(recordSheet(record, context.get('person'), services.isDemo(record.id)));
      },
    )
    .put(
      '/records/:record',
      person,
      ...commandRoute(
        services,
        'Rename a record',
        z.object({ title: shortWordsSchema, act: shortWordsSchema }),
        (sent) => ({ type: 'renameRecord', ...sent }),
      ),
    )
    .delete('/records/:record', person, described('Delete the demo record', null, 204), async (context) => {
      const { id } = context.get('record');
      if (!isOwner(context))
        return problem(context, 'not_entitled_here', 'This is for the owner of the server.');
      if (!services.isDemo(id))
        return problem(
          context,
          'not_entitled_here',
          'Only the demo record can be deleted: the ledger of a real one is a record of what was agreed.',
        );
      await services.forgetDemo(id);
      await services.examples.read();
      return context.body(null, 204);
    });
}
