import { type Context, Hono } from 'hono';
import { z } from 'zod';
import { analysisKey } from '../analysis/analysis-key.ts';
import { askedAndChanged, roundsBetween } from '../application/asked-and-changed.ts';
import { notePlaces } from '../application/note-places.ts';
import { comparisonInput, stemComparisonInput, versionBefore } from '../application/song-analysis.ts';
import type { Song } from '../domain/record.ts';
import { isSent, type SentRound } from '../domain/round.ts';
import { type Version, versionName } from '../domain/version.ts';
import type { Comparison } from '../measurement/comparison.ts';
import type { StemComparison } from '../measurement/stem-comparison.ts';
import type { ComparedFiles } from '../measurement/timeline-position.ts';
import type { AnalysisInput } from '../storage/analysis-store.ts';
import type { Access } from './access.ts';
import { commandRoute, described } from './command-route.ts';
import { problem } from './problem.ts';
import { gateSchema, rangeSchema, wordsSchema } from './schemas.ts';
import type { Services } from './services.ts';

const askedSchema = z.looseObject({
  answersList: z.boolean(),
  asked: z.array(z.looseObject({ requestId: z.string(), verdict: z.string(), figure: z.string() })),
  unasked: z.array(z.looseObject({ where: z.string(), figures: z.string() })),
});

/** What was asked beside what changed, and where notes stand. Mounted below `/records/:record/songs/:song`. */
export function askedRoutes(services: Services): Hono<Access> {
  const versionOf = (context: Context<Access>, name: string) =>
    context.get('song').versions.find((version) => version.id === context.req.param(name)) ?? null;
  const unknown = (context: Context) =>
    problem(context, 'version_unknown', 'There is no such version of this song.');

  /** The pieces that two files share, once compared; under the comparison's key nothing changes them any more. */
  const pieces = new Map<string, ComparedFiles>();

  async function comparedFiles(song: Song, older: Version, newer: Version): Promise<ComparedFiles | null> {
    const input = comparisonInput(song, older, newer);
    const key = analysisKey(input);
    const known = pieces.get(key);
    if (known) return known;
    const stored = await services.analyst.result(input);
    if (!stored) return null;
    const { alignment } = JSON.parse(stored) as Comparison;
    const found = { older: older.file.sha256, newer: newer.file.sha256, pieces: alignment.pieces };
    pieces.set(key, found);
    return found;
  }

  /**
   * What is compared among a song's files that can lead to one version: each version with the one before it, and each
   * with the version itself. What the chain lacks is queued.
   */
  async function chainTo(song: Song, heard: Version): Promise<ComparedFiles[]> {
    const at = song.versions.indexOf(heard);
    const pairs = song.versions.flatMap((version, index): [Version, Version, boolean][] => {
      const before = versionBefore(song, version);
      const direct: [Version, Version, boolean][] =
        index < at || at < 0 ? [[version, heard, false]] : index > at ? [[heard, version, false]] : [];
      return before ? [...direct, [before, version, true]] : direct;
    });
    const found = await Promise.all(
      pairs.map(async ([older, newer, needed]) => {
        const files = await comparedFiles(song, older, newer);
        if (!files && needed) await services.analyst.queue(comparisonInput(song, older, newer));
        return files;
      }),
    );
    return found.filter((each) => each !== null);
  }

  /** What the stems of two compared versions tell, or how far that has come; `null` where neither has any. */
  async function toldByStems(
    song: Song,
    older: Version,
    newer: Version,
    { gainDb }: Comparison,
  ): Promise<StemComparison | 'pending' | 'failed' | null> {
    const input = stemComparisonInput(song, older, newer, gainDb);
    if (!input) return null;
    const stored = await services.analyst.result(input);
    if (stored) return JSON.parse(stored) as StemComparison;
    const [state] = [...(await services.analyst.states([input])).values()];
    if (state?.state === 'failed') return 'failed';
    if (!state) await services.analyst.queue(input);
    return 'pending';
  }

  async function answer(
    context: Context<Access>,
    older: Version,
    newer: Version,
    rounds: readonly SentRound[],
  ): Promise<Response> {
    const song = context.get('song');
    const input: AnalysisInput = comparisonInput(song, older, newer);
    const stored = await services.analyst.result(input);
    const [state] = stored ? [] : [...(await services.analyst.states([input])).values()];
    if (!stored && state?.state !== 'failed') {
      if (!state) await services.analyst.queue(input);
      return context.json({ state: state?.state ?? 'waiting', progress: state?.progress ?? 0 }, 202);
    }
    const comparison = stored ? (JSON.parse(stored) as Comparison) : null;
    return context.json(
      askedAndChanged({
        record: context.get('record'),
        song,
        reader: context.get('person'),
        older,
        newer,
        rounds,
        comparison,
        stems: comparison && (await toldByStems(song, older, newer, comparison)),
        fault: stored ? null : (state?.message ?? 'The two versions could not be compared.'),
        compared: await chainTo(song, older),
      }),
    );
  }

  return new Hono<Access>()
    .get(
      '/comparisons/:older/:newer/asked',
      described('What was asked between two versions, and what changed that nobody asked for', askedSchema),
      async (context) => {
        const older = versionOf(context, 'older');
        const newer = versionOf(context, 'newer');
        if (!older || !newer) return unknown(context);
        return answer(context, older, newer, roundsBetween(context.get('song'), older, newer));
      },
    )
    .post(
      '/comparisons/:older/:newer/explanations',
      ...commandRoute(
        services,
        'Explain a change that nobody asked for',
        z.object({ place: rangeSchema, text: wordsSchema }),
        ({ place, text }, context) => ({
          type: 'explainChange',
          song: context.get('song').id,
          olderVersionId: context.req.param('older') ?? '',
          newerVersionId: context.req.param('newer') ?? '',
          place,
          text,
        }),
      ),
    )
    .get(
      '/uploads/:upload/asked',
      described('The same for a checked upload, before it is posted as the next version', askedSchema),
      async (context) => {
        const song = context.get('song');
        const person = context.get('person');
        const upload = await services.uploads.find(context.req.param('upload'));
        const gate = gateSchema.safeParse(upload?.gate).data;
        if (
          !gate ||
          upload?.purpose !== 'version' ||
          upload.recordId !== context.get('record').id ||
          upload.songId !== song.id ||
          upload.personId !== person.id
        )
          return problem(context, 'not_found', 'There is no such upload of yours.');
        const { inspection } = upload;
        if (upload.state !== 'ready' || !inspection?.sha256 || !inspection.format)
          return problem(context, 'upload_not_ready', 'The file is still being checked.');
        const number = song.versions.filter((version) => version.gate === gate).length + 1;
        const round = song.rounds.filter(isSent).findLast((each) => each.gate === gate);
        const awaited = round?.status === 'sent' ? round : null;
        const next: Version = {
          id: upload.id,
          gate,
          number,
          name: versionName(gate, number),
          file: {
            sha256: inspection.sha256,
            fileName: upload.fileName,
            byteLength: upload.byteLength,
            sampleRateHz: inspection.format.sampleRateHz,
            channelCount: inspection.format.channelCount,
            bitDepth: inspection.format.bitDepth,
            durationSeconds: inspection.durationSeconds ?? 0,
          },
          printNotes: '',
          warnings: [],
          postedAt: services.now(),
          postedBy: person.id,
          answersRound: awaited?.number ?? null,
          changes: [],
        };
        const older = versionBefore({ ...song, versions: [...song.versions, next] }, next);
        if (!older) return problem(context, 'version_unknown', 'There is no version before this one.');
        return answer(context, older, next, awaited ? [awaited] : []);
      },
    )
    .get(
      '/versions/:version/note-places',
      described(
        'Where the notes on other versions stand in one',
        z.object({
          places: z.array(
            z.object({ noteId: z.string(), range: rangeSchema, left: z.string(), seconds: z.number() }),
          ),
        }),
      ),
      async (context) => {
        const version = versionOf(context, 'version');
        if (!version) return unknown(context);
        const song = context.get('song');
        return context.json({ places: notePlaces(song, version, await chainTo(song, version)) });
      },
    );
}
