import { type Context, Hono, type MiddlewareHandler } from 'hono';
import { z } from 'zod';
import { entitlements, postsAt } from '../application/entitlements.ts';
import {
  comparisonInput,
  stemComparisonInput,
  stemSumInput,
  versionBefore,
} from '../application/song-analysis.ts';
import { nameOf } from '../application/song-sheet.ts';
import type { Song } from '../domain/record.ts';
import { type Stem, stemRoles } from '../domain/stem.ts';
import type { Version, VersionFile } from '../domain/version.ts';
import type { Comparison } from '../measurement/comparison.ts';
import type { AnalysisInput } from '../storage/analysis-store.ts';
import type { Access } from './access.ts';
import { answerAnalysis, notMeasured } from './analysis-answer.ts';
import { answerOutcome, body, described, idempotencyOf } from './command-route.ts';
import { problem } from './problem.ts';
import { idSchema, reasonSchema, sha256Schema, shortWordsSchema } from './schemas.ts';
import type { Services } from './services.ts';
import { serveStored } from './stored-file.ts';

const fileSchema = z.looseObject({ sha256: z.string(), fileName: z.string(), byteLength: z.number() });
const pendingSchema = z.object({ state: z.string(), progress: z.number() });
const attachSchema = reasonSchema.extend({
  stems: z
    .array(
      z.object({
        name: shortWordsSchema,
        role: z.enum(stemRoles),
        /** A checked upload of the sender's; `null` for a stem that the version had before. */
        uploadId: idSchema.nullable(),
        /** Of a stem that the version had before. */
        sha256: sha256Schema.nullable(),
      }),
    )
    .max(1000),
});

/**
 * The stems of a version: attached, told, compared. Their files are for the engineer's side alone; what the measurement
 * says of them is for everybody. Mounted below `/records/:record/songs/:song`.
 */
export function stemRoutes(services: Services): Hono<Access> {
  const versionOf = (context: Context<Access>, name = 'version') =>
    context.get('song').versions.find((version) => version.id === context.req.param(name)) ?? null;
  const unknown = (context: Context) =>
    problem(context, 'version_unknown', 'There is no such version of this song.');
  const mayAttach = (context: Context<Access>) =>
    entitlements(context.get('record'), context.get('person')).includes('attachStems');
  const refusedTo = (context: Context) =>
    problem(context, 'not_entitled', 'Stems are for the engineers and the producer alone.');
  const setsOf = (context: Context<Access>, version: Version) =>
    context.get('song').attachedStems.filter(({ versionId }) => versionId === version.id);

  /** What the stems of two versions are compared as, once the versions themselves are; else the answer until then. */
  async function comparedStems(
    context: Context<Access>,
  ): Promise<{ input: AnalysisInput } | { answer: Response }> {
    const song = context.get('song');
    const older = versionOf(context, 'older');
    const newer = versionOf(context, 'newer');
    if (!older || !newer) return { answer: unknown(context) };
    if (!stemComparisonInput(song, older, newer, 0))
      return {
        answer: problem(context, 'not_found', `Neither ${older.name} nor ${newer.name} has stems.`),
      };
    const comparison = comparisonInput(song, older, newer);
    const compared = await services.analyst.result(comparison);
    if (!compared) {
      const answer = await answerAnalysis(services, context, comparison);
      return { answer };
    }
    const { gainDb } = JSON.parse(compared) as Comparison;
    const input = stemComparisonInput(song, older, newer, gainDb);
    return input ? { input } : { answer: notMeasured(context, null) };
  }

  /** Has the stems of a version compared in every pair that is compared already; the others are when somebody asks. */
  async function queueComparisons(song: Song, version: Version): Promise<void> {
    const before = versionBefore(song, version);
    const pairs = song.versions
      .filter((each) => versionBefore(song, each) === version)
      .map((after): [Version, Version] => [version, after]);
    if (before) pairs.push([before, version]);
    for (const [older, newer] of pairs) {
      const compared = await services.analyst.result(comparisonInput(song, older, newer));
      const input =
        compared && stemComparisonInput(song, older, newer, (JSON.parse(compared) as Comparison).gainDb);
      if (input) await services.analyst.queue(input);
    }
  }

  /** The file of a checked upload of the sender's, or why there is none. */
  async function uploadedFile(
    context: Context<Access>,
    uploadId: string,
  ): Promise<{ file: VersionFile } | { answer: Response } | null> {
    const upload = await services.uploads.find(uploadId);
    if (
      upload?.purpose !== 'stem' ||
      upload.recordId !== context.get('record').id ||
      upload.songId !== context.get('song').id ||
      upload.personId !== context.get('person').id
    )
      return null;
    const { fileName, byteLength, inspection } = upload;
    if (upload.state === 'refused') {
      const why = inspection?.refusal ?? 'The file was refused.';
      return { answer: problem(context, 'upload_refused', `${fileName}: ${why}`) };
    }
    if (upload.state !== 'ready' || !inspection?.sha256 || !inspection.format)
      return { answer: problem(context, 'upload_not_ready', `${fileName} is still being checked.`) };
    const { sampleRateHz, channelCount, bitDepth } = inspection.format;
    return {
      file: {
        sha256: inspection.sha256,
        fileName,
        byteLength,
        sampleRateHz,
        channelCount,
        bitDepth,
        durationSeconds: inspection.durationSeconds ?? 0,
      },
    };
  }

  /** The stems that are sent: checked uploads, and those that the version had before. */
  async function sentStems(
    context: Context<Access>,
    version: Version,
    sent: z.output<typeof attachSchema>['stems'],
  ): Promise<{ stems: Stem[] } | { answer: Response }> {
    const before = setsOf(context, version).flatMap(({ stems }) => stems);
    const stems: Stem[] = [];
    for (const { uploadId, sha256, name, role } of sent) {
      const uploaded = uploadId === null ? null : await uploadedFile(context, uploadId);
      if (uploaded && 'answer' in uploaded) return uploaded;
      const had = before.find((stem) => uploadId === null && stem.file.sha256 === sha256);
      const file = uploaded?.file ?? had?.file;
      if (!file)
        return {
          answer: problem(
            context,
            'not_found',
            `There is no such upload of yours for ${name}. Upload it again.`,
          ),
        };
      stems.push({ name: name.trim(), role, file });
    }
    return { stems };
  }

  return new Hono<Access>()
    .get(
      '/versions/:version/stems',
      described(
        'The stems of a version, as they were attached; the last ones hold',
        z.object({
          mayAttach: z.boolean(),
          attached: z.array(
            z.object({
              stems: z.array(z.object({ name: z.string(), role: z.enum(stemRoles), file: fileSchema })),
              reason: z.string(),
              at: z.string(),
              by: z.object({ id: z.string(), name: z.string() }),
            }),
          ),
        }),
      ),
      (context) => {
        if (!mayAttach(context)) return refusedTo(context);
        const version = versionOf(context);
        if (!version) return unknown(context);
        return context.json({
          mayAttach: postsAt(context.get('record'), context.get('person'), version.gate),
          attached: setsOf(context, version).map(({ stems, reason, at, by }) => ({
            stems,
            reason,
            at,
            by: nameOf(context.get('record'), by),
          })),
        });
      },
    )
    .post(
      '/versions/:version/stems',
      described(
        'Attach checked uploads as the stems of a version',
        z.object({ sequence: z.number(), facts: z.array(z.string()) }),
      ),
      body(attachSchema) as MiddlewareHandler,
      async (context) => {
        const sent = context.req.valid('json' as never) as z.output<typeof attachSchema>;
        if (!mayAttach(context)) return refusedTo(context);
        const version = versionOf(context);
        if (!version) return unknown(context);
        const idempotency = idempotencyOf(context, sent);
        const song = context.get('song');
        const outcome = await services.intake.inTurn(async () => {
          const found = await sentStems(context, version, sent.stems);
          if ('answer' in found) return found;
          return services.ledger.execute(
            context.get('record').id,
            context.get('person').id,
            {
              type: 'attachStems',
              song: song.id,
              versionId: version.id,
              stems: found.stems,
              reason: sent.reason,
            },
            {
              idempotency,
              alongside: async (writer, _facts, state) => {
                const after = state.songs[song.id];
                const input = after && stemSumInput(after, version);
                if (input) await services.analyst.queueIn(writer, input);
              },
            },
          );
        });
        if ('answer' in outcome) return outcome.answer;
        if (outcome.ok) {
          // The uploads stay known, so that sending again after a lost answer finds them.
          services.analyst.wake();
          const after = (await services.ledger.state(context.get('record').id))?.songs[song.id];
          const own = after?.versions.find(({ id }) => id === version.id);
          if (after && own) await queueComparisons(after, own);
        }
        return answerOutcome(context, outcome);
      },
    )
    .get(
      '/versions/:version/stems/sum',
      described('Whether the stems of a version sum to it', z.looseObject({})),
      async (context) => {
        const version = versionOf(context);
        if (!version) return unknown(context);
        const input = stemSumInput(context.get('song'), version);
        return input
          ? answerAnalysis(services, context, input)
          : problem(context, 'not_found', `${version.name} has no stems.`);
      },
    )
    .post(
      '/versions/:version/stems/sum',
      described('Sum the stems of a version again', pendingSchema, 202),
      body(z.object({})) as MiddlewareHandler,
      async (context) => {
        if (!mayAttach(context)) return refusedTo(context);
        const version = versionOf(context);
        if (!version) return unknown(context);
        const input = stemSumInput(context.get('song'), version);
        if (!input) return problem(context, 'not_found', `${version.name} has no stems.`);
        await services.analyst.queue(input, true);
        return context.json({ state: 'waiting', progress: 0 }, 202);
      },
    )
    .get(
      '/versions/:version/stems/:stem/file',
      described('The exact file of a stem, by its SHA-256', null, 200),
      (context) => {
        if (!mayAttach(context)) return refusedTo(context);
        const version = versionOf(context);
        if (!version) return unknown(context);
        const stem = setsOf(context, version)
          .flatMap(({ stems }) => stems)
          .find(({ file }) => file.sha256 === context.req.param('stem'));
        return stem
          ? serveStored(services, context, stem.file, true)
          : problem(context, 'not_found', `${version.name} has no such stem.`);
      },
    )
    .get(
      '/comparisons/:older/:newer/stems',
      described(
        'What each stem’s gain changed by from one version to another, section by section',
        z.looseObject({}),
      ),
      async (context) => {
        const compared = await comparedStems(context);
        return 'answer' in compared ? compared.answer : answerAnalysis(services, context, compared.input);
      },
    )
    .post(
      '/comparisons/:older/:newer/stems',
      described('Compare two versions stem by stem again', pendingSchema, 202),
      body(z.object({})) as MiddlewareHandler,
      async (context) => {
        if (!mayAttach(context)) return refusedTo(context);
        const compared = await comparedStems(context);
        if ('answer' in compared) return compared.answer;
        await services.analyst.queue(compared.input, true);
        return context.json({ state: 'waiting', progress: 0 }, 202);
      },
    );
}
