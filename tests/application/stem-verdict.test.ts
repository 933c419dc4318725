import { beforeAll, describe, expect, it } from 'vitest';
import { askedPlace } from '../../server/application/request-place.ts';
import { requestVerdict } from '../../server/application/request-verdict.ts';
import { isStemOf, targetNamed } from '../../server/application/stem-target.ts';
import { unaskedChanges } from '../../server/application/unasked-change.ts';
import type { Request } from '../../server/domain/note.ts';
import type { Direction, RequestKind } from '../../server/domain/request-kind.ts';
import { type Comparison, compareSounds } from '../../server/measurement/comparison.ts';
import { compareStems, type StemComparison } from '../../server/measurement/stem-comparison.ts';
import { movedByFader, stemSet } from '../comparison/stem-truth.ts';
import { mixDown, type Song, synthesiseSong, toFloat32 } from '../comparison/synthetic-song.ts';

/**
 * Proves what is said of requests where the stems of both versions are at hand: the part’s own gain decides where the
 * bands of several parts that moved together can’t, and what nobody asked for is named by its stem. What was done is the
 * truth: in the second section the lead went up by 1.1 dB, the guitar down by 2 dB, and the keys went.
 */
const song = synthesiseSong({ bars: 6, barsInSection: 2 });
const moved = movedByFader(song, 1, { lead: 1.1, guitar: -2, keys: -200 });
const section = song.sections[1]!.name;
const stemNames: Record<string, string> = {
  lead: 'Ld Vox',
  guitar: 'Gtr',
  keys: 'Keys',
  drums: 'Drum bus',
  bass: 'Bass DI',
};
const printOf = (each: Song) => ({ channels: toFloat32(mixDown(each)), sampleRateHz: song.sampleRateHz });
const stemsOf = (each: Song) =>
  stemSet(
    each.parts.map((part) => ({ ...part, name: stemNames[part.name]! })),
    song.sampleRateHz,
  );
let comparison: Comparison;
let stems: StemComparison;

beforeAll(async () => {
  const [a, b] = [printOf(song), printOf(moved)];
  comparison = compareSounds(a, b, song.sections);
  stems = await compareStems(a, b, stemsOf(song), stemsOf(moved), song.sections, comparison.gainDb);
}, 60_000);

type Wished = Pick<Request, 'text' | 'kind' | 'direction' | 'target' | 'place' | 'range'>;
const wish = (target: string, direction: Direction, more: Partial<Wished> = {}): Wished => ({
  kind: 'balance' as RequestKind,
  text: '',
  target,
  direction,
  place: section,
  range: null,
  ...more,
});
const placed = (request: Wished) => ({
  request,
  place: askedPlace(request, null, comparison.sections),
});
const verdict = (request: Wished) =>
  requestVerdict(request, placed(request).place, comparison, [], null, stems);

describe('a stem’s name', () => {
  it('says the part that requests name, in whichever words', () => {
    expect(['Ld Vox', 'Vocals', 'BVs L', 'Bass DI', 'Gtr 2'].map(targetNamed)).toEqual([
      'lead vocal',
      'lead vocal',
      'backing vocals',
      'bass',
      'electric guitar',
    ]);
    // Of a group of parts no one part can be told.
    expect(targetNamed('Kick and bass')).toBeNull();
    expect(isStemOf('Hurdy-gurdy', 'hurdy-gurdy')).toBe(true);
    expect(isStemOf('Bass DI', 'lead vocal')).toBe(false);
    expect(isStemOf('Hurdy-gurdy', null)).toBe(false);
  });
});

describe('a request about a part that has a stem', () => {
  it('is decided by the part’s own gain, with the figure', () => {
    const up = verdict(wish('lead vocal', 'up'));
    expect(up.verdict).toBe('seen in the measurement');
    const said = /^Ld Vox \+(\d\.\d) dB in verse 1, from the stems\.$/u.exec(up.figure);
    // The fader’s 1.1 dB beside the others, less what the whole mix is said to have moved by.
    expect(Number(said?.[1])).toBeCloseTo(1.1 - comparison.gainDb, 1);
    expect(verdict(wish('lead vocal', 'down')).verdict).toBe('opposite');
    expect(verdict(wish('electric guitar', 'down')).verdict).toBe('seen in the measurement');
  });

  it('is “no change measured” where the part stood still beside others that moved', () => {
    // A whole mix that is matched by its loudness would move every stem; here it is matched by what stood still.
    expect(Math.abs(comparison.gainDb)).toBeLessThan(0.05);
    expect(verdict(wish('bass', 'up'))).toEqual({
      verdict: 'no change measured',
      figure: 'Bass DI: no change measured in verse 1, from the stems.',
    });
  });

  it('tells what is gone from what is only down', () => {
    expect(verdict(wish('keys', 'remove', { kind: 'mute' }))).toEqual({
      verdict: 'seen in the measurement',
      figure: 'Keys gone in verse 1, from the stems.',
    });
    expect(verdict(wish('electric guitar', 'remove', { kind: 'mute' })).verdict).toBe(
      'cannot be told this way',
    );
    expect(verdict(wish('keys', 'up')).verdict).toBe('opposite');
  });

  it('is left to the bands where it has no stem, or is about a spot', () => {
    expect(verdict(wish('strings', 'up')).figure).not.toContain('from the stems');
    const { start, end } = song.sections[1]!;
    const spot = { startSeconds: start + 0.5, endSeconds: start + (end - start) / 4 };
    const request = wish('lead vocal', 'up', { place: null, range: spot });
    expect(placed(request).place.narrower).toEqual(spot);
    expect(verdict(request).figure).not.toContain('from the stems');
  });
});

describe('what nobody asked for', () => {
  it('is named by its stem', () => {
    const [change, ...others] = unaskedChanges(comparison, [placed(wish('lead vocal', 'up'))], stems);
    expect(others).toEqual([]);
    expect(change?.where).toBe(section);
    expect(change?.plain).toBe('Verse 1: Keys gone, Gtr down.');
    expect(change?.figures).toMatch(/^Keys gone, Gtr −(1\.9|2\.0|2\.1) dB, from the stems; /u);
  });

  it('is nothing where each of the stems that moved was asked for', () => {
    const asked = [wish('lead vocal', 'up'), wish('electric guitar', 'down'), wish('keys', 'remove')];
    expect(unaskedChanges(comparison, asked.map(placed), stems)).toEqual([]);
  });
});
