import { mixVersion, renderSong } from '../../fixtures/demo/render.ts';
import { type DemoSong, demoSong, demoSongs, type SongKey } from '../../fixtures/demo/scenario.ts';
import type { Arrangement } from '../../fixtures/demo/songs/arrangement.ts';
import { harbourWallRadio } from '../../fixtures/demo/songs/harbour-wall-radio.ts';
import { saltOnTheWindow } from '../../fixtures/demo/songs/salt-on-the-window.ts';
import { umbrellaWeather } from '../../fixtures/demo/songs/umbrella-weather.ts';
import { sampleRateHz } from '../../fixtures/demo/synth/stereo.ts';
import { Tape } from '../../fixtures/demo/synth/tape.ts';
import { mixDown, synthesiseSong, toFloat32 } from '../comparison/synthetic-song.ts';

/** Music whose tempo and sections are known, since it was made from them. */
export interface KnownSong {
  name: string;
  sampleRateHz: number;
  channels: Float32Array[];
  tempoBpm: number;
  beatsPerBar: number;
  firstBarSeconds: number;
  /** Where one section ends and the next begins, without the song's start and end. */
  boundaries: number[];
}

const startsOf = (sections: readonly { start: number }[], laterSeconds = 0) =>
  sections.slice(1).map(({ start }) => start + laterSeconds);

/** The newest version of each song of the demo record, as `scenario.ts` documents them. */
export function* demoKnownSongs(): Generator<KnownSong> {
  const tape = new Tape();
  for (const { key, title, versions, sections, tempoBpm, beatsPerBar } of demoSongs) {
    const version = versions.at(-1)!.name;
    const channels = toFloat32(mixVersion(renderSong(key, { tape }), version));
    const boundaries = startsOf(sections);
    yield {
      name: `${title}, ${version}`,
      sampleRateHz,
      channels,
      tempoBpm,
      beatsPerBar,
      firstBarSeconds: 0,
      boundaries,
    };
  }
}

const arrangements: Record<SongKey, Arrangement> = {
  main: harbourWallRadio,
  second: umbrellaWeather,
  third: saltOnTheWindow,
};

interface Rearrangement {
  key: SongKey;
  tempoBpm: number;
  /** Silence before the first bar, so that no bar begins with the file. */
  leadInSeconds: number;
  sections: [name: string, bars: number][];
}

/** The demo's players at other tempos, in other orders, every fader at the same place. */
const rearrangements: Rearrangement[] = [
  {
    key: 'main',
    tempoBpm: 108,
    leadInSeconds: 1.37,
    sections: [
      ['Intro', 4],
      ['Verse 1', 16],
      ['Chorus 1', 8],
      ['Verse 2', 16],
      ['Chorus 2', 8],
      ['Bridge', 8],
      ['Chorus 3', 16],
      ['Outro', 4],
    ],
  },
  {
    key: 'second',
    tempoBpm: 100,
    leadInSeconds: 0.2,
    sections: [
      ['Verse 1', 8],
      ['Chorus 1', 8],
      ['Intro', 4],
      ['Verse 2', 8],
      ['Chorus 2', 8],
      ['Outro', 6],
    ],
  },
  {
    key: 'second',
    tempoBpm: 150,
    leadInSeconds: 2.2,
    sections: [
      ['Intro', 8],
      ['Verse 1', 16],
      ['Chorus 1', 16],
      ['Verse 2', 16],
      ['Chorus 2', 16],
      ['Outro', 6],
    ],
  },
  {
    key: 'third',
    tempoBpm: 80,
    leadInSeconds: 0.77,
    sections: [
      ['Intro', 2],
      ['Verse 1', 8],
      ['Chorus 1', 6],
      ['Verse 1', 8],
      ['Break', 4],
      ['Chorus 2', 6],
      ['Outro', 2],
    ],
  },
];
const faderGain = 10 ** (-12 / 20);
const ringSeconds = 2;

export function* rearrangedKnownSongs(): Generator<KnownSong> {
  const tape = new Tape();
  for (const { key, tempoBpm, leadInSeconds, sections: named } of rearrangements) {
    const played = demoSong(key);
    const barSeconds = (60 / tempoBpm) * played.beatsPerBar;
    let firstBar = 0;
    const sections = named.map(([name, bars]) => {
      const start = firstBar * barSeconds;
      firstBar += bars;
      return { name, bars, firstBar: firstBar - bars, start, end: firstBar * barSeconds };
    });
    const durationSeconds = firstBar * barSeconds + ringSeconds;
    const song: DemoSong = { ...played, tempoBpm, sections, durationSeconds };
    const frames = Math.round(durationSeconds * sampleRateHz);
    const leadIn = Math.round(leadInSeconds * sampleRateHz);
    tape.rewind(frames);
    const players = arrangements[key](song, tape);
    const channels = [new Float32Array(leadIn + frames), new Float32Array(leadIn + frames)];
    for (const stem of song.stems)
      for (const [index, track] of players[stem]!().entries())
        for (let frame = 0; frame < frames; frame++)
          channels[index]![leadIn + frame]! += faderGain * track[frame]!;
    yield {
      name: `${song.title}, rearranged at ${tempoBpm}`,
      sampleRateHz,
      channels,
      tempoBpm,
      beatsPerBar: song.beatsPerBar,
      firstBarSeconds: leadInSeconds,
      boundaries: startsOf(sections, leadInSeconds),
    };
  }
}

/** The comparison's small song, its verses without guitar and its bridge without drums: all else stays the same. */
export function syntheticKnownSong(): KnownSong {
  const song = synthesiseSong({ bars: 48, barsInSection: 8 });
  const nameAt = (seconds: number) =>
    song.sections.find(({ start, end }) => seconds >= start && seconds < end)?.name ?? '';
  const channels = mixDown(song, (part, seconds) => {
    const name = nameAt(seconds);
    const rests = (name.startsWith('verse') && part === 'guitar') || (name === 'bridge' && part === 'drums');
    return rests ? 0 : 1;
  });
  return {
    name: 'small synthetic song',
    sampleRateHz: song.sampleRateHz,
    channels: toFloat32(channels),
    tempoBpm: 120,
    beatsPerBar: 4,
    firstBarSeconds: 0,
    boundaries: startsOf(song.sections),
  };
}

/** How many of the true boundaries have a proposed one within the tolerance, each counted once, the nearest first. */
export function boundariesFound(
  proposed: readonly number[],
  known: readonly number[],
  toleranceSeconds: number,
): number {
  const pairs = known
    .flatMap((truth, index) =>
      proposed.map((each, place) => ({ index, place, away: Math.abs(each - truth) })),
    )
    .filter(({ away }) => away <= toleranceSeconds)
    .sort((one, other) => one.away - other.away);
  const [knownTaken, proposedTaken] = [new Set<number>(), new Set<number>()];
  for (const { index, place } of pairs) {
    if (knownTaken.has(index) || proposedTaken.has(place)) continue;
    knownTaken.add(index);
    proposedTaken.add(place);
  }
  return knownTaken.size;
}
