import { describe, expect, it } from 'vitest';
import { bandsIn, bandsLie, bandsOfPart, bandWords } from '../../server/application/part-bands.ts';
import { askedPlace, placeMeans } from '../../server/application/request-place.ts';
import type { Comparison } from '../../server/measurement/comparison.ts';
import { movePlace } from '../../server/measurement/timeline-position.ts';

/** Proves which sections a request is about, by its words and its pin, and where the parts of the table sound. */
const sections = [
  { name: 'Verse 1', start: 0, end: 20 },
  { name: 'Chorus 1', start: 20, end: 40 },
  { name: 'Chorus 2', start: 40, end: 60 },
] as unknown as Comparison['sections'];

type Range = { startSeconds: number; endSeconds: number | null };
const place = (words: string | null, range: Range | null) =>
  askedPlace({ place: words, range }, range && movePlace(range, []), sections);
const names = (words: string | null, range: Range | null) =>
  place(words, range).sections.map((index) => sections[index]!.name);

describe('where a request is', () => {
  it('by range, by words, or everywhere', () => {
    expect(names(null, { startSeconds: 25, endSeconds: null })).toEqual(['Chorus 1']);
    expect(names(null, { startSeconds: 15, endSeconds: 45 })).toEqual(['Verse 1', 'Chorus 1', 'Chorus 2']);
    expect(names('all choruses', { startSeconds: 25, endSeconds: null })).toEqual(['Chorus 1', 'Chorus 2']);
    expect(names('chorus 2', null)).toEqual(['Chorus 2']);
    expect(place(null, null)).toMatchObject({ sections: [0, 1, 2], named: false });
  });

  it('leaves a neighbour alone that a range only touches, or reaches into by a hair', () => {
    expect(names(null, { startSeconds: 20, endSeconds: 40 })).toEqual(['Chorus 1']);
    expect(names(null, { startSeconds: 19.5, endSeconds: 40.4 })).toEqual(['Chorus 1']);
  });

  it('is narrower than its section where it is less than half of it', () => {
    expect(place(null, { startSeconds: 22, endSeconds: 26 }).narrower).toEqual({
      startSeconds: 22,
      endSeconds: 26,
    });
    expect(place(null, { startSeconds: 22, endSeconds: 38 }).narrower).toBeNull();
    expect(place(null, { startSeconds: 22, endSeconds: null }).narrower).toBeNull();
  });

  it('is nowhere where words name no section and nothing is pinned', () => {
    expect(place('the middle bit', null)).toMatchObject({ sections: [], named: true });
  });
});

describe('words for sections', () => {
  const all = ['Verse 1', 'Chorus 1', 'Verse 2', 'Chorus 2', 'Bridge', 'Chorus 3'];
  const meant = (words: string) => all.filter((name) => placeMeans(words, name, all));

  it('are read in the plural, by number, by order, and as the only one of a kind', () => {
    expect(meant('all choruses')).toEqual(['Chorus 1', 'Chorus 2', 'Chorus 3']);
    expect(meant('the verses')).toEqual(['Verse 1', 'Verse 2']);
    expect(meant('every verse')).toEqual(['Verse 1', 'Verse 2']);
    expect(meant('verse 1')).toEqual(['Verse 1']);
    expect(meant('in the bridge')).toEqual(['Bridge']);
    expect(meant('second chorus')).toEqual(['Chorus 2']);
    expect(meant('the 1st verse')).toEqual(['Verse 1']);
    expect(meant('last chorus')).toEqual(['Chorus 3']);
    expect(meant('both choruses')).toEqual(['Chorus 1', 'Chorus 2']);
  });

  it('leave it to the pin where they don’t say which', () => {
    expect(meant('the chorus')).toEqual([]);
    expect(meant('the second half of the chorus')).toEqual([]);
    expect(meant('')).toEqual([]);
  });
});

describe('where a part sounds', () => {
  it('is found under the names that requests have for it, in the plural and joined too', () => {
    expect(bandsOfPart('electric guitars')).toEqual(bandsOfPart('guitar'));
    expect(bandsOfPart('Bass')).toEqual(bandsIn(40, 250));
    expect(bandsOfPart('sub bass')).toEqual(bandsIn(20, 80));
    expect(bandsOfPart('lead vocal breaths')).not.toBeNull();
    expect([...bandsOfPart('kick and bass')!].sort((one, other) => one - other)).toEqual([
      ...bandsIn(40, 250),
      ...bandsIn(2000, 5000),
    ]);
    expect(bandsOfPart(null)).toBeNull();
    expect(bandsOfPart('ISRC')).toBeNull();
  });

  it('is written as its stretches', () => {
    expect(bandWords(bandsOfPart('kick')!)).toBe('40 to 125 Hz and 2 to 5 kHz');
    expect(bandWords(bandsIn(500, 1000))).toBe('500 Hz to 1 kHz');
    expect(bandWords(bandsIn(31.5, 31.5))).toBe('31.5 Hz');
  });

  it('holds a change whose bands are mostly its own', () => {
    const bass = bandsOfPart('bass')!;
    expect(bandsLie(bandsIn(50, 100), bass)).toBe('inside');
    expect(bandsLie(bandsIn(40, 8000), bass)).toBe('wider');
    expect(bandsLie(bandsIn(2000, 5000), bass)).toBe('beside');
  });
});
