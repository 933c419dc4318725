import { Hono } from 'hono';
import { z } from 'zod';
import { defaultTerms } from '../domain/default-contract.ts';
import type { Access } from './access.ts';
import { commandRoute, described, numberInPath } from './command-route.ts';
import { reasonSchema, termsSchema, wordsSchema } from './schemas.ts';
import type { Services } from './services.ts';

/** The contract of a record: drafted, agreed, amended. Mounted below `/records/:record`. */
export function contractRoutes(services: Services): Hono<Access> {
  return new Hono<Access>()
    .get(
      '/contract',
      described('The contract, and what the trade usually agrees', z.looseObject({})),
      (context) => context.json({ contract: context.get('record').contract, defaults: defaultTerms() }),
    )
    .put(
      '/contract',
      ...commandRoute(services, 'Draft the contract', z.object({ terms: termsSchema }), ({ terms }) => ({
        type: 'draftContract',
        terms,
      })),
    )
    .post(
      '/contract/agreement',
      ...commandRoute(services, 'Agree to the contract', z.object({ how: wordsSchema }), ({ how }) => ({
        type: 'agreeContract',
        how,
      })),
    )
    .post(
      '/contract/amendments',
      ...commandRoute(
        services,
        'Propose an amendment',
        z.object({ terms: termsSchema, reason: wordsSchema }),
        ({ terms, reason }) => ({ type: 'proposeAmendment', terms, reason }),
      ),
    )
    .post(
      '/contract/amendments/:number/acceptance',
      ...commandRoute(services, 'Accept an amendment', z.object({}), (_sent, context) => ({
        type: 'acceptAmendment',
        number: numberInPath(context, 'number'),
      })),
    )
    .post(
      '/contract/amendments/:number/refusal',
      ...commandRoute(services, 'Decline an amendment', reasonSchema, ({ reason }, context) => ({
        type: 'declineAmendment',
        number: numberInPath(context, 'number'),
        reason,
      })),
    );
}
