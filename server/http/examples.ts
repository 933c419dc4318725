import { type Context, Hono, type MiddlewareHandler } from 'hono';
import { z } from 'zod';
import { entitlements } from '../application/entitlements.ts';
import { type ExampleView, exampleViews } from '../application/example-views.ts';
import { levels, requestKinds } from '../domain/request-kind.ts';
import { type Access, requireOwner } from './access.ts';
import { described } from './command-route.ts';
import { problem } from './problem.ts';
import type { Services } from './services.ts';

const examplesSchema = z.object({
  examples: z.array(
    z.object({
      record: z.object({ id: z.string(), title: z.string() }),
      song: z.object({ id: z.string(), title: z.string() }),
      requestId: z.string(),
      text: z.string(),
      kind: z.enum(requestKinds),
      level: z.enum(levels),
      byScopeSheet: z.boolean(),
      reason: z.string(),
      by: z.object({ id: z.string(), name: z.string() }),
      at: z.string(),
    }),
  ),
});

/** Examples as a file, one a line, as JSON. */
function file(context: Context, name: string, examples: readonly ExampleView[]): Response {
  context.header('content-type', 'application/x-ndjson; charset=utf-8');
  context.header('content-disposition', `attachment; filename="${name}.jsonl"`);
  return context.body(examples.map((example) => `${JSON.stringify(example)}\n`).join(''));
}

/** What all records of this server have taught the sorting: for its owner. */
export function studioExampleRoutes(services: Services): Hono<Access> {
  const views = async () => {
    const ids = new Set(services.examples.all.map((example) => example.recordId));
    const records = await Promise.all([...ids].map((id) => services.ledger.state(id)));
    return exampleViews(services.examples.all, records);
  };
  return new Hono<Access>()
    .get(
      '/examples',
      requireOwner(),
      described('What this studio has taught the sorting', examplesSchema),
      async (context) => context.json({ examples: await views() }),
    )
    .get(
      '/examples.jsonl',
      requireOwner(),
      described('What this studio has taught the sorting, one example a line', null),
      async (context) => file(context, 'sorting-examples', await views()),
    );
}

/** Lets the owner and those through who may re-sort, since their re-sortings are the examples. */
const requireSorter: MiddlewareHandler<Access> = async (context, next) => {
  const person = context.get('person');
  if (!person.owner && !entitlements(context.get('record'), person).includes('resortRequest'))
    return problem(
      context,
      'not_entitled',
      'What was taught to the sorting is for the owner, the engineers and the producer.',
    );
  await next();
};

/** What one record has taught the sorting. Mounted below `/records/:record`. */
export function exampleRoutes(services: Services): Hono<Access> {
  const views = (context: Context<Access>) => {
    const record = context.get('record');
    return exampleViews(services.examples.ofRecord(record.id), [record]);
  };
  const gone = (context: Context) =>
    problem(context, 'not_found', 'There is no such example any more. The others are untouched.');
  return new Hono<Access>()
    .get(
      '/examples',
      requireSorter,
      described('What this record has taught the sorting', examplesSchema),
      (context) => context.json({ examples: views(context) }),
    )
    .get(
      '/examples.jsonl',
      requireSorter,
      described('What this record has taught the sorting, one example a line', null),
      (context) => file(context, `sorting-examples-${context.get('record').id}`, views(context)),
    )
    .delete(
      '/examples/:request',
      requireSorter,
      described('Take an example out of the sorting', null, 204),
      async (context) => {
        const { id } = context.get('record');
        const removed = await services.examples.remove(id, context.req.param('request'), services.now());
        return removed ? context.body(null, 204) : gone(context);
      },
    )
    .post(
      '/examples/:request/restoration',
      requireSorter,
      described('Put an example back that was taken out within the hour', null, 204),
      async (context) => {
        const restored = await services.examples.restore(
          context.get('record').id,
          context.req.param('request'),
        );
        return restored ? context.body(null, 204) : gone(context);
      },
    );
}
