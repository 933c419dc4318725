import { sameValue } from './canonical-json.ts';
import { posters } from './decide-version.ts';
import type { Fact } from './ledger-entry.ts';
import { mostParts, type Part, type Song } from './record.ts';
import { refuse, requireReason, requireRole, songOf, versionOf } from './refused.ts';
import type { Rules } from './rule.ts';
import { longestStemName, mostStems, type Stem, stemLengthToleranceSeconds, stemsOf } from './stem.ts';
import type { Version } from './version.ts';

const sameName = (one: string, other: string) => one.trim().toLowerCase() === other.trim().toLowerCase();

function requireStems(stems: readonly Stem[], version: Version): void {
  if (!stems.length) refuse('malformed', 'There are no stems in this. Upload at least one.');
  for (const { name, file } of stems) {
    if (!name.trim()) refuse('malformed', `The stem ${file.fileName} has no name. Say what sounds in it.`);
    if (name.length > longestStemName)
      refuse('malformed', `The name of a stem holds up to ${longestStemName} characters: “${name}”.`);
  }
  if (stems.length > mostStems)
    refuse(
      'stems_too_many',
      `A version takes up to ${mostStems} stems, and these are ${stems.length}. Print groups together.`,
    );
  const repeated = stems.find(({ name }, index) =>
    stems.slice(0, index).some((each) => sameName(each.name, name)),
  );
  if (repeated)
    refuse('stem_repeated', `Two stems are named “${repeated.name}”. Give each a name of its own.`);
  const files = new Map([[version.file.sha256, version.name]]);
  for (const { name, file } of stems) {
    const known = files.get(file.sha256);
    if (known !== undefined)
      refuse(
        'stem_repeated',
        `“${name}” and “${known}” are the same file, byte by byte. Leave one out, or choose the right file.`,
      );
    files.set(file.sha256, name);
  }
  const print = version.file;
  for (const { name, file } of stems)
    if (file.sampleRateHz !== print.sampleRateHz)
      refuse(
        'stem_rate_differs',
        `“${name}” has ${file.sampleRateHz} Hz, and ${version.name} has ${print.sampleRateHz} Hz. Export it at the rate of the print.`,
      );
  for (const { name, file } of stems)
    if (Math.abs(file.durationSeconds - print.durationSeconds) > stemLengthToleranceSeconds)
      refuse(
        'stem_length_differs',
        `“${name}” lasts ${file.durationSeconds.toFixed(1)} s, and ${version.name} lasts ${print.durationSeconds.toFixed(1)} s. Export it from the start of the song to its end.`,
      );
}

/** The song's parts with those that sound in stems: what has a stem is in the recording. */
function partsWith({ parts }: Song, stems: readonly Stem[]): Part[] {
  const found = parts.map((part) =>
    stems.some(({ name, role }) => role === 'part' && sameName(name, part.name))
      ? { ...part, delivered: true }
      : part,
  );
  const added = stems
    .filter(({ name, role }) => role === 'part' && !parts.some((part) => sameName(part.name, name)))
    .map(({ name }): Part => ({ name: name.trim(), delivered: true }));
  return [...found, ...added].slice(0, Math.max(parts.length, mostParts));
}

/** Attaching the stems of a version, all at once; another set replaces them with a reason, and both stay on the record. */
export const decideStems: Rules<'attachStems'> = {
  attachStems: ({ record, person, command: { song: songId, versionId, stems, reason } }) => {
    const song = songOf(record, songId);
    const version = versionOf(song, versionId);
    requireRole(record, person, posters[version.gate], `Attaching stems to ${version.name}`);
    requireStems(stems, version);
    const before = stemsOf(song, versionId);
    if (before && sameValue(before.stems, stems)) return [];
    if (before) requireReason(reason, `Replacing the stems of ${version.name}`);
    const attached: Fact = {
      type: 'stemsAttached',
      song: song.id,
      versionId,
      stems,
      reason: before ? reason : '',
    };
    const parts = partsWith(song, stems);
    return sameValue(parts, song.parts)
      ? [attached]
      : [attached, { type: 'partsNamed', song: song.id, parts }];
  },
};
