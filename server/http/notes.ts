import { randomUUID } from 'node:crypto';
import { Hono, type MiddlewareHandler } from 'hono';
import { z } from 'zod';
import { meaningOf, noteCommand, questionOf, sortForSong } from '../application/sorting.ts';
import type { Access } from './access.ts';
import { body, commandRoute, described } from './command-route.ts';
import {
  answerSchema,
  idSchema,
  kindSchema,
  levelSchema,
  rangeSchema,
  reasonSchema,
  shortWordsSchema,
  wordsSchema,
} from './schemas.ts';
import type { Services } from './services.ts';

const longestNote = 25_000;

const sortingSchema = z.object({
  text: z.string().max(longestNote),
  versionId: idSchema,
  range: rangeSchema,
  /** Levels that the author has chosen already, by the words of the request. */
  chosen: z
    .array(z.object({ text: z.string().max(longestNote), level: levelSchema }))
    .max(200)
    .default([]),
});

/** Notes, the requests inside them, and their answers. Mounted below `/records/:record/songs/:song`. */
export function noteRoutes(services: Services): Hono<Access> {
  const request = (context: { req: { param: (name: string) => string | undefined } }) =>
    context.req.param('request') ?? '';
  return new Hono<Access>()
    .post(
      '/sortings',
      described('How a note would be sorted, while it is written', z.looseObject({ meaning: z.string() })),
      body(sortingSchema) as MiddlewareHandler,
      (context) => {
        const { text, range, chosen } = context.req.valid('json' as never) as z.output<typeof sortingSchema>;
        const record = context.get('record');
        const song = context.get('song');
        const sorted = sortForSong(record, song, text, range, services.examples);
        const { requests, protections } = sorted;
        const levels = requests.map(
          (each) => chosen.find((choice) => choice.text === each.text)?.level ?? each.level,
        );
        return context.json({
          requests,
          protections,
          question: questionOf(song, sorted),
          meaning: meaningOf(record, song, levels, { person: context.get('person'), at: services.now() }),
        });
      },
    )
    .post(
      '/notes',
      ...commandRoute(
        services,
        'Write a note',
        z.object({
          noteId: idSchema,
          versionId: idSchema,
          range: rangeSchema,
          text: z.string().max(longestNote),
          heardOn: shortWordsSchema.nullable(),
          levels: z.array(levelSchema.nullable()).max(200),
        }),
        (writing, context) =>
          noteCommand(
            context.get('record'),
            context.get('song'),
            context.get('person').id,
            writing,
            randomUUID,
            services.examples,
          ),
      ),
    )
    .delete(
      '/notes/:note',
      ...commandRoute(services, 'Withdraw a note', z.object({}), (_sent, context) => ({
        type: 'withdrawNote',
        song: context.get('song').id,
        noteId: context.req.param('note') ?? '',
      })),
    )
    .post(
      '/notes/:note/replies',
      ...commandRoute(services, 'Reply to a note', z.object({ text: wordsSchema }), ({ text }, context) => ({
        type: 'replyToNote',
        song: context.get('song').id,
        noteId: context.req.param('note') ?? '',
        text,
      })),
    )
    .put(
      '/requests/:request/level',
      ...commandRoute(
        services,
        'Choose the level of an own request',
        z.object({ level: levelSchema }),
        ({ level }, context) => ({
          type: 'chooseLevel',
          song: context.get('song').id,
          requestId: request(context),
          level,
        }),
      ),
    )
    .post(
      '/requests/:request/resorting',
      ...commandRoute(
        services,
        'Re-sort a request with a reason',
        z.object({ level: levelSchema, kind: kindSchema.nullable(), reason: wordsSchema }),
        (sent, context) => ({
          type: 'resortRequest',
          song: context.get('song').id,
          requestId: request(context),
          ...sent,
        }),
        (context) => (writer, _facts, state) =>
          services.examples.learnIn(writer, state, context.get('song').id, request(context)),
        () => services.examples.read(),
      ),
    )
    .post(
      '/requests/:request/answer',
      ...commandRoute(
        services,
        'Answer a request',
        z.object({ answer: answerSchema, text: wordsSchema }),
        (sent, context) => ({
          type: 'answerRequest',
          song: context.get('song').id,
          requestId: request(context),
          ...sent,
        }),
      ),
    )
    .post(
      '/requests/:request/own-mistake',
      ...commandRoute(
        services,
        'Mark a request as putting right an own mistake',
        reasonSchema,
        ({ reason }, context) => ({
          type: 'markOwnMistake',
          song: context.get('song').id,
          requestId: request(context),
          reason,
        }),
      ),
    )
    .post(
      '/requests/:request/omission',
      ...commandRoute(services, 'Leave a request out of the round', reasonSchema, ({ reason }, context) => ({
        type: 'leaveOutRequest',
        song: context.get('song').id,
        requestId: request(context),
        reason,
      })),
    )
    .delete(
      '/requests/:request/omission',
      ...commandRoute(services, 'Take a request back into the round', z.object({}), (_sent, context) => ({
        type: 'takeRequestBackIn',
        song: context.get('song').id,
        requestId: request(context),
      })),
    )
    .post(
      '/requests/:request/merger',
      ...commandRoute(
        services,
        'Make one request of several',
        z.object({ others: z.array(idSchema).min(1).max(200) }),
        ({ others }, context) => ({
          type: 'mergeRequests',
          song: context.get('song').id,
          into: request(context),
          others,
        }),
      ),
    )
    .delete(
      '/requests/:request/merger',
      ...commandRoute(services, 'Take requests apart again', z.object({}), (_sent, context) => ({
        type: 'unmergeRequests',
        song: context.get('song').id,
        into: request(context),
      })),
    )
    .post(
      '/agreements/dismissal',
      ...commandRoute(
        services,
        'Say that requests which look like one wish are different ones',
        z.object({ requestIds: z.array(idSchema).min(2).max(200) }),
        ({ requestIds }, context) => ({
          type: 'keepRequestsApart',
          song: context.get('song').id,
          requestIds,
        }),
      ),
    )
    .post(
      '/contradictions/settlement',
      ...commandRoute(
        services,
        'Settle a contradiction',
        z.object({
          requestIds: z.tuple([idSchema, idSchema]),
          keep: idSchema.nullable(),
          reason: wordsSchema,
        }),
        (sent, context) => ({ type: 'settleContradiction', song: context.get('song').id, ...sent }),
      ),
    );
}
