import { Hono } from 'hono';
import { z } from 'zod';
import type { Access } from './access.ts';
import { commandRoute, numberInPath } from './command-route.ts';
import { agreedFeeSchema, reasonSchema, wordsSchema } from './schemas.ts';
import type { Services } from './services.ts';

/** Lock breaks and change orders. Mounted below `/records/:record/songs/:song`. */
export function changeRoutes(services: Services): Hono<Access> {
  const place = (context: Parameters<Parameters<typeof commandRoute>[3]>[1]) => ({
    song: context.get('song').id,
    number: numberInPath(context, 'number'),
  });
  return new Hono<Access>()
    .post(
      '/changes/:number/decline',
      ...commandRoute(
        services,
        'Decline a change to the production',
        reasonSchema,
        ({ reason }, context) => ({
          type: 'declineChange',
          ...place(context),
          reason,
        }),
      ),
    )
    .post(
      '/changes/:number/price',
      ...commandRoute(
        services,
        'Price a change to the production',
        z.object({ hours: z.number(), words: wordsSchema }),
        ({ hours, words }, context) => ({ type: 'priceChange', ...place(context), hours, words }),
      ),
    )
    .post(
      '/changes/:number/acceptance',
      ...commandRoute(services, 'Accept a change order', agreedFeeSchema, (sent, context) => ({
        type: 'acceptChange',
        ...place(context),
        ...sent,
      })),
    )
    .post(
      '/changes/:number/refusal',
      ...commandRoute(services, 'Refuse a change order', reasonSchema, ({ reason }, context) => ({
        type: 'refuseChange',
        ...place(context),
        reason,
      })),
    );
}
