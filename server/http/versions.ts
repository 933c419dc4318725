import { readFile, stat } from 'node:fs/promises';
import { type Context, Hono, type MiddlewareHandler } from 'hono';
import { z } from 'zod';
import { changeFileName, changeInput, markUsed } from '../analysis/stored-change.ts';
import { seriesFileName } from '../analysis/stored-measurement.ts';
import { entitlements } from '../application/entitlements.ts';
import { comparisonInput, comparisonsBefore, measurementInput } from '../application/song-analysis.ts';
import { versionWarnings } from '../application/version-warnings.ts';
import type { Gate } from '../domain/contract.ts';
import { newestVersion } from '../domain/record.ts';
import type { AnalysisInput, ChangeInput } from '../storage/analysis-store.ts';
import type { StoredPart } from '../storage/audio-store.ts';
import type { Access } from './access.ts';
import { answerAgain, answerAnalysis, notMeasured } from './analysis-answer.ts';
import { answerOutcome, body, described, idempotencyOf } from './command-route.ts';
import { problem } from './problem.ts';
import { gateSchema, idSchema, wordsSchema } from './schemas.ts';
import type { Services } from './services.ts';
import { ranged, serveStored } from './stored-file.ts';

/** Versions: posted, streamed, measured, compared. Mounted below `/records/:record/songs/:song`. */
export function versionRoutes(services: Services): Hono<Access> {
  const versionOf = (context: Context<Access>, name = 'version') =>
    context.get('song').versions.find((version) => version.id === context.req.param(name)) ?? null;
  const unknown = (context: Context) =>
    problem(context, 'version_unknown', 'There is no such version of this song.');

  /** A file that is made of two versions, and what it is kept under. */
  interface ChangeFile {
    input: AnalysisInput;
    path: string;
    size: number;
    etag: string;
  }

  /**
   * The sound or the map of the change between two versions. It is made once somebody asks, and again where it was
   * dropped; until it is there, the answer says how far it has come.
   */
  async function changeFile(
    context: Context<Access>,
    kind: ChangeInput['kind'],
  ): Promise<ChangeFile | { refused: Response }> {
    const older = versionOf(context, 'older');
    const newer = versionOf(context, 'newer');
    if (!older || !newer) return { refused: unknown(context) };
    const stateOf = async (input: AnalysisInput) => [...(await services.analyst.states([input])).values()][0];
    const pending = (state: Awaited<ReturnType<typeof stateOf>>, words: string) => ({
      refused:
        state?.state === 'failed'
          ? notMeasured(context, state.message)
          : problem(context, 'not_ready', words, {
              progress: state?.state === 'running' ? state.progress : 0,
            }),
    });
    const comparison = comparisonInput(context.get('song'), older, newer);
    const compared = await services.analyst.result(comparison);
    if (!compared) {
      await services.analyst.queue(comparison);
      return pending(await stateOf(comparison), 'The two versions are still being compared.');
    }
    const [olderSha256, newerSha256] = [older.file.sha256, newer.file.sha256];
    const input = changeInput(kind, olderSha256, newerSha256, JSON.parse(compared));
    const path = services.audio.changePathOf(olderSha256, newerSha256, changeFileName[kind]);
    // In this order, since a file is there before its work counts as done.
    const state = await stateOf(input);
    const size = await stat(path).then(
      (found) => found.size,
      () => null,
    );
    if (size === null) {
      await services.analyst.queue(input, state?.state === 'ready');
      const what =
        kind === 'change map' ? 'The map is still being drawn.' : 'The change is still being rendered.';
      return pending(state, what);
    }
    await markUsed(path);
    return { input, path, size, etag: `"${newerSha256}-${olderSha256}-${changeFileName[kind]}"` };
  }

  /** Has the sound or the map of a change made again where that failed, or the comparison that it goes by. */
  async function changeAgain(context: Context<Access>, kind: ChangeInput['kind']): Promise<Response> {
    const older = versionOf(context, 'older');
    const newer = versionOf(context, 'newer');
    if (!older || !newer) return unknown(context);
    const comparison = comparisonInput(context.get('song'), older, newer);
    const compared = await services.analyst.result(comparison);
    const input = compared
      ? changeInput(kind, older.file.sha256, newer.file.sha256, JSON.parse(compared))
      : comparison;
    return answerAgain(services, context, input);
  }

  /**
   * A file that was made while measuring, such as the waveform. Where it is missing the version is measured again, also
   * one whose figures are there.
   */
  async function measuredPart(
    context: Context<Access>,
    part: StoredPart,
    cacheControl: string,
    notReady: string,
  ): Promise<Response> {
    const version = versionOf(context);
    if (!version) return unknown(context);
    const { sha256 } = version.file;
    const headers = { etag: `"${sha256}-${part}"`, 'cache-control': cacheControl };
    if (context.req.header('if-none-match') === headers.etag) return context.body(null, 304, headers);
    const bytes = await readFile(services.audio.pathOf(sha256, part)).catch(() => null);
    if (bytes)
      return context.body(new Uint8Array(bytes), 200, {
        ...headers,
        'content-type': 'application/octet-stream',
      });
    const input = measurementInput(context.get('song'), version);
    const [state] = [...(await services.analyst.states([input])).values()];
    if (state?.state === 'failed') return notMeasured(context, state.message);
    await services.analyst.queue(input, state?.state === 'ready');
    return problem(context, 'not_ready', notReady);
  }

  return new Hono<Access>()
    .post(
      '/versions',
      described(
        'Post a checked upload as the next version',
        z.object({ sequence: z.number(), facts: z.array(z.string()) }),
      ),
      body(
        z.object({
          versionId: idSchema,
          uploadId: idSchema,
          gate: gateSchema,
          printNotes: wordsSchema,
          changes: z.array(z.number().int()).max(100),
        }),
      ) as MiddlewareHandler,
      async (context) => {
        const sent = context.req.valid('json' as never) as {
          versionId: string;
          uploadId: string;
          gate: Gate;
          printNotes: string;
          changes: number[];
        };
        const record = context.get('record');
        const song = context.get('song');
        const person = context.get('person');
        if (!entitlements(record, person).includes('postVersion'))
          return problem(context, 'not_entitled', 'Posting versions is for the engineers and the producer.');
        return services.intake.inTurn(async () => {
          const posted = song.versions.find((version) => version.id === sent.versionId);
          const upload = await services.uploads.find(sent.uploadId);
          if (
            !posted &&
            (upload?.purpose !== 'version' || upload.recordId !== record.id || upload.personId !== person.id)
          )
            return problem(context, 'not_found', 'There is no such upload of yours. Upload the file again.');
          const inspection = upload?.inspection;
          if (upload?.state === 'refused')
            return problem(context, 'upload_refused', inspection?.refusal ?? 'The file was refused.');
          if (!posted && (upload?.state !== 'ready' || !inspection?.sha256 || !inspection.format))
            return problem(
              context,
              'upload_not_ready',
              'The file is still being checked. It takes a few seconds.',
            );
          const file = posted?.file ?? {
            sha256: inspection?.sha256 ?? '',
            fileName: upload?.fileName ?? '',
            byteLength: upload?.byteLength ?? 0,
            sampleRateHz: inspection?.format?.sampleRateHz ?? 0,
            channelCount: inspection?.format?.channelCount ?? 0,
            bitDepth: inspection?.format?.bitDepth ?? null,
            durationSeconds: inspection?.durationSeconds ?? 0,
          };
          const outcome = await services.ledger.execute(
            record.id,
            person.id,
            {
              type: 'postVersion',
              song: song.id,
              gate: sent.gate,
              versionId: sent.versionId,
              file,
              printNotes: sent.printNotes,
              warnings: inspection ? versionWarnings(song, sent.gate, inspection) : [],
              changes: sent.changes,
            },
            {
              idempotency: idempotencyOf(context, sent),
              alongside: async (writer, _facts, state) => {
                const after = state.songs[song.id];
                const newest = after && newestVersion(after, sent.gate);
                if (!after || !newest) return;
                for (const input of [measurementInput(after, newest), ...comparisonsBefore(after, newest)])
                  await services.analyst.queueIn(writer, input);
              },
            },
          );
          services.analyst.wake();
          if (outcome.ok && upload) await services.uploads.remove(upload.id);
          return answerOutcome(context, outcome);
        });
      },
    )
    .get('/versions/:version/audio', described('Listen to a version', null, 200), async (context) => {
      const version = versionOf(context);
      return version ? serveStored(services, context, version.file, false) : unknown(context);
    })
    .get('/versions/:version/file', described('The exact file of a version', null, 200), async (context) => {
      const version = versionOf(context);
      return version ? serveStored(services, context, version.file, true) : unknown(context);
    })
    .get(
      '/versions/:version/waveform',
      described('The waveform, as peaks.js reads it', z.unknown(), 200, 'application/octet-stream'),
      (context) =>
        measuredPart(
          context,
          'waveform.dat',
          'private, max-age=31536000, immutable',
          'The waveform is still being drawn.',
        ),
    )
    .get(
      '/versions/:version/series',
      described(
        'Loudness, true peak and bands over time, one value a tenth of a second: `SER1`, then columns of int16',
        z.unknown(),
        200,
        'application/octet-stream',
      ),
      // Asked for anew each time, since another engine measures another series under the same address.
      (context) =>
        measuredPart(
          context,
          seriesFileName,
          'private, no-cache',
          'The figures over time are still being measured.',
        ),
    )
    .get(
      '/versions/:version/measurement',
      described('What was measured of a version', z.looseObject({})),
      async (context) => {
        const version = versionOf(context);
        return version
          ? answerAnalysis(services, context, measurementInput(context.get('song'), version))
          : unknown(context);
      },
    )
    .post(
      '/versions/:version/measurement',
      described('Measure a version again', z.looseObject({}), 202),
      body(z.object({})) as MiddlewareHandler,
      async (context) => {
        const version = versionOf(context);
        if (!version) return unknown(context);
        if (!entitlements(context.get('record'), context.get('person')).includes('postVersion'))
          return problem(context, 'not_entitled', 'Measuring again is for the engineers and the producer.');
        await services.analyst.queue(measurementInput(context.get('song'), version), true);
        return context.json({ state: 'waiting', progress: 0 }, 202);
      },
    )
    .get(
      '/versions/:version/sections-proposal',
      described(
        'Sections and tempo proposed from the audio of a version; nothing is named by it',
        z.looseObject({}),
      ),
      async (context) => {
        const version = versionOf(context);
        if (!version) return unknown(context);
        if (!entitlements(context.get('record'), context.get('person')).includes('nameSections'))
          return problem(context, 'not_entitled', 'Naming sections is for the engineers and the producer.');
        return answerAnalysis(services, context, { kind: 'sections', sha256: version.file.sha256 });
      },
    )
    .post(
      '/versions/:version/sections-proposal',
      described('Go through the audio of a version again, where that failed', z.looseObject({}), 202),
      body(z.object({})) as MiddlewareHandler,
      async (context) => {
        const version = versionOf(context);
        if (!version) return unknown(context);
        if (!entitlements(context.get('record'), context.get('person')).includes('nameSections'))
          return problem(context, 'not_entitled', 'Naming sections is for the engineers and the producer.');
        return answerAgain(services, context, { kind: 'sections', sha256: version.file.sha256 });
      },
    )
    .get(
      '/comparisons/:older/:newer',
      described('What changed from one version to another', z.looseObject({})),
      async (context) => {
        const older = versionOf(context, 'older');
        const newer = versionOf(context, 'newer');
        if (!older || !newer) return unknown(context);
        return answerAnalysis(services, context, comparisonInput(context.get('song'), older, newer));
      },
    )
    .get(
      '/comparisons/:older/:newer/change',
      described('The change from one version to another, to be heard alone', null, 200),
      async (context) => {
        const file = await changeFile(context, 'change sound');
        if ('refused' in file) return file.refused;
        const headers = {
          etag: file.etag,
          'accept-ranges': 'bytes',
          'cache-control': 'private, no-cache',
          'content-type': 'audio/wav',
          'content-security-policy': 'sandbox',
        };
        return ranged(services, context, file.path, file.size, headers);
      },
    )
    .post(
      '/comparisons/:older/:newer/change',
      described('Render the change again, where that failed', z.looseObject({}), 202),
      body(z.object({})) as MiddlewareHandler,
      (context) => changeAgain(context, 'change sound'),
    )
    .get(
      '/comparisons/:older/:newer/change/figures',
      described('At which gain and level the change is heard alone', z.looseObject({ gainDb: z.number() })),
      async (context) => {
        const file = await changeFile(context, 'change sound');
        return 'refused' in file ? file.refused : answerAnalysis(services, context, file.input);
      },
    )
    .get(
      '/comparisons/:older/:newer/map',
      described(
        'Where in time and frequency two versions differ: `MAP1`, then rows of int8',
        z.unknown(),
        200,
        'application/octet-stream',
      ),
      async (context) => {
        const file = await changeFile(context, 'change map');
        if ('refused' in file) return file.refused;
        const headers = { etag: file.etag, 'cache-control': 'private, no-cache' };
        if (context.req.header('if-none-match') === file.etag) return context.body(null, 304, headers);
        return context.body(new Uint8Array(await readFile(file.path)), 200, {
          ...headers,
          'content-type': 'application/octet-stream',
        });
      },
    )
    .post(
      '/comparisons/:older/:newer/map',
      described('Draw the map of the change again, where that failed', z.looseObject({}), 202),
      body(z.object({})) as MiddlewareHandler,
      (context) => changeAgain(context, 'change map'),
    );
}
