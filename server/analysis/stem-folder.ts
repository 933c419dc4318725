import { readdir } from 'node:fs/promises';
import { join, parse } from 'node:path';
import { AudioFileError, openAudio } from '../audio/open-audio.ts';
import { type OpenedStems, openStems, type StemSource, StemsError } from './open-stems.ts';

/** Names of files that hold the whole song without some parts. */
const alternateNames: readonly (readonly [role: string, RegExp])[] = [
  ['instrumental', /^(.*\W)?instrumental(\W.*)?$/i],
  ['a cappella', /^(.*\W)?a\W?cc?app?ell?a(\W.*)?$/i],
  ['other alternate', /^(.*\W)?(tv track|tv mix|clean|main|master)(\W.*)?$/i],
];

/**
 * Takes a folder of audio files as stems, each named by its file, and alternates by what their names say. Files that hold
 * no audio are left out.
 *
 * @throws StemsError
 * @throws AudioFileError where a file is audio, but broken or of a kind that isn't taken
 */
export async function openStemFolder(folder: string): Promise<OpenedStems> {
  const entries = await readdir(folder, { withFileTypes: true }).catch(() => {
    throw new StemsError('no_stems', `The folder ${folder} can't be read.`);
  });
  const sources: StemSource[] = [];
  const notes: string[] = [];
  for (const entry of entries.sort((one, other) => one.name.localeCompare(other.name, 'en'))) {
    if (!entry.isFile() || entry.name.startsWith('.')) continue;
    const path = join(folder, entry.name);
    const { name } = parse(path);
    if (await isAudio(path))
      sources.push({
        name,
        role: alternateNames.find(([, pattern]) => pattern.test(name))?.[0] ?? 'part',
        path,
      });
    else notes.push(`${entry.name} is no audio and was left out.`);
  }
  if (sources.length === 0) throw new StemsError('no_stems', `The folder ${folder} holds no audio files.`);
  const opened = await openStems(sources);
  return { ...opened, notes: [...notes, ...opened.notes] };
}

async function isAudio(path: string): Promise<boolean> {
  try {
    await (await openAudio(path)).close();
    return true;
  } catch (error) {
    if (error instanceof AudioFileError && error.code === 'not_audio') return false;
    throw error;
  }
}
