import { Hono } from 'hono';
import { z } from 'zod';
import type { StoredMeasurement } from '../analysis/stored-measurement.ts';
import { measurementInput } from '../application/song-analysis.ts';
import { gateView } from '../application/song-sheet.ts';
import type { Gate, RoundGate } from '../domain/contract.ts';
import type { Access } from './access.ts';
import { commandRoute, described } from './command-route.ts';
import { problem } from './problem.ts';
import { idSchema, reasonSchema, wordsSchema } from './schemas.ts';
import type { Services } from './services.ts';

const anyGate = ':gate{production|mix|master}';
const roundGate = ':gate{mix|master}';

/** Sign-off, certificates and reopening. Mounted below `/records/:record/songs/:song`. */
export function gateRoutes(services: Services): Hono<Access> {
  const place = (context: Parameters<Parameters<typeof commandRoute>[3]>[1]) => ({
    song: context.get('song').id,
    gate: context.req.param('gate') as Gate,
  });
  const roundPlace = (context: Parameters<typeof place>[0]) => ({
    ...place(context),
    gate: context.req.param('gate') as RoundGate,
  });
  return new Hono<Access>()
    .post(
      `/gates/${anyGate}/signature`,
      ...commandRoute(
        services,
        'Sign one exact file',
        z.object({
          versionId: idSchema,
          sha256: z.string().regex(/^[0-9a-f]{64}$/),
          statement: wordsSchema,
        }),
        (sent, context) => ({ type: 'signOff', ...place(context), ...sent }),
      ),
    )
    .delete(
      `/gates/${anyGate}/signature`,
      ...commandRoute(services, 'Withdraw a signature', reasonSchema, ({ reason }, context) => ({
        type: 'withdrawSignature',
        ...place(context),
        reason,
      })),
    )
    .post(
      `/gates/${roundGate}/reopening`,
      ...commandRoute(
        services,
        'Reopen a gate',
        z.object({ reason: wordsSchema, agreedFeeMinorUnits: z.number().int().min(0).nullable() }),
        (sent, context) => ({ type: 'reopenGate', ...roundPlace(context), ...sent }),
      ),
    )
    .post(
      `/gates/${roundGate}/reopening/go-ahead`,
      ...commandRoute(services, 'Give the go-ahead to a reopening', z.object({}), (_sent, context) => ({
        type: 'giveReopeningGoAhead',
        ...roundPlace(context),
      })),
    )
    .post(
      `/gates/${roundGate}/reopening/refusal`,
      ...commandRoute(services, 'Decline a reopening', reasonSchema, ({ reason }, context) => ({
        type: 'declineReopening',
        ...roundPlace(context),
        reason,
      })),
    )
    .get(
      `/gates/${anyGate}/certificate`,
      described('The certificate of a closed gate', z.looseObject({ sha256: z.string() })),
      async (context) => {
        const record = context.get('record');
        const song = context.get('song');
        const gate = context.req.param('gate') as Gate;
        const view = gateView(record, song, gate);
        const version = song.versions.find((each) => each.id === view.versionId);
        if (view.status !== 'closed' || !version)
          return problem(context, 'gate_open', `The ${gate} gate is open: there is no certificate yet.`);
        const measured = await services.analyst.result(measurementInput(song, version));
        return context.json({
          record: { id: record.id, title: record.title, act: record.act },
          song: { id: song.id, title: song.title },
          gate,
          version: { id: version.id, name: version.name, file: version.file, printNotes: version.printNotes },
          sha256: view.sha256,
          closedAt: view.closedAt,
          signatures: view.signatures,
          measurement: measured ? (JSON.parse(measured) as StoredMeasurement) : null,
          ledgerHead: await services.ledger.head(record.id),
        });
      },
    );
}
