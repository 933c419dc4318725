import { readdir } from 'node:fs/promises';
import { join, parse } from 'node:path';
import { AudioFileError, type AudioReader, openAudio, readWhole } from '../audio/open-audio.ts';
import { readTogether } from '../audio/read-together.ts';
import { MeasurementError } from '../measurement/measurement-error.ts';
import type { StemSet } from '../measurement/stem-comparison.ts';

/** The stems in a folder, and the alternates that stand beside them. */
export interface StemFolder {
  /** The parts, each a file; where the folder holds alternates only, those. */
  stems: StemSet;
  /** Instrumental and a cappella beside the parts; `null` where the folder lacks them, or holds nothing else. */
  alternates: StemSet | null;
  /** What was left out, and why. */
  notes: string[];
}

/**
 * Why a folder can't be taken as stems.
 * - `no_stems`: it holds no audio files, or can't be read.
 * - `channel_counts_differ`: a file is neither mono nor stereo.
 * - `sample_rates_differ`: the files have several sample rates.
 * - `names_repeat`: two files have one name but for their ending.
 */
export type StemFolderErrorCode =
  | 'no_stems'
  | 'channel_counts_differ'
  | 'sample_rates_differ'
  | 'names_repeat';

export class StemFolderError extends MeasurementError {
  declare readonly code: StemFolderErrorCode;

  constructor(code: StemFolderErrorCode, message: string) {
    super(code, message);
    this.name = 'StemFolderError';
  }
}

/** Files that hold the whole song without some parts: their sum with the parts would count those twice. */
const instrumental = /^(.*\W)?instrumental(\W.*)?$/i;
const aCappella = /^(.*\W)?a\W?cc?app?ell?a(\W.*)?$/i;
const otherAlternate = /^(.*\W)?(tv track|tv mix|clean|main|master)(\W.*)?$/i;

interface StemFile {
  name: string;
  path: string;
  sampleRateHz: number;
  frames: number;
}

/**
 * Takes a folder of audio files as stems, each named by its file. Files that hold no audio are left out. Where there
 * are parts beside an instrumental and an a cappella, the two are a set of their own.
 *
 * @throws StemFolderError
 * @throws AudioFileError where a file is audio, but broken or of a kind that isn't taken
 */
export async function openStemFolder(folder: string): Promise<StemFolder> {
  const notes: string[] = [];
  const entries = await readdir(folder, { withFileTypes: true }).catch(() => {
    throw new StemFolderError('no_stems', `The folder ${folder} can't be read.`);
  });
  const files: StemFile[] = [];
  for (const entry of entries.sort((one, other) => one.name.localeCompare(other.name, 'en'))) {
    if (!entry.isFile() || entry.name.startsWith('.')) continue;
    const file = await stemFile(join(folder, entry.name));
    if (file) files.push(file);
    else notes.push(`${entry.name} is no audio and was left out.`);
  }
  if (files.length === 0) throw new StemFolderError('no_stems', `The folder ${folder} holds no audio files.`);
  const repeated = files.find(({ name }, index) => files.findIndex((one) => one.name === name) !== index);
  if (repeated)
    throw new StemFolderError('names_repeat', `Two files in ${folder} are named ${repeated.name}.`);
  const rates = [...new Set(files.map(({ sampleRateHz }) => sampleRateHz))];
  if (rates.length > 1)
    throw new StemFolderError(
      'sample_rates_differ',
      `The stems in ${folder} have several sample rates (${rates.join(', ')} Hz). Export all at one.`,
    );
  const pair = [instrumental, aCappella].map((pattern) => files.find(({ name }) => pattern.test(name)));
  const parts = files.filter(
    ({ name }) => ![instrumental, aCappella, otherAlternate].some((pattern) => pattern.test(name)),
  );
  if (parts.length < 2 && pair[0] && pair[1]) {
    const both = [pair[0], pair[1]];
    noteLeftOut(files, both, notes);
    return { stems: setOf(both), alternates: null, notes };
  }
  const used = parts.length > 0 ? parts : files;
  const alternates = pair[0] && pair[1] ? [pair[0], pair[1]] : [];
  noteLeftOut(files, [...used, ...alternates], notes);
  return {
    stems: setOf(used),
    alternates: alternates.length > 0 ? setOf(alternates) : null,
    notes,
  };
}

function noteLeftOut(files: readonly StemFile[], used: readonly StemFile[], notes: string[]): void {
  for (const file of files)
    if (!used.includes(file))
      notes.push(`${file.name} is taken for an alternate of the whole song and was left out.`);
}

async function stemFile(path: string): Promise<StemFile | null> {
  let reader: AudioReader;
  try {
    reader = await openAudio(path);
  } catch (error) {
    if (error instanceof AudioFileError && error.code === 'not_audio') return null;
    throw error;
  }
  try {
    const { sampleRateHz, channelCount, frameCount } = reader.format;
    const { name } = parse(path);
    if (channelCount > 2)
      throw new StemFolderError(
        'channel_counts_differ',
        `The stem ${name} has ${channelCount} channels. Only mono and stereo stems are taken.`,
      );
    return { name, path, sampleRateHz, frames: frameCount ?? 0 };
  } finally {
    await reader.close();
  }
}

function setOf(files: readonly StemFile[]): StemSet {
  return {
    names: files.map(({ name }) => name),
    sampleRateHz: files[0]!.sampleRateHz,
    frames: Math.max(...files.map(({ frames }) => frames)),
    async stream(onStems) {
      const readers: AudioReader[] = [];
      try {
        for (const { path } of files) readers.push(await openAudio(path));
        await readTogether(readers, onStems);
      } finally {
        await Promise.all(readers.map((reader) => reader.close()));
      }
    },
    async whole(name) {
      const { channels } = await readWhole(files.find((file) => file.name === name)!.path);
      return [channels[0]!, channels[1] ?? channels[0]!];
    },
  };
}
