import { Hono } from 'hono';
import { z } from 'zod';
import { measurementKey } from '../analysis/analysis-key.ts';
import { sectionSpans } from '../application/section-spans.ts';
import { type AnalysisState, songSheet } from '../application/song-sheet.ts';
import type { Song } from '../domain/record.ts';
import { type Access, requireSong } from './access.ts';
import { changeRoutes } from './changes.ts';
import { commandRoute, described } from './command-route.ts';
import { gateRoutes } from './gates.ts';
import { noteRoutes } from './notes.ts';
import { roundRoutes } from './rounds.ts';
import { idSchema, sectionsSchema, shortWordsSchema } from './schemas.ts';
import type { Services } from './services.ts';
import { versionBefore, versionRoutes } from './versions.ts';

/** How far each version of a song has been measured, with the two figures that every page shows. */
async function analysisStates(services: Services, song: Song): Promise<Map<string, AnalysisState>> {
  const sections = sectionSpans(song.sectionMap);
  const inputs = song.versions.map((version) => ({
    kind: 'measurement' as const,
    sha256: version.file.sha256,
    sections,
  }));
  const states = await services.analyst.states(inputs);
  const found = await Promise.all(
    song.versions.map(async ({ file: { sha256 } }): Promise<[string, AnalysisState]> => {
      const analysis = states.get(measurementKey(sha256, sections));
      const input = { kind: 'measurement' as const, sha256, sections };
      const result = analysis?.state === 'ready' ? await services.analyst.result(input) : null;
      const figures = result ? JSON.parse(result) : null;
      const file = await services.audio.find(sha256);
      return [
        sha256,
        {
          state: analysis?.state ?? 'waiting',
          progress: analysis?.progress ?? 0,
          message: analysis?.message ?? null,
          integratedLoudnessLufs: figures?.integratedLoudnessLufs ?? null,
          truePeakDbtp: figures?.truePeakDbtp ?? null,
          listening: file?.listening ?? null,
        },
      ];
    }),
  );
  return new Map(found);
}

const unmeasured: AnalysisState = {
  state: 'waiting',
  progress: 0,
  message: null,
  integratedLoudnessLufs: null,
  truePeakDbtp: null,
  listening: null,
};

/** Songs and everything below them. Mounted below `/records/:record`. */
export function songRoutes(services: Services): Hono<Access> {
  return new Hono<Access>()
    .post(
      '/songs',
      ...commandRoute(
        services,
        'Add a song',
        z.object({ songId: idSchema, title: shortWordsSchema }),
        ({ songId, title }) => ({
          type: 'addSong',
          song: songId,
          title,
        }),
      ),
    )
    .use('/songs/:song', requireSong)
    .use('/songs/:song/*', requireSong)
    .get('/songs/:song', described('A song as its reader sees it', z.looseObject({})), async (context) => {
      const song = context.get('song');
      const states = await analysisStates(services, song);
      return context.json(
        songSheet(
          context.get('record'),
          song,
          context.get('person'),
          services.now(),
          (version) => states.get(version.file.sha256) ?? unmeasured,
        ),
      );
    })
    .put(
      '/songs/:song',
      ...commandRoute(
        services,
        'Rename a song',
        z.object({ title: shortWordsSchema }),
        ({ title }, context) => ({
          type: 'renameSong',
          song: context.get('song').id,
          title,
        }),
      ),
    )
    .put(
      '/songs/:song/sections',
      ...commandRoute(
        services,
        'Name the sections',
        z.object({
          sections: sectionsSchema,
          tempoBpm: z.number().nullable(),
          beatsPerBar: z.number().int().min(1).max(32).nullable(),
          firstBarSeconds: z.number().min(0).max(600),
          basedOnRevision: z.number().int().min(0),
        }),
        (sent, context) => ({ type: 'nameSections', song: context.get('song').id, ...sent }),
        (context) => async (writer, _facts, state) => {
          const song = state.songs[context.get('song').id];
          if (!song) return;
          const sections = sectionSpans(song.sectionMap);
          for (const version of [...song.versions].reverse())
            await services.analyst.queueIn(writer, {
              kind: 'measurement',
              sha256: version.file.sha256,
              sections,
            });
          const newest = song.versions.at(-1);
          const before = newest && versionBefore(song, newest);
          if (newest && before)
            await services.analyst.queueIn(writer, {
              kind: 'comparison',
              olderSha256: before.file.sha256,
              newerSha256: newest.file.sha256,
              sections,
            });
        },
      ),
    )
    .put(
      '/songs/:song/parts',
      ...commandRoute(
        services,
        'List the parts of a song',
        z.object({ parts: z.array(z.object({ name: shortWordsSchema, delivered: z.boolean() })).max(300) }),
        ({ parts }, context) => ({ type: 'nameParts', song: context.get('song').id, parts }),
      ),
    )
    .route('/songs/:song', noteRoutes(services))
    .route('/songs/:song', roundRoutes(services))
    .route('/songs/:song', changeRoutes(services))
    .route('/songs/:song', gateRoutes(services))
    .route('/songs/:song', versionRoutes(services));
}
