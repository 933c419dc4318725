import { createHash } from 'node:crypto';
import { engine } from '../measurement/engine.ts';
import type { AnalysisInput, StemComparisonInput, StoredStem } from '../storage/analysis-store.ts';

type Spans = Extract<AnalysisInput, { kind: 'measurement' }>['sections'];

const spansHash = (sections: Spans) =>
  createHash('sha256')
    .update(JSON.stringify(sections.map(({ name, start, end }) => [name, start, end])))
    .digest('hex')
    .slice(0, 16);

/** What a measurement is kept under: the exact file, the sections, and the engine's version. */
function measurementKey(sha256: string, sections: Spans): string {
  return `measurement ${engine.version} ${sha256} ${spansHash(sections)}`;
}

/** What a comparison is kept under: both exact files, the sections, and the engine's version. */
function comparisonKey({
  olderSha256,
  newerSha256,
  sections,
  tempo,
}: Extract<AnalysisInput, { kind: 'comparison' }>): string {
  const key = `comparison ${engine.version} ${olderSha256} ${newerSha256} ${spansHash(sections)}`;
  return tempo ? `${key} ${tempo.tempoBpm}/${tempo.beatsPerBar}` : key;
}

/** What the sound or map of a change is kept under; how the two lie over each other follows from files and engine. */
const changeKey = (kind: string, olderSha256: string, newerSha256: string) =>
  `${kind} ${engine.version} ${olderSha256} ${newerSha256}`;

const stemsHash = (stems: readonly StoredStem[] | null) =>
  stems
    ? createHash('sha256')
        .update(JSON.stringify(stems.map(({ name, role, sha256 }) => [name, role, sha256])))
        .digest('hex')
        .slice(0, 16)
    : 'none';

/** What a comparison by stems is kept under: all files, the stems' names and roles, the sections, and the engine. */
function stemComparisonKey({
  olderSha256,
  newerSha256,
  sections,
  olderStems,
  newerStems,
}: StemComparisonInput): string {
  const stems = `${stemsHash(olderStems)} ${stemsHash(newerStems)}`;
  return `stem comparison ${engine.version} ${olderSha256} ${newerSha256} ${spansHash(sections)} ${stems}`;
}

export function analysisKey(input: AnalysisInput): string {
  switch (input.kind) {
    case 'measurement':
      return measurementKey(input.sha256, input.sections);
    case 'comparison':
      return comparisonKey(input);
    case 'sections':
      return `sections ${engine.version} ${input.sha256}`;
    case 'stem sum':
      return `stem sum ${engine.version} ${input.sha256} ${stemsHash(input.stems)}`;
    case 'stem comparison':
      return stemComparisonKey(input);
    default:
      return changeKey(input.kind, input.olderSha256, input.newerSha256);
  }
}
