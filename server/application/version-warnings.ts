import type { Gate } from '../domain/contract.ts';
import { newestVersion, type Song } from '../domain/record.ts';
import type { VersionWarning } from '../domain/version.ts';
import type { Inspection } from '../storage/upload-store.ts';

/** Lengths may differ by this much before it is named (*common practice*). */
const lengthToleranceSeconds = 0.01;

/** What is unusual about a checked file beside the version before it at the gate, or else beside the newest of all. */
export function versionWarnings(
  song: Song,
  gate: Gate,
  { format, durationSeconds, clipped }: Inspection,
): VersionWarning[] {
  if (!format || durationSeconds === null) return [];
  const before = (newestVersion(song, gate) ?? song.versions.at(-1))?.file;
  const warnings: VersionWarning[] = [];
  if (format.channelCount === 1) warnings.push('mono');
  if (before && before.sampleRateHz !== format.sampleRateHz) warnings.push('sample_rate_differs');
  if (before && Math.abs(before.durationSeconds - durationSeconds) > lengthToleranceSeconds)
    warnings.push('length_differs');
  if (before && before.bitDepth !== format.bitDepth) warnings.push('bit_depth_differs');
  if (clipped) warnings.push('clipped');
  return warnings;
}
