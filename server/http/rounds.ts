import { Hono } from 'hono';
import { z } from 'zod';
import type { RoundGate } from '../domain/contract.ts';
import type { Access } from './access.ts';
import { commandRoute, numberInPath } from './command-route.ts';
import { agreedFeeSchema, gateSchema, reasonSchema, wordsSchema } from './schemas.ts';
import type { Services } from './services.ts';

/** A gate in the path that counts rounds; anything else is taken for the mix gate only where it says so. */
const gatePattern = ':gate{mix|master}';

/** Rounds: sent, quoted, let go ahead, declined. Mounted below `/records/:record/songs/:song`. */
export function roundRoutes(services: Services): Hono<Access> {
  const place = (context: Parameters<Parameters<typeof commandRoute>[3]>[1]) => ({
    song: context.get('song').id,
    gate: context.req.param('gate') as RoundGate,
  });
  return new Hono<Access>()
    .post(
      `/rounds/${gatePattern}/sending`,
      ...commandRoute(
        services,
        'Send the round',
        z.object({ agreedFeeMinorUnits: z.number().int().min(0).nullable() }),
        ({ agreedFeeMinorUnits }, context) => ({ type: 'sendRound', ...place(context), agreedFeeMinorUnits }),
      ),
    )
    .post(
      `/rounds/${gatePattern}/:number/quote`,
      ...commandRoute(
        services,
        'Quote a round by the hour',
        z.object({ hours: z.number() }),
        ({ hours }, context) => ({
          type: 'quoteRound',
          ...place(context),
          number: numberInPath(context, 'number'),
          hours,
        }),
      ),
    )
    .post(
      `/rounds/${gatePattern}/:number/go-ahead`,
      ...commandRoute(services, 'Give the go-ahead to a round', agreedFeeSchema, (sent, context) => ({
        type: 'giveRoundGoAhead',
        ...place(context),
        number: numberInPath(context, 'number'),
        ...sent,
      })),
    )
    .post(
      `/rounds/${gatePattern}/:number/refusal`,
      ...commandRoute(services, 'Decline the go-ahead to a round', reasonSchema, ({ reason }, context) => ({
        type: 'declineRound',
        ...place(context),
        number: numberInPath(context, 'number'),
        reason,
      })),
    )
    .post(
      '/note-days',
      ...commandRoute(
        services,
        'Grant more days for notes',
        z.object({ gate: gateSchema, until: z.string().max(40), reason: wordsSchema }),
        (sent, context) => ({ type: 'extendNoteDays', song: context.get('song').id, ...sent }),
      ),
    );
}
