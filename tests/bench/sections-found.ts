/**
 * Prints what is found of the sections and tempos of songs that are known: the demo record's newest versions, its players
 * rearranged at other tempos, and the comparison's small song. `tsx tests/bench/sections-found.ts`. A boundary is found
 * within half a second, or three, the two tolerances at which the field evaluates (MIREX, structural segmentation).
 */
import { createSectionFinder, type SectionProposal } from '../../server/measurement/section-finder.ts';
import {
  boundariesFound,
  demoKnownSongs,
  type KnownSong,
  rearrangedKnownSongs,
  syntheticKnownSong,
} from '../measurement/known-song.ts';

const tolerancesSeconds = [0.5, 3] as const;
const blockFrames = 65_536;

function propose({ channels, sampleRateHz }: KnownSong): { proposal: SectionProposal; milliseconds: number } {
  const finder = createSectionFinder({ sampleRateHz, channelCount: channels.length });
  const frames = channels[0]!.length;
  const begun = performance.now();
  for (let from = 0; from < frames; from += blockFrames) {
    const end = Math.min(frames, from + blockFrames);
    finder.push(
      channels.map((channel) => channel.subarray(from, end)),
      end - from,
    );
  }
  return { proposal: finder.finish(), milliseconds: performance.now() - begun };
}

const share = (part: number, whole: number) => (whole === 0 ? '   –' : (part / whole).toFixed(2).padStart(4));

function* songs(): Generator<KnownSong> {
  yield* demoKnownSongs();
  yield* rearrangedKnownSongs();
  yield syntheticKnownSong();
}

const head = ['precision', 'recall'].flatMap((word) => tolerancesSeconds.map((each) => `${word} ${each} s`));
console.log(`${'song'.padEnd(40)}${head.map((word) => word.padStart(16)).join('')}`);
const found = tolerancesSeconds.map(() => 0);
let [proposedCount, knownCount, tempoMisses, octaveMisses, songCount] = [0, 0, 0, 0, 0];
for (const song of songs()) {
  const { proposal, milliseconds } = propose(song);
  const { tempo } = proposal;
  const proposed = proposal.boundaries.map(({ seconds }) => seconds);
  const hits = tolerancesSeconds.map((tolerance) => boundariesFound(proposed, song.boundaries, tolerance));
  for (const [index, count] of hits.entries()) found[index]! += count;
  proposedCount += proposed.length;
  knownCount += song.boundaries.length;
  songCount++;
  const octaves = tempo === null ? null : Math.log2(tempo.tempoBpm / song.tempoBpm);
  const right = octaves !== null && Math.abs(octaves) < Math.log2(1.01);
  const octaveOff = !right && octaves !== null && Math.abs(octaves - Math.round(octaves)) < Math.log2(1.01);
  if (octaveOff) octaveMisses++;
  else if (!right) tempoMisses++;
  const shares = [
    ...hits.map((count) => share(count, proposed.length)),
    ...hits.map((count) => share(count, song.boundaries.length)),
  ];
  console.log(`${song.name.padEnd(40)}${shares.map((each) => each.padStart(16)).join('')}`);
  const heard =
    tempo === null
      ? 'no tempo'
      : `${tempo.tempoBpm.toFixed(2)} beats a minute${octaveOff ? ' (an octave off)' : ''}, ${tempo.beatsPerBar ?? 'unknown'} a bar, bar 1 at ${tempo.firstBarSeconds?.toFixed(2) ?? '–'} s`;
  const parts = proposal.sections.map(
    ({ name, start }) => `${name.replace('Part ', '')} ${start.toFixed(1)}`,
  );
  console.log(`  ${heard} (true ${song.tempoBpm}, ${song.beatsPerBar}, ${song.firstBarSeconds.toFixed(2)})`);
  console.log(`  true ${song.boundaries.map((each) => each.toFixed(1)).join(', ')}`);
  console.log(
    `  ${parts.join(', ') || 'no sections'}; ${Math.round((song.channels[0]!.length / song.sampleRateHz / milliseconds) * 1000)} times real time`,
  );
}
console.log(
  `\nAll ${songCount} songs: precision ${found.map((count) => share(count, proposedCount)).join(' / ')}, recall ${found.map((count) => share(count, knownCount)).join(' / ')} within ${tolerancesSeconds.join(' / ')} s; tempo wrong in ${tempoMisses}, an octave off in ${octaveMisses}.`,
);
