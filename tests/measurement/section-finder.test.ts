import { describe, expect, it } from 'vitest';
import { createSectionFinder, type SectionProposal } from '../../server/measurement/section-finder.ts';
import { boundariesFound, demoKnownSongs, type KnownSong } from './known-song.ts';
import { musicLike } from './music.ts';
import { type Channels, inBoth, tones, whiteNoise } from './signal.ts';

/**
 * Proves that proposed boundaries lie where the parts of known songs begin, that parts which return share a letter, and
 * that music without parts, and what is no music, gets none. Expected values are those that the signals were made with.
 */
function propose(channels: Channels, sampleRateHz = 48_000, blockFrames = 65_536): SectionProposal {
  const finder = createSectionFinder({ sampleRateHz, channelCount: channels.length });
  const frames = channels[0]!.length;
  for (let from = 0; from < frames; from += blockFrames) {
    const end = Math.min(frames, from + blockFrames);
    finder.push(
      channels.map((channel) => channel.subarray(from, end)),
      end - from,
    );
  }
  return finder.finish();
}

describe('music in two parts that take turns every ten seconds', () => {
  const channels = musicLike(48_000, 60, 1, true);
  const proposal = propose(channels);

  it('has a sure boundary at every turn, and at no other place', () => {
    const moments = proposal.boundaries.map(({ seconds }) => seconds);
    expect(moments).toHaveLength(5);
    expect(boundariesFound(moments, [10, 20, 30, 40, 50], 0.1)).toBe(5);
    for (const { confidence } of proposal.boundaries) expect(confidence).toBeGreaterThan(0.7);
  });

  it('gives the parts that return the same letter, from the start of the file to its end', () => {
    expect(proposal.sections.map(({ name }) => name)).toEqual([
      'Part A 1',
      'Part B 1',
      'Part A 2',
      'Part B 2',
      'Part A 3',
      'Part B 3',
    ]);
    expect(proposal.sections[0]!.start).toBe(0);
    expect(proposal.sections.at(-1)!.end).toBe(60);
    for (const [index, { end }] of proposal.sections.slice(0, -1).entries())
      expect(end).toBe(proposal.sections[index + 1]!.start);
  });

  it('gets the same proposal in whatever blocks it arrives', () => {
    expect(propose(channels, 48_000, 997)).toEqual(proposal);
  });

  it('gets the same boundaries from one channel, and from six', () => {
    const moments = (list: SectionProposal) => list.boundaries.map(({ seconds }) => seconds.toFixed(1));
    expect(moments(propose([channels[0]!]))).toEqual(moments(proposal));
    const silent = new Float32Array(channels[0]!.length);
    expect(moments(propose([channels[0]!, channels[1]!, silent, silent, silent, silent]))).toEqual(
      moments(proposal),
    );
  });
});

describe('the demo songs', () => {
  it('have seven in ten of their boundaries proposed within half a second, and seven in ten proposed ones are theirs', () => {
    let [found, proposed, known] = [0, 0, 0];
    for (const song of demoKnownSongs()) {
      const moments = propose(song.channels, song.sampleRateHz).boundaries.map(({ seconds }) => seconds);
      found += boundariesFound(moments, song.boundaries, 0.5);
      proposed += moments.length;
      known += song.boundaries.length;
    }
    expect(known).toBe(17);
    expect(found / known).toBeGreaterThanOrEqual(0.7);
    expect(found / proposed).toBeGreaterThanOrEqual(0.7);
  });

  it('share a letter where a verse or a chorus returns', () => {
    const [song] = demoKnownSongs() as Iterable<KnownSong> as [KnownSong];
    const { sections } = propose(song.channels, song.sampleRateHz);
    const letterAt = (index: number) =>
      sections.find(({ start }) => Math.abs(start - song.boundaries[index]!) < 0.5)?.name.split(' ')[1] ??
      `none at ${index}`;
    const [verse1, chorus1, verse2, chorus2, bridge, chorus3] = [0, 1, 2, 3, 4, 5].map(letterAt);
    expect([verse2, chorus2, chorus3]).toEqual([verse1, chorus1, chorus1]);
    expect(new Set([verse1, chorus1, bridge]).size).toBe(3);
  });
});

describe('where nothing stands out', () => {
  const minute = 48_000 * 60;
  const cases: [string, Channels][] = [
    ['silence', [new Float32Array(minute)]],
    ['noise', inBoth(whiteNoise(minute, 1, 0.3))],
    ['other noise', inBoth(whiteNoise(minute, 2, 0.3))],
    ['one tone', inBoth(tones({ hz: 997, peakDbfs: -10, seconds: 60 }))],
    ['five seconds of music', musicLike(48_000, 5, 1, false)],
    ['music of one part', musicLike(48_000, 60, 1, false)],
  ];
  for (const [name, channels] of cases)
    it(`${name} has no sections`, () => {
      const { boundaries, sections } = propose(channels);
      expect([boundaries, sections]).toEqual([[], []]);
    });
});

describe('what cannot be gone through', () => {
  it('is refused in words: no audio at all, and samples that are no numbers', () => {
    expect(() => propose([new Float32Array(0)])).toThrow(/no audio/);
    const broken = whiteNoise(48_000 * 2, 1, 0.3);
    broken[48_000] = Number.NaN;
    expect(() => propose([broken])).toThrow(/not a number/);
  });
});
