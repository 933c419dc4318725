import { describe, expect, it } from 'vitest';
import { questionOf, sortForSong } from '../../server/application/sorting.ts';
import type { RecordUnderTest } from '../domain/record-under-test.ts';
import { storyAt, storySong } from '../domain/worked-story.ts';

/**
 * Proves that a question about a part says which, and that its answer, once on the song's list, changes what the note is
 * read as: new audio is production, and a part that is there is a matter of the mix (the default scope sheet).
 */
const text = 'maybe some shaker in the last chorus';
const asked = (record: RecordUnderTest) => {
  const sorted = sortForSong(record.record, record.song(storySong), text, null, null);
  return {
    question: questionOf(record.song(storySong), sorted),
    levels: sorted.requests.map((r) => r.level),
  };
};
const answered = (delivered: boolean) => {
  const record = storyAt(2);
  record.done('artist', { type: 'answerPartQuestion', song: storySong, part: 'shaker', delivered });
  return asked(record);
};

describe('the question of a note', () => {
  it('names the part that it is about', () => {
    expect(asked(storyAt(2)).question).toEqual({
      words: 'Is there a shaker in the recording already?',
      part: 'shaker',
      requestIndex: 0,
      vague: false,
    });
  });

  it('is answered for everybody, and the level follows', () => {
    expect(answered(true)).toEqual({ question: null, levels: ['mix'] });
    expect(answered(false)).toEqual({ question: null, levels: ['production'] });
  });

  it('names no part where it is about something else', () => {
    const record = storyAt(2);
    const song = record.song(storySong);
    const sorted = sortForSong(record.record, song, 'make it bigger', null, null);
    expect(questionOf(song, sorted)).toEqual({
      words: 'What should be bigger?',
      part: null,
      requestIndex: 0,
      vague: true,
    });
  });

  it('is not asked again of a feeling, once the words name a part of this song’s own', () => {
    const record = storyAt(2);
    const name = 'Moonlight pedal';
    const asks = (text: string) => {
      const song = record.song(storySong);
      return questionOf(
        { ...song, parts: [...song.parts, { name, delivered: true }] },
        sortForSong(record.record, song, text, null, null),
      );
    };
    expect(asks('more energy')).toMatchObject({ words: 'What should have more of that?', vague: true });
    expect(asks(`more energy: ${name}`)).toBeNull();
  });
});
