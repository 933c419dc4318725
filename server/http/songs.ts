import { Hono } from 'hono';
import { z } from 'zod';
import { analysisKey } from '../analysis/analysis-key.ts';
import { comparisonsBefore, measurementInput } from '../application/song-analysis.ts';
import { type AnalysisState, songSheet } from '../application/song-sheet.ts';
import type { Song } from '../domain/record.ts';
import { type Access, requireSong } from './access.ts';
import { askedRoutes } from './asked.ts';
import { changeRoutes } from './changes.ts';
import { commandRoute, described } from './command-route.ts';
import { gateRoutes } from './gates.ts';
import { noteRoutes } from './notes.ts';
import { roundRoutes } from './rounds.ts';
import { idSchema, sectionsSchema, shortWordsSchema } from './schemas.ts';
import type { Services } from './services.ts';
import { stemRoutes } from './stems.ts';
import { versionRoutes } from './versions.ts';

/** How far each version of a song has been measured, with the two figures that every page shows, by SHA-256. */
async function analysisStates(services: Services, song: Song): Promise<Map<string, AnalysisState>> {
  const inputs = song.versions.map((version) => measurementInput(song, version));
  const hashes = song.versions.map((version) => version.file.sha256);
  const [states, listening] = await Promise.all([
    services.analyst.states(inputs),
    services.audio.listening(hashes),
  ]);
  return new Map(
    inputs.map((input, index): [string, AnalysisState] => {
      const sha256 = hashes[index] ?? '';
      const { state, progress, message, integratedLoudnessLufs, truePeakDbtp } = {
        ...unmeasured,
        ...states.get(analysisKey(input)),
      };
      return [
        sha256,
        {
          state,
          progress,
          message,
          integratedLoudnessLufs,
          truePeakDbtp,
          listening: listening.get(sha256) ?? null,
        },
      ];
    }),
  );
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
          const newestFirst = [...song.versions].reverse();
          const inputs = [
            ...newestFirst.map((version) => measurementInput(song, version)),
            ...newestFirst.slice(0, 1).flatMap((newest) => comparisonsBefore(song, newest)),
          ];
          for (const input of inputs) await services.analyst.queueIn(writer, input);
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
    .post(
      '/songs/:song/parts/answers',
      ...commandRoute(
        services,
        'Answer whether a part is in the recording',
        z.object({ part: shortWordsSchema, delivered: z.boolean() }),
        (sent, context) => ({ type: 'answerPartQuestion', song: context.get('song').id, ...sent }),
      ),
    )
    .route('/songs/:song', noteRoutes(services))
    .route('/songs/:song', roundRoutes(services))
    .route('/songs/:song', changeRoutes(services))
    .route('/songs/:song', gateRoutes(services))
    .route('/songs/:song', versionRoutes(services))
    .route('/songs/:song', stemRoutes(services))
    .route('/songs/:song', askedRoutes(services));
}
