import type { Context, Handler, MiddlewareHandler } from 'hono';
import { describeRoute, resolver, validator } from 'hono-openapi';
import { z } from 'zod';
import type { Outcome, RecordLedger } from '../application/record-ledger.ts';
import type { Command } from '../domain/command.ts';
import type { Access } from './access.ts';
import { problem, refusalProblem } from './problem.ts';
import type { Services } from './services.ts';

const outcomeSchema = z.object({ sequence: z.number(), facts: z.array(z.string()) });
const problemSchema = z.object({
  type: z.string(),
  title: z.string(),
  status: z.number(),
  detail: z.string(),
  code: z.string(),
});

/** How a route stands in the OpenAPI document: every refusal is a problem of RFC 9457. */
export function described(
  summary: string,
  success: z.ZodType | null,
  status = 200,
  mediaType = 'application/json',
) {
  return describeRoute({
    summary,
    responses: {
      [status]: success
        ? { description: 'As asked.', content: { [mediaType]: { schema: resolver(success) } } }
        : { description: 'As asked.' },
      default: {
        description: 'A refusal, in plain words.',
        content: { 'application/problem+json': { schema: resolver(problemSchema) } },
      },
    },
  });
}

/** Refuses a body that isn't of the schema, and says where. */
export function body<Schema extends z.ZodType>(schema: Schema) {
  return validator('json', schema, (result, context) => {
    if (result.success) return;
    const [issue] = result.error;
    const path = issue?.path
      ?.map((each) => (typeof each === 'object' ? String(each.key) : String(each)))
      .join('.');
    return problem(
      context,
      'malformed_body',
      `${path ? `${path}: ` : ''}${issue?.message ?? 'The body does not fit.'}`,
    );
  });
}

export const answerOutcome = (context: Context, outcome: Outcome): Response => {
  if (outcome.ok) return context.json({ sequence: outcome.sequence, facts: outcome.facts });
  if ('misuse' in outcome)
    return problem(context, 'key_reused', 'This Idempotency-Key was used for something else. Use a new one.');
  return refusalProblem(context, outcome.refusal);
};

/** The caller's Idempotency-Key with what it is used for, or `null` where there is none. */
export function idempotencyOf(context: Context, sent: unknown) {
  const key = context.req.header('idempotency-key');
  return key && key.length <= 255 ? { key, body: [context.req.method, context.req.path, sent] } : null;
}

type Alongside = NonNullable<Parameters<RecordLedger['execute']>[3]>['alongside'];

/**
 * A route that carries out one command: the body is checked against the schema, the command is made from it, the
 * rules decide, and the answer says what was written on the ledger.
 */
export function commandRoute<Schema extends z.ZodType>(
  services: Services,
  summary: string,
  schema: Schema,
  toCommand: (sent: z.output<Schema>, context: Context<Access>) => Command,
  alongside?: (context: Context<Access>) => Alongside,
  /** Runs once a command is on disk. */
  afterwards?: () => Promise<void>,
): [MiddlewareHandler, MiddlewareHandler, Handler<Access>] {
  return [
    described(summary, outcomeSchema),
    body(schema) as MiddlewareHandler,
    async (context) => {
      const sent = context.req.valid('json' as never) as z.output<Schema>;
      const outcome = await services.ledger.execute(
        context.get('record').id,
        context.get('person').id,
        toCommand(sent, context),
        { idempotency: idempotencyOf(context, sent), alongside: alongside?.(context) },
      );
      if (outcome.ok) await afterwards?.();
      return answerOutcome(context, outcome);
    },
  ];
}

/** A whole number in the path; one that isn't there names nothing. */
export const numberInPath = (context: Context, name: string) => Number(context.req.param(name)) || 0;
