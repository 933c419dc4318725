import { describe, expect, it } from 'vitest';
import {
  type AskedAndChanged,
  askedAndChanged,
  roundsBetween,
} from '../../server/application/asked-and-changed.ts';
import type { Comparison } from '../../server/measurement/comparison.ts';
import { compareSounds } from '../../server/measurement/comparison.ts';
import { decibels, mixDown, synthesiseSong, toFloat32 } from '../comparison/synthetic-song.ts';
import { note, post, wish } from '../domain/record-under-test.ts';
import { mixUnder, storyPersons, storySong } from '../domain/worked-story.ts';

/**
 * Proves that the verdict on a request that stands for several people's is on the places of all of them, names them all,
 * and that what changed at any of those places was asked for. What was done to the mixes is known.
 */
const made = synthesiseSong({ bars: 12, barsInSection: 2 });
const sections = ['chorus 1', 'verse 2'].map((name) => made.sections.find((each) => each.name === name)!);
const before = { channels: toFloat32(mixDown(made)), sampleRateHz: made.sampleRateHz };

/** The bass up by 1.5 dB in some of the sections, and nothing else. */
function bassUpIn(...names: string[]): Comparison {
  const raised = sections.filter(({ name }) => names.includes(name));
  const channels = toFloat32(
    mixDown(made, (part, seconds) =>
      part === 'bass' && raised.some(({ start, end }) => seconds >= start && seconds < end)
        ? decibels(1.5)
        : 1,
    ),
  );
  return compareSounds(before, { channels, sampleRateHz: made.sampleRateHz }, made.sections);
}
const onlyChorus = bassUpIn('chorus 1');
const both = bassUpIn('chorus 1', 'verse 2');

const bass = (id: string, place: string) => {
  const { start, end } = sections.find(({ name }) => name === place)!;
  return note(storySong, 'mix-1', [
    wish(id, 'mix', `bass up in ${place}`, {
      target: 'bass',
      direction: 'up',
      place,
      range: { startSeconds: start, endSeconds: end },
    }),
  ]);
};

/** The artist asks for it in chorus 1, the drummer in verse 2, made one where `merged`; else the drummer's is left out. */
function told(comparison: Comparison, merged: boolean): AskedAndChanged {
  const record = mixUnder({});
  record.done('artist', bass('a', 'chorus 1'));
  record.done('drummer', bass('b', 'verse 2'));
  record.done(
    'artist',
    merged
      ? { type: 'mergeRequests', song: storySong, into: 'a', others: ['b'] }
      : { type: 'leaveOutRequest', song: storySong, requestId: 'b', reason: 'not there' },
  );
  record.done('artist', { type: 'sendRound', song: storySong, gate: 'mix', agreedFeeMinorUnits: null });
  record.done('mixer', post(storySong, 'mix', 'mix-2'));
  const song = record.song(storySong);
  const [older, newer] = ['mix-1', 'mix-2'].map((id) => song.versions.find((each) => each.id === id)!);
  return askedAndChanged({
    record: record.record,
    song,
    reader: record.record.people.artist!,
    older: older!,
    newer: newer!,
    rounds: roundsBetween(song, older!, newer!),
    comparison,
    fault: null,
    compared: [],
  });
}

describe('the verdict on requests made one', () => {
  it('is the least favourable of all their places, with the figure of each', () => {
    const { asked } = told(onlyChorus, true);
    expect(asked).toHaveLength(1);
    expect(asked[0]).toMatchObject({
      requestId: 'a',
      verdict: 'no change measured',
      figure: expect.stringMatching(/^Bass bands in chorus 1 .* dB up.*Verse 2: no change measured/),
      where: 'chorus 1, verse 2',
    });
    expect(told(onlyChorus, false).asked).toMatchObject([
      { verdict: 'seen in the measurement', where: 'chorus 1', merged: [] },
    ]);
  });

  it('is seen where all of their places show it', () => {
    expect(told(both, true).asked).toMatchObject([{ verdict: 'seen in the measurement' }]);
  });

  it('names all their authors, each with their words', () => {
    const name = (id: string) => storyPersons.find((person) => person.id === id)!.name;
    expect(told(both, true).asked).toMatchObject([
      {
        text: 'bass up in chorus 1',
        author: { id: 'artist', name: name('artist') },
        merged: [{ text: 'bass up in verse 2', author: { id: 'drummer', name: name('drummer') } }],
      },
    ]);
  });

  it('lets nothing that one of them asked for be unasked', () => {
    expect(told(both, true).unasked).toEqual([]);
    expect(told(both, false).unasked.map(({ where }) => where)).toEqual(['verse 2']);
  });
});
