import type { VersionView } from '../../api/types.ts';
import type { Inspection } from '../../api/uploads.ts';

/** Of a checked stem, what is held against its print and against the others. */
export interface CheckedStem {
  key: string;
  name: string;
  inspection: Pick<Inspection, 'sha256' | 'format' | 'durationSeconds'> | null;
}

/** As the server's rule has it. */
const lengthToleranceSeconds = 0.5;
const seconds = (value: number) => `${value.toFixed(1)} s`;

/**
 * Why the server would refuse a stem, said beside it before it is sent; `null` where nothing stands in the way.
 *
 * @param print Of the version that the stems are of; `null` while it is not known.
 */
export function stemFault(
  stem: CheckedStem,
  all: readonly CheckedStem[],
  print: Pick<VersionView['file'], 'sha256' | 'sampleRateHz' | 'durationSeconds'> | null,
): string | null {
  const others = all.filter(({ key }) => key !== stem.key);
  const name = stem.name.trim().toLowerCase();
  if (!name) return 'It has no name: say what sounds in it.';
  if (others.some((other) => other.name.trim().toLowerCase() === name))
    return 'Another stem has this name. Give each a name of its own.';
  const { sha256 = null, format = null, durationSeconds = null } = stem.inspection ?? {};
  if (sha256 !== null && others.some(({ inspection }) => inspection?.sha256 === sha256))
    return 'Another stem is the same file, byte by byte. Leave one out.';
  if (!print) return null;
  if (sha256 === print.sha256) return 'This is the print itself, not a stem of it.';
  if (format && format.sampleRateHz !== print.sampleRateHz)
    return `It has ${format.sampleRateHz} Hz, and the print has ${print.sampleRateHz} Hz. Export it at the rate of the print.`;
  if (durationSeconds !== null && Math.abs(durationSeconds - print.durationSeconds) > lengthToleranceSeconds)
    return `It lasts ${seconds(durationSeconds)}, and the print lasts ${seconds(print.durationSeconds)}. Export it from the start of the song to its end.`;
  return null;
}
