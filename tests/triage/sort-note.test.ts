import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { levels, requestKinds } from '../../server/domain/request-kind.ts';
import { defaultScopeSheet } from '../../server/domain/scope-sheet.ts';
import { type SortContext, sortNote } from '../../server/triage/sort-note.ts';

const sort = (text: string, context: Partial<SortContext> = {}) =>
  sortNote(text, { scopeSheet: defaultScopeSheet(), ...context });
const read = (text: string, context: Partial<SortContext> = {}) =>
  sort(text, context).requests.map(({ level, kind, direction }) => [level, kind, direction]);

// Proves that the notes of the worked story are sorted as it says (expected values: the project's acceptance story).
describe('the worked story', () => {
  it('finds a mix and a production request in one note', () => {
    const note = sort('vocal up in chorus 1, and add a shaker in verse 2');
    expect(note.level).toBe('production');
    expect(
      note.requests.map(({ text, level, kind, target, direction, place }) => ({
        text,
        level,
        kind,
        target,
        direction,
        place,
      })),
    ).toEqual([
      {
        text: 'vocal up in chorus 1',
        level: 'mix',
        kind: 'balance',
        target: 'lead vocal',
        direction: 'up',
        place: 'chorus 1',
      },
      {
        text: 'add a shaker in verse 2',
        level: 'production',
        kind: 'new-part',
        target: 'shaker',
        direction: 'add',
        place: 'verse 2',
      },
    ]);
  });
  it.each([
    ['should be as loud as other records', 'mastering', 'overall-loudness', 'up'],
    ['love the bridge', 'none', 'praise', null],
    ['vocal down in chorus 1', 'mix', 'balance', 'down'],
    ['you forgot the mute at 1:20 that we agreed on', 'mix', 'mute', 'remove'],
    ['can we get a cello under this?', 'production', 'new-part', 'add'],
    ['fade feels early next to the next song', 'mastering', 'fade-gap', 'change'],
    ['can we lose the shaker', 'mix', 'mute', 'remove'],
  ])('%s', (text, level, kind, direction) => {
    expect(read(text)).toEqual([[level, kind, direction]]);
  });
});

// Proves that a word is not taken for a wish where it means something else (labels: the labelling rules beside the notes).
describe('keyword traps', () => {
  it.each([
    ['the bridge piano is too loud', 'mix', 'balance', 'down'],
    ['the record player crackle effect in the intro is too loud', 'mix', 'effect', 'down'],
    ['key of the song is fine but the keys are too loud', 'mix', 'balance', 'down'],
    ['the take is great but it needs to be louder', 'mix', 'balance', 'up'],
    ['the new snare is too loud', 'mix', 'balance', 'down'],
    ['add some top end to the guitars', 'mix', 'tone', 'up'],
    ['cut the highs on the hats', 'mix', 'tone', 'down'],
    ['add a harmony', 'production', 'new-part', 'add'],
    ['cut the last chorus', 'production', 'arrangement', 'remove'],
  ])('%s', (text, level, kind, direction) => {
    expect(read(text)).toEqual([[level, kind, direction]]);
  });
  it('takes quoted lyrics for a place, not for a wish', () => {
    expect(read("vocal up on 'louder than bombs'")).toEqual([
      ['mix', expect.stringMatching(/balance|automation/u), 'up'],
    ]);
  });
});

describe('negation', () => {
  it.each([
    ["don't bury my voice", 'mix', 'balance', 'up'],
    ["the guitars aren't too loud, they're too bright", 'mix', 'tone', 'down'],
    ['not loud enough for spotify', 'mastering', 'overall-loudness', 'up'],
    ['no air on the vocals', 'mix', 'tone', 'up'],
    ['i wouldn’t change a thing', 'none', 'praise', null],
    ["the vocal isn't too loud like I feared, it's just right", 'none', 'praise', null],
  ])('%s', (text, level, kind, direction) => {
    expect(read(text)).toEqual([[level, kind, direction]]);
  });
});

describe('retracted and held wishes', () => {
  it.each([
    'ignore my last message about the kick, my speaker was broken',
    'scratch that last comment about the reverb',
    "don't do anything about the snare until he makes up his mind",
    'was about to ask for a louder kick, but it’s only quiet on my phone, so leave it',
  ])('%s', (text) => {
    expect(sort(text).level).toBe('none');
  });
});

describe('questions', () => {
  it('takes a question with a wish inside for the wish', () => {
    expect(read('could the voice be a little louder in the verse?')).toEqual([['mix', 'balance', 'up']]);
    expect(read('can you take out the cough before verse 3?')).toEqual([['production', 'cleanup', 'remove']]);
  });
  it('takes a question after facts, price or method for a question', () => {
    for (const text of [
      'is that a real organ or a keyboard?',
      'how much would an extra round cost?',
      'are the vocals tuned here? just curious',
    ])
      expect(read(text)).toEqual([['none', 'question', null]]);
  });
});

describe('“flat” and “sharp”', () => {
  it.each([
    ['the vocal is a bit flat in line two', 'tuning', 'change'],
    ['pedal steel is sharp at 2:02', 'tuning', 'change'],
    ['the vocal sounds flat and lifeless to me, like its under a blanket', 'tone', 'up'],
    ['hats are too sharp, they hurt', 'tone', 'down'],
  ])('%s', (text, kind, direction) => {
    expect(sort(text).requests[0]).toMatchObject({ kind, direction });
  });
});

// Proves that the note's own text can be found again by a request's span, and that talk is left out of it.
describe('spans', () => {
  it('are verbatim and leave praise, protection and talk out', () => {
    const text =
      "Hi! love it. don't touch the vocal, but the guitars can come up in the chorus and the keys need to be less bright. thanks";
    const note = sort(text);
    expect(note.requests.map((request) => request.text)).toEqual([
      'the guitars can come up in the chorus',
      'the keys need to be less bright',
    ]);
    for (const request of note.requests) expect(text.slice(request.start, request.end)).toBe(request.text);
    expect(note.protections).toEqual([{ text: "don't touch the vocal", target: 'lead vocal' }]);
  });
});

describe('the scope sheet', () => {
  it('decides the level, and marks a grey kind', () => {
    const scopeSheet = defaultScopeSheet();
    scopeSheet.tuning = { level: 'mix', grey: true };
    const [request] = sort('the vocal is flat at 1:10, please tune it', { scopeSheet }).requests;
    expect(request).toMatchObject({ kind: 'tuning', level: 'mix', grey: true });
    expect(request!.why).toContain('scope sheet');
  });
});

describe('the parts list', () => {
  it('makes a new part of one that was not delivered, and brings in one that was', () => {
    expect(read('add a tambourine in the chorus')).toEqual([['production', 'new-part', 'add']]);
    expect(
      read('add a tambourine in the chorus', { parts: [{ name: 'Tambourine', delivered: true }] }),
    ).toEqual([['mix', 'mute', 'add']]);
    expect(
      read('tambourine up in the chorus', { parts: [{ name: 'tambourine', delivered: false }] }),
    ).toEqual([['production', 'new-part', 'add']]);
  });
  it('knows a part under its short name', () => {
    expect(read('add a tambourine', { parts: [{ name: 'tamb', delivered: true }] })).toEqual([
      ['mix', 'mute', 'add'],
    ]);
  });
});

describe('learned examples', () => {
  it('hold for notes alike, with the reason shown, and only for those', () => {
    const examples = [{ text: 'kick a little deeper', kind: 'replace-sound', level: 'production' }] as const;
    const [request] = sort('a little deeper kick', { examples }).requests;
    expect(request).toMatchObject({ kind: 'replace-sound', level: 'production' });
    expect(request!.why).toContain('kick a little deeper');
    expect(sort('vocal up', { examples }).requests[0]).toMatchObject({ kind: 'balance', level: 'mix' });
  });
});

// Expected ranges worked by hand from the section map and 4 × 60 / 120 = 2 s a bar.
describe('places', () => {
  const timeline = {
    sections: [
      { name: 'Intro', start: 0, end: 10 },
      { name: 'Verse 1', start: 10, end: 40 },
      { name: 'Chorus 1', start: 40, end: 60 },
      { name: 'Verse 2', start: 60, end: 90 },
      { name: 'Chorus 2', start: 90, end: 110 },
      { name: 'Bridge', start: 110, end: 130 },
    ],
    tempoBpm: 120,
    beatsPerBar: 4,
  };
  it.each([
    ['vocal up at 1:32', { startSeconds: 92, endSeconds: null }],
    ['vocal up in bar 40', { startSeconds: 78, endSeconds: 80 }],
    ['vocal up in the 2nd chorus', { startSeconds: 90, endSeconds: 110 }],
    ['vocal up in the last chorus', { startSeconds: 90, endSeconds: 110 }],
    ['vocal up in v2', { startSeconds: 60, endSeconds: 90 }],
    ['vocal up on the last line of the bridge', { startSeconds: 110, endSeconds: 130 }],
    ['vocal up in the choruses', null],
    ['vocal up in the second half of the bridge', { startSeconds: 120, endSeconds: 130 }],
    ['vocal up in the first half of the last chorus', { startSeconds: 90, endSeconds: 100 }],
    ['vocal up in the third verse', null],
    ['vocal up', null],
  ])('%s', (text, range) => {
    expect(sort(text, timeline).requests[0]!.range).toEqual(range);
  });
  it('mean the section of that name that the note was pinned in', () => {
    const at = { startSeconds: 95, endSeconds: null };
    const [request] = sort('vocal up in the chorus', { ...timeline, at }).requests;
    expect(request!.range).toEqual({ startSeconds: 90, endSeconds: 110 });
  });
  it('fall back on the pin of the note', () => {
    const at = { startSeconds: 12, endSeconds: 14 };
    expect(sort('vocal up', { ...timeline, at }).requests[0]!.range).toEqual(at);
    expect(sort('vocal up in the bridge', { ...timeline, at }).requests[0]!.range).toEqual({
      startSeconds: 110,
      endSeconds: 130,
    });
  });
});

describe('doubt', () => {
  it('asks one plain question instead of guessing', () => {
    const note = sort('tambourine in the verse maybe');
    expect(note.confidence).toBeLessThan(0.5);
    expect(note.question).toMatch(/\?$/u);
  });
  it('asks for the level of a note in a language without a lexicon', () => {
    for (const text of [
      'гитара слишком громкая',
      'הגיטרה חזקה מדי',
      'ボーカルをもっと大きく',
      'la voce è troppo bassa nel ritornello',
    ])
      expect(sort(text)).toMatchObject({
        level: 'none',
        confidence: 0,
        question: expect.stringContaining('level'),
      });
  });
});

// Expected words by hand: what is many takes “are”, and a part is named by what the parts list would call it.
describe('the question to the author', () => {
  const asked = (text: string) => sort(text).clarification;
  it('names the part that it is about, in good grammar', () => {
    expect(asked('maybe some shaker in the last chorus')).toEqual({
      words: 'Is there a shaker in the recording already?',
      part: 'shaker',
      requestIndex: 0,
      vague: false,
    });
    expect(asked('maybe some claps in the last chorus')).toMatchObject({
      words: 'Are there claps in the recording already?',
      part: 'claps',
    });
  });
  it('says which request it is about, and holds the words of the plain question', () => {
    const note = sort('kick up 2 dB. maybe some shaker in the last chorus');
    expect(note.requests).toHaveLength(2);
    expect(note.clarification).toMatchObject({ part: 'shaker', requestIndex: 1 });
    expect(note.question).toBe(note.clarification!.words);
  });
  it('is not asked of a part that the song has', () => {
    const parts = [{ name: 'shaker', delivered: true }];
    const note = sort('maybe some shaker in the last chorus', { parts });
    expect(note.level).toBe('mix');
    expect(note.clarification).toBeNull();
  });
});

// Expected by the words that engineers ask back about: a feeling without a sound is vague, one with a part or place to go is not.
describe('a wish that names a feeling and no sound', () => {
  it.each([
    ['more energy please', 'What should have more of that?'],
    ['it needs to pop', 'What should stand out more?'],
    ['can it be bigger', 'What should be bigger?'],
    ['something is missing', 'What is missing, or where?'],
    ['mehr Energie bitte', 'What should have more of that?'],
    ['más energía por favor', 'What should have more of that?'],
    ["plus d'énergie s'il vous plaît", 'What should have more of that?'],
  ])('is asked back about: %s', (text, words) => {
    expect(sort(text)).toMatchObject({ question: words, clarification: { words, part: null, vague: true } });
  });
  it.each(['more energy in the drums', 'bigger snare', 'more punch on the kick', 'kick up, and more energy'])(
    'is none where a part is named: %s',
    (text) => {
      expect(sort(text).question ?? '').not.toMatch(/^What/u);
    },
  );
});

// Labels by the labelling rules beside the notes, rule 12 for directions.
describe('directions that stand inside a phrase of the trade', () => {
  it.each([
    ['up a semitone please, it is too low for me', 'tempo-key', 'up'],
    ['drop the key a half step', 'tempo-key', 'down'],
    ['autotune off in the verse', 'tuning', 'down'],
    ['hard autotune on the hook', 'tuning', 'add'],
  ])('%s', (text, kind, direction) => {
    expect(sort(text).requests[0]).toMatchObject({ kind, direction });
  });
});

describe('one wish said twice', () => {
  it('is one request, with the words of both', () => {
    const note = sort('bass player drags behind the kick. pull him onto the beat');
    expect(note.requests.map(({ kind, text }) => [kind, text])).toEqual([
      ['timing', 'bass player drags behind the kick. pull him onto the beat'],
    ]);
  });
  it('is two where it pulls the other way elsewhere', () => {
    expect(sort('kick louder in the verse, kick quieter in the chorus').requests).toHaveLength(2);
  });
});

// Proves that no text makes the sorting throw, run on or lose its place.
describe('bad input', () => {
  it.each([
    ['nothing', ''],
    ['spaces', ' \n\t '],
    ['symbols', '!!! ... ???'],
    ['only emoji', '🔥🔥🔥'],
    ['a joined emoji', '👩‍🎤'],
    ['a lone surrogate', '\ud83d vocal up'],
    ['null characters', '\u0000\u0000 vocal up'],
    ['right-to-left override', '\u202evocal up\u202c'],
    ['a very long word', 'a'.repeat(20_000)],
    ['only commas', ','.repeat(20_000)],
    ['unclosed mark-up', '<script'.repeat(500)],
    ['unclosed quotation', "'vocal up ".repeat(500)],
  ])('%s', (_, text) => {
    const note = sort(text);
    expect(levels).toContain(note.level);
    expect(note.requests.length).toBeGreaterThan(0);
    for (const request of note.requests) expect(text.slice(request.start, request.end)).toBe(request.text);
  });
  it('takes emoji of applause for praise', () => {
    expect(sort('🔥🔥🔥')).toMatchObject({ kind: 'praise', level: 'none', question: null });
  });
  it('sorts 20,000 characters', () => {
    const note = sort('kick up, snare down. '.repeat(953).slice(0, 20_000));
    expect(note.level).toBe('mix');
  });
  it('reads no mark-up or script as a wish', () => {
    const note = sort('<b>vocal up</b><script>add("a shaker")</script>');
    expect(note.requests.map(({ kind }) => kind)).toEqual(['balance']);
  });
  it('reads through zero-width characters and typographic quotes', () => {
    expect(read('vo\u200bcal lou\u200dder\ufeff in the chorus')).toEqual([['mix', 'balance', 'up']]);
    expect(read('don’t bury my voice')).toEqual([['mix', 'balance', 'up']]);
  });
  it('leaves quoted history and signatures of an e-mail out', () => {
    const text =
      'snare down a bit please\n\n-- \nthe band\n\nOn Tue, 3 March 2026 at 10:12 the engineer wrote:\n> should I add a shaker in verse 2?\n> or cut the intro?';
    const note = sort(text);
    expect(note.requests.map(({ text, kind }) => [text, kind])).toEqual([
      ['snare down a bit please', 'balance'],
    ]);
    expect(sort('> add a shaker\nvocal up').requests.map(({ kind }) => kind)).toEqual(['balance']);
  });
  it('reads an answer that stands under what it quotes', () => {
    const text =
      'See below.\n\nOn Tue, the studio wrote:\n> add a shaker?\n> anything else?\n\nsnare down a bit please';
    expect(sort(text).requests.map(({ text, kind }) => [text, kind])).toEqual([
      ['snare down a bit please', 'balance'],
    ]);
  });
  it.each([
    ['numbers', '1. kick up\n2. snare down'],
    ['numbers in one line', '1) kick up 2) snare down'],
    ['letters', '(a) kick up; (b) snare down'],
    ['dots', '• kick up\n• snare down'],
  ])('tells the items of a list apart: %s', (_, text) => {
    const { requests } = sort(text);
    expect(requests.map(({ target, direction }) => [target, direction])).toEqual([
      ['kick', 'up'],
      ['snare', 'down'],
    ]);
    expect(requests.map(({ text }) => text)).toEqual(['kick up', 'snare down']);
  });
  it.each([
    ['Arabic', 'الصوت منخفض جدا في اللازمة'],
    ['Hebrew', 'הבס חזק מדי בפזמון'],
  ])('asks for the level of right-to-left text: %s', (_, text) => {
    expect(sort(text)).toMatchObject({ level: 'none', clarification: { part: null, requestIndex: 0 } });
  });
  it('holds for any text, the same every time', () => {
    const word = fc.constantFrom(
      'vocal',
      'up',
      'and',
      'louder',
      'too',
      'the',
      ',',
      '.',
      '\n',
      'add',
      'a',
      'shaker',
      "'",
      '1:20',
      'no',
      '?',
      'verse',
      '2',
      '🔥',
      '<',
      '>',
    );
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string({ unit: 'binary', maxLength: 200 }),
          fc.array(word, { maxLength: 60 }).map((words) => words.join(' ')),
        ),
        (text) => {
          const note = sort(text);
          expect(requestKinds).toContain(note.kind);
          expect(
            note.requests.every(
              ({ start, end, text: words, confidence }) =>
                text.slice(start, end) === words && confidence >= 0 && confidence <= 1,
            ),
          ).toBe(true);
          expect(sort(text)).toEqual(note);
        },
      ),
      { numRuns: 150 },
    );
  });
});

describe('phone typing', () => {
  it.each([
    ['VOX UP PLZ!!!', 'balance', 'up'],
    ['vocl louderrr in teh chorus', 'balance', 'up'],
    ['brigthen up the acustic plz', 'tone', 'up'],
    ['drums feel squashd, let em breath', 'dynamics', 'down'],
    ['808 too boomy in the whip', 'tone', 'down'],
    ['way 2 much verb on me', 'space', 'down'],
  ])('%s', (text, kind, direction) => {
    expect(sort(text).requests[0]).toMatchObject({ kind, direction });
  });
});
