import { describe, expect, it } from 'vitest';
import type { NoteView, SectionMap, SongSheet, VersionView } from '../../client/api/types.ts';
import { lineChange } from '../../client/features/listen/line-change.ts';
import { listeningPair, pairWith } from '../../client/features/listen/listening-pair.ts';
import { lineAt, notesByLine, sheetLines } from '../../client/features/listen/sheet-line.ts';
import { groupPins } from '../../client/waveform/pin-groups.ts';

const map = (...sections: [string, number, number][]): SectionMap => ({
  sections: sections.map(([name, startSeconds, endSeconds]) => ({
    id: name,
    name,
    startSeconds,
    endSeconds,
  })),
  tempoBpm: null,
  beatsPerBar: null,
  firstBarSeconds: 0,
  revision: 1,
});
const spans = (sectionMap: SectionMap, duration: number) =>
  sheetLines(sectionMap, duration).map(({ name, startSeconds, endSeconds }) => [
    name,
    startSeconds,
    endSeconds,
  ]);

/** Proves that the lines of a sheet cover the song from its start to its end, whatever is named. */
describe('the lines of a song sheet', () => {
  it('are four equal ones before any section is named', () => {
    expect(spans(map(), 200)).toEqual([
      ['Part 1', 0, 50],
      ['Part 2', 50, 100],
      ['Part 3', 100, 150],
      ['Part 4', 150, 200],
    ]);
  });

  it('show an unnamed stretch between sections on its own line', () => {
    expect(spans(map(['Verse 1', 10, 40], ['Chorus 1', 60, 90]), 100)).toEqual([
      ['Unnamed', 0, 10],
      ['Verse 1', 10, 40],
      ['Unnamed', 40, 60],
      ['Chorus 1', 60, 90],
      ['Unnamed', 90, 100],
    ]);
  });

  it('draw a hair of a gap with the line before it', () => {
    expect(spans(map(['Intro', 0.1, 20], ['Verse 1', 20.2, 100]), 100.3)).toEqual([
      ['Intro', 0, 20.2],
      ['Verse 1', 20.2, 100.3],
    ]);
  });

  it('end with a version that is shorter than the sections', () => {
    expect(spans(map(['Intro', 0, 20], ['Outro', 20, 60], ['Tag', 60, 70]), 50)).toEqual([
      ['Intro', 0, 20],
      ['Outro', 20, 50],
    ]);
  });

  it('hold a moment on an edge on the line that starts there, and the end on the last', () => {
    const lines = sheetLines(map(['Intro', 0, 20], ['Verse 1', 20, 60]), 60);
    expect(lineAt(lines, 20)?.name).toBe('Verse 1');
    expect(lineAt(lines, 60)?.name).toBe('Verse 1');
  });

  it('have their notes in the order of the song, those about all of it apart', () => {
    const lines = sheetLines(map(['Intro', 0, 20], ['Verse 1', 20, 60]), 60);
    const note = (id: string, startSeconds: number | null) =>
      ({ id, range: startSeconds === null ? null : { startSeconds, endSeconds: null } }) as NoteView;
    const placed = notesByLine(
      [note('late', 50), note('whole', null), note('early', 25), note('intro', 3)],
      lines,
      (each) => each.range?.startSeconds ?? null,
    );
    expect(placed.get(lines[1]!)?.map(({ id }) => id)).toEqual(['early', 'late']);
    expect(placed.get(lines[0]!)?.map(({ id }) => id)).toEqual(['intro']);
    expect(placed.get(null)?.map(({ id }) => id)).toEqual(['whole']);
  });
});

/** Proves that two pins never lie on one another. */
describe('pins above a line', () => {
  it('share one place where there is no room for two', () => {
    const groups = groupPins([{ at: 0.5 }, { at: 0.1 }, { at: 0.12 }, { at: 0.15 }], 0.04);
    expect(groups.map(({ at, members }) => [at, members.length])).toEqual([
      [0.1, 2],
      [0.15, 1],
      [0.5, 1],
    ]);
  });
});

/** Proves that the newest version is heard first, beside the one before it, and that any other takes its place in turn. */
describe('the two versions at the playhead', () => {
  const version = (id: string, gate: VersionView['gate'], day: number) =>
    ({ id, gate, postedAt: `2026-02-${String(day).padStart(2, '0')}T10:00:00.000Z` }) as VersionView;
  const rough = version('rough', 'production', 1);
  const mixes = [version('mix-1', 'mix', 3), version('mix-2', 'mix', 9), version('mix-3', 'mix', 15)];
  const sheet = (gate: SongSheet['gate'], ...versions: VersionView[]) => ({ gate, versions });
  const names = (pair: ReturnType<typeof listeningPair>) => pair && [pair.newer.id, pair.older?.id ?? null];

  it('are the newest and the one before it', () => {
    expect(names(listeningPair(sheet('mix', rough, ...mixes), null, null))).toEqual(['mix-3', 'mix-2']);
  });

  it('compare the first mix with the rough', () => {
    expect(names(listeningPair(sheet('mix', rough, mixes[0]!), null, null))).toEqual(['mix-1', 'rough']);
  });

  it('are one, or none, where there are no more', () => {
    expect(names(listeningPair(sheet('production', rough), null, null))).toEqual(['rough', null]);
    expect(listeningPair(sheet('production'), null, null)).toBeNull();
  });

  it('stay with the mix when a changed production is delivered later', () => {
    const later = version('rough-2', 'production', 20);
    expect(names(listeningPair(sheet('mix', rough, ...mixes, later), null, null))).toEqual([
      'mix-3',
      'mix-2',
    ]);
  });

  it('follow the address, the later one as the newer whichever way round it asks', () => {
    const all = sheet('mix', rough, ...mixes);
    expect(names(listeningPair(all, 'mix-2', 'mix-1'))).toEqual(['mix-2', 'mix-1']);
    expect(names(listeningPair(all, 'mix-1', 'mix-3'))).toEqual(['mix-3', 'mix-1']);
    expect(names(listeningPair(all, 'gone', 'gone too'))).toEqual(['mix-3', 'mix-2']);
  });

  it('take in a pressed version beside the newer one', () => {
    const pair = listeningPair(sheet('mix', rough, ...mixes), null, null)!;
    expect(names(pairWith(pair, mixes[0]!))).toEqual(['mix-3', 'mix-1']);
    expect(pairWith(pair, mixes[1]!)).toBe(pair);
    expect(names(pairWith({ newer: mixes[1]!, older: mixes[0]! }, mixes[2]!))).toEqual(['mix-3', 'mix-2']);
  });
});

/** Proves that a line says what was measured on it, and claims no more. */
describe('what changed on a line', () => {
  const [line] = sheetLines(map(['Chorus 1', 52, 87]), 87).slice(-1);
  const section = {
    name: 'Chorus 1',
    start: 52,
    verdict: 'changed' as const,
    doubt: null,
    matchedLoudnessDifferenceLu: 1.42,
    changes: [{ kind: 'up' as const, band: { lowestHz: 2000, highestHz: 5000 }, towards: null }],
  };
  const said = (
    part: Partial<Omit<typeof section, 'verdict' | 'doubt'>> & {
      verdict?: 'changed' | 'no change measured' | 'too short to judge';
      doubt?: 'little_in_common' | null;
    },
  ) => lineChange({ sections: [{ ...section, ...part }] }, line!);

  it('is the difference in loudness and its range', () => {
    expect(said({})).toEqual({ figure: '+1.4 LU', words: '2–5 kHz', still: false });
    expect(said({ matchedLoudnessDifferenceLu: -0.62 })?.figure).toBe('−0.6 LU');
  });

  it('is no figure under a meter’s tolerance of 0.1 LU (EBU Tech 3341)', () => {
    expect(said({ matchedLoudnessDifferenceLu: 0.04 })).toEqual({
      figure: null,
      words: 'up, 2–5 kHz',
      still: false,
    });
  });

  it('says “no change measured”, or that it cannot be judged', () => {
    expect(said({ verdict: 'no change measured' })).toEqual({
      figure: null,
      words: 'no change measured',
      still: true,
    });
    expect(said({ verdict: 'too short to judge', doubt: 'little_in_common' })?.words).toBe(
      'too little in common to judge',
    );
  });

  it('is nothing where the comparison knows no such section', () => {
    expect(said({ name: 'Bridge' })).toBeNull();
  });
});
