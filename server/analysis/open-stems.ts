import { type AudioReader, openAudio, readWhole } from '../audio/open-audio.ts';
import { readTogether } from '../audio/read-together.ts';
import { MeasurementError } from '../measurement/measurement-error.ts';
import type { StemSet } from '../measurement/stem-comparison.ts';

/** One stem as a file. */
export interface StemSource {
  name: string;
  /** `part`; `instrumental` and `a cappella`, which sum with each other; else another alternate of the whole song. */
  role: string;
  path: string;
}

/** The stems of one version, ready to be read. */
export interface OpenedStems {
  /** The parts, each a file; where there are alternates only, those. */
  stems: StemSet;
  /** Instrumental and a cappella beside the parts; `null` where one is missing, or there is nothing else. */
  alternates: StemSet | null;
  /** What was left out, and why. */
  notes: string[];
}

/**
 * Why files can't be taken as stems.
 * - `no_stems`: there are none, or their folder can't be read.
 * - `channel_counts_differ`: a file is neither mono nor stereo.
 * - `sample_rates_differ`: the files have several sample rates.
 * - `names_repeat`: two files have one name.
 */
export type StemsErrorCode = 'no_stems' | 'channel_counts_differ' | 'sample_rates_differ' | 'names_repeat';

export class StemsError extends MeasurementError {
  declare readonly code: StemsErrorCode;

  constructor(code: StemsErrorCode, message: string) {
    super(code, message);
    this.name = 'StemsError';
  }
}

interface StemFile extends StemSource {
  sampleRateHz: number;
  frames: number;
}

/**
 * Opens files as stems. Where there are parts beside an instrumental and an a cappella, the two are a set of their own;
 * other alternates are left out, since their sum with the parts would count those twice.
 *
 * @param onShare Told what share of a set was read just now, 1 for the whole of it; each set is read several times.
 * @throws StemsError
 * @throws AudioFileError where a file is no audio, broken, or of a kind that isn't taken
 */
export async function openStems(
  sources: readonly StemSource[],
  onShare: (share: number) => void = () => {},
): Promise<OpenedStems> {
  if (sources.length === 0) throw new StemsError('no_stems', 'There are no stems.');
  const repeated = sources.find(({ name }, index) => sources.findIndex((one) => one.name === name) !== index);
  if (repeated) throw new StemsError('names_repeat', `Two stems are named ${repeated.name}.`);
  const files: StemFile[] = [];
  for (const source of sources) files.push(await stemFile(source));
  const rates = [...new Set(files.map(({ sampleRateHz }) => sampleRateHz))];
  if (rates.length > 1)
    throw new StemsError(
      'sample_rates_differ',
      `The stems have several sample rates (${rates.join(', ')} Hz). Export all at one.`,
    );
  const pair = ['instrumental', 'a cappella'].flatMap(
    (wanted) => files.find(({ role }) => role === wanted) ?? [],
  );
  const parts = files.filter(({ role }) => role === 'part');
  const alternates = pair.length === 2 ? pair : [];
  const pairAlone = parts.length < 2 && alternates.length > 0;
  const used = pairAlone ? alternates : parts.length > 0 ? parts : files;
  return {
    stems: setOf(used, onShare),
    alternates: !pairAlone && alternates.length > 0 ? setOf(alternates, onShare) : null,
    notes: files
      .filter((file) => !used.includes(file) && !alternates.includes(file))
      .map(({ name }) => `${name} is taken for an alternate of the whole song and was left out.`),
  };
}

async function stemFile(source: StemSource): Promise<StemFile> {
  const reader = await openAudio(source.path);
  try {
    const { sampleRateHz, channelCount, frameCount } = reader.format;
    if (channelCount > 2)
      throw new StemsError(
        'channel_counts_differ',
        `The stem ${source.name} has ${channelCount} channels. Only mono and stereo stems are taken.`,
      );
    return { ...source, sampleRateHz, frames: frameCount ?? 0 };
  } finally {
    await reader.close();
  }
}

function setOf(files: readonly StemFile[], onShare: (share: number) => void): StemSet {
  const frames = Math.max(...files.map((file) => file.frames));
  return {
    names: files.map(({ name }) => name),
    sampleRateHz: files[0]!.sampleRateHz,
    frames,
    async stream(onStems) {
      const readers: AudioReader[] = [];
      try {
        for (const { path } of files) readers.push(await openAudio(path));
        await readTogether(readers, (stems, count) => {
          onStems(stems, count);
          onShare(count / Math.max(frames, count));
        });
      } finally {
        await Promise.all(readers.map((reader) => reader.close()));
      }
    },
    async whole(name) {
      const { channels } = await readWhole(files.find((file) => file.name === name)!.path);
      onShare(1 / files.length);
      return [channels[0]!, channels[1] ?? channels[0]!];
    },
  };
}
