import type { Gate } from '../domain/contract.ts';
import { gateBefore } from '../domain/gate.ts';
import type { Song } from '../domain/record.ts';
import { stemsOf } from '../domain/stem.ts';
import type { Version } from '../domain/version.ts';
import type { AnalysisInput, StemComparisonInput, StoredStem } from '../storage/analysis-store.ts';
import { sectionSpans } from './section-spans.ts';

/** What is measured of a version: its exact file, by the song's sections as they stand. */
export function measurementInput(song: Song, { file }: Pick<Version, 'file'>): AnalysisInput {
  return { kind: 'measurement', sha256: file.sha256, sections: sectionSpans(song.sectionMap) };
}

/** What is compared of two versions. */
export function comparisonInput(song: Song, older: Version, newer: Version): AnalysisInput {
  const { tempoBpm, beatsPerBar } = song.sectionMap;
  return {
    kind: 'comparison',
    olderSha256: older.file.sha256,
    newerSha256: newer.file.sha256,
    sections: sectionSpans(song.sectionMap),
    tempo: tempoBpm !== null && beatsPerBar !== null ? { tempoBpm, beatsPerBar } : null,
  };
}

const storedStems = (song: Song, version: Pick<Version, 'id'>): StoredStem[] | null =>
  stemsOf(song, version.id)?.stems.map(({ name, role, file }) => ({ name, role, sha256: file.sha256 })) ??
  null;

/** Whether the stems of a version sum to it; `null` where it has none. */
export function stemSumInput(song: Song, version: Version): AnalysisInput | null {
  const stems = storedStems(song, version);
  return stems && { kind: 'stem sum', sha256: version.file.sha256, stems };
}

/**
 * What is told stem by stem of two compared versions; `null` where neither has stems.
 *
 * @param overallGainDb What the whole of the newer one is louder by, as their comparison found.
 */
export function stemComparisonInput(
  song: Song,
  older: Version,
  newer: Version,
  overallGainDb: number,
): StemComparisonInput | null {
  const olderStems = storedStems(song, older);
  const newerStems = storedStems(song, newer);
  if (!olderStems && !newerStems) return null;
  return {
    kind: 'stem comparison',
    olderSha256: older.file.sha256,
    newerSha256: newer.file.sha256,
    sections: sectionSpans(song.sectionMap),
    olderStems,
    newerStems,
    overallGainDb,
  };
}

/** The version that one is held against: the one before it at its gate, or the last of the gate that it starts from. */
export function versionBefore(song: Song, version: Version): Version | null {
  const before = song.versions.slice(0, song.versions.indexOf(version));
  const lastAt = (gate: Gate | null) => before.filter((each) => each.gate === gate).at(-1);
  return lastAt(version.gate) ?? lastAt(gateBefore(version.gate)) ?? null;
}

/** The comparison of a version with the one that it is held against; none where there is none. */
export function comparisonsBefore(song: Song, version: Version): AnalysisInput[] {
  const before = versionBefore(song, version);
  return before ? [comparisonInput(song, before, version)] : [];
}
