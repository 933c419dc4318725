import { describe, expect, it } from 'vitest';
import { movedBeside } from '../../server/application/moved-beside.ts';
import { bandsOfPart } from '../../server/application/part-bands.ts';
import { type AskedPlace, askedPlace } from '../../server/application/request-place.ts';
import { requestVerdict } from '../../server/application/request-verdict.ts';
import { unaskedChanges } from '../../server/application/unasked-change.ts';
import type { Request } from '../../server/domain/note.ts';
import type { Direction, RequestKind } from '../../server/domain/request-kind.ts';
import { type Comparison, compareSounds } from '../../server/measurement/comparison.ts';
import { movePlace } from '../../server/measurement/timeline-position.ts';
import { decibels, mixDown, synthesiseSong, toFloat32, without } from '../comparison/synthetic-song.ts';
import { faderCases, otherCases, type TruthCase } from '../comparison/truth-case.ts';

/**
 * Proves what is said of a request against mixes in which one thing was done and is known: done, not done, done the
 * other way, done elsewhere, done beside something else; and that nothing is said to have changed where nothing did.
 * What was done is the truth; no expectation is taken from the comparison.
 */
const song = synthesiseSong({ bars: 12, barsInSection: 2 });
const chorus = 2;
const rate = song.sampleRateHz;
const base = mixDown(song);
const a = toFloat32(base);

const compared = (
  b: readonly Float32Array[],
  older: readonly Float32Array[] = a,
  named = true,
  rateB = rate,
): Comparison =>
  compareSounds(
    { channels: older, sampleRateHz: rate },
    { channels: b, sampleRateHz: rateB },
    named ? song.sections : [],
  );
const ofCase = (truth: TruthCase) => compared(truth.b, truth.a, true, truth.sampleRateHzB);

const faders = new Map(
  [...faderCases(song, [chorus], [1, -1], base)].map((truth) => [truth.name, truth] as const),
);
const others = new Map([...otherCases(song, chorus, base)].map((truth) => [truth.name, truth] as const));
const truth = (name: string): TruthCase => {
  const found = faders.get(name) ?? others.get(name);
  if (!found) throw new Error(`There is no case “${name}”.`);
  return found;
};
const known = new Map<string, Comparison>();
function comparisonOf(name: string): Comparison {
  const found = known.get(name) ?? ofCase(truth(name));
  known.set(name, found);
  return found;
}

type Wished = Pick<Request, 'text' | 'kind' | 'direction' | 'target' | 'place' | 'range'>;
const wish = (
  target: string | null,
  direction: Direction | null,
  more: Partial<Wished> & { kind?: RequestKind } = {},
): Wished => ({
  kind: 'balance',
  text: '',
  target,
  direction,
  place: 'chorus 1',
  range: null,
  ...more,
});
interface Asked {
  request: Wished;
  place: AskedPlace;
}
const placed = (request: Wished, comparison: Comparison): Asked => ({
  request,
  place: askedPlace(request, request.range && movePlace(request.range, []), comparison.sections),
});
function verdict(comparison: Comparison, request: Wished, ...rivals: Wished[]) {
  return requestVerdict(
    request,
    placed(request, comparison).place,
    comparison,
    rivals.map((rival) => placed(rival, comparison)),
  );
}

/** The parts of the synthetic song by the names that requests have for them. */
const partNames: Record<string, string> = {
  drums: 'drums',
  bass: 'bass',
  keys: 'keys',
  guitar: 'electric guitar',
  lead: 'lead vocal',
};

describe('a fader that was asked for', () => {
  for (const [part, target] of Object.entries(partNames)) {
    it(`${target}: up and went up is seen; down and went up is the opposite`, () => {
      const up = comparisonOf(`${part} +1 dB in chorus 1`);
      expect(verdict(up, wish(target, 'up')).verdict).toBe('seen in the measurement');
      expect(verdict(up, wish(target, 'down')).verdict).toBe('opposite');
      expect(unaskedChanges(up, [placed(wish(target, 'up'), up)])).toEqual([]);
    });

    it(`${target}: up and went down is the opposite; down and went down is seen`, () => {
      const down = comparisonOf(`${part} −1 dB in chorus 1`);
      expect(verdict(down, wish(target, 'up')).verdict).toBe('opposite');
      expect(verdict(down, wish(target, 'down')).verdict).toBe('seen in the measurement');
    });
  }

  it('has its figure in one sentence: the bands, how far they moved, and the part’s own fader', () => {
    const { figure } = verdict(comparisonOf('lead +1 dB in chorus 1'), wish('lead vocal', 'up'));
    const said =
      /^Lead vocal bands in chorus 1 \(\d.* kHz\) are (\d\.\d) dB up after matching, the part itself \+(\d\.\d) dB if one part moved\.$/.exec(
        figure,
      );
    // The fader went up by 1 dB, so that no band of the mix can have gone up by more.
    expect(Number(said?.[1])).toBeLessThanOrEqual(1);
    expect(Number(said?.[2])).toBeCloseTo(1, 0);
  });

  it('is “no change measured” where it was not moved, though another part was in other bands', () => {
    const bass = comparisonOf('bass +1 dB in chorus 1');
    expect(verdict(bass, wish('lead vocal', 'up')).verdict).toBe('no change measured');
    const lead = comparisonOf('lead +1 dB in chorus 1');
    expect(verdict(lead, wish('bass', 'up'))).toEqual({
      verdict: 'no change measured',
      figure: 'Bass bands in chorus 1 (40 to 250 Hz) moved by less than 0.1 dB beside what changed there.',
    });
  });

  it('is “no change measured” where it was moved in another section', () => {
    const lead = comparisonOf('lead +1 dB in chorus 1');
    const asked = wish('lead vocal', 'up', { place: 'verse 2' });
    expect(verdict(lead, asked).verdict).toBe('no change measured');
    expect(unaskedChanges(lead, [placed(asked, lead)])).toMatchObject([{ where: 'chorus 1' }]);
  });

  it('can’t be told where another asked part sounds in the same bands', () => {
    const lead = comparisonOf('lead +1 dB in chorus 1');
    const told = verdict(lead, wish('lead vocal', 'up'), wish('electric guitar', 'up'));
    expect(told.verdict).toBe('cannot be told this way');
    expect(told.figure).toContain('The electric guitar sounds in the same bands');
    const elsewhere = wish('electric guitar', 'up', { place: 'verse 2' });
    expect(verdict(lead, wish('lead vocal', 'up'), elsewhere).verdict).toBe('seen in the measurement');
    expect(verdict(lead, wish('lead vocal', 'up'), wish('bass', 'up')).verdict).toBe(
      'seen in the measurement',
    );
  });

  it('can’t be told where something else fell out of its bands, which is then unasked', () => {
    // The bass 1 dB up as asked, while the drums fall out for the second half of the chorus.
    const both = compared(
      toFloat32(
        mixDown(song, (part, seconds) => {
          if (seconds < 8 || seconds >= 12) return 1;
          return part === 'bass' ? decibels(1) : part === 'drums' && seconds >= 10 ? 0 : 1;
        }),
      ),
    );
    const asked = wish('bass', 'up');
    expect(verdict(both, asked).verdict).toBe('cannot be told this way');
    expect(unaskedChanges(both, [placed(asked, both)])).toMatchObject([{ where: 'chorus 1' }]);
    const drums = wish('drums', 'remove', { kind: 'mute' });
    expect(unaskedChanges(both, [placed(asked, both), placed(drums, both)])).toEqual([]);
  });

  it('can’t be told without a part, and without a way', () => {
    const lead = comparisonOf('lead +1 dB in chorus 1');
    expect(verdict(lead, wish(null, 'up')).verdict).toBe('cannot be told this way');
    expect(verdict(lead, wish('lead vocal', 'change')).verdict).toBe('cannot be told this way');
  });

  it('is judged beside the gain of the whole mix', () => {
    const both = comparisonOf('whole mix −0.7 dB and lead +2 dB in one section');
    expect(verdict(both, wish('lead vocal', 'up')).verdict).toBe('seen in the measurement');
    expect(verdict(both, wish('bass', 'down')).verdict).toBe('no change measured');
  });
});

describe('bands beside a part', () => {
  const bands = (...residuals: [nominalHz: number, residualDb: number | null][]) => ({
    bands: residuals.map(([nominalHz, residualDb]) => ({
      nominalHz,
      residualDb,
      differenceDb: null,
      matchedDifferenceDb: null,
    })),
  });
  const bass = bandsOfPart('bass')!;

  it('say that something else moved where they hold 6 dB more of it', () => {
    expect(movedBeside(bands([80, -8], [160, -14], [8000, -1]), bass)).toEqual(new Set([8000]));
    expect(movedBeside(bands([80, -8], [160, -14], [8000, -3]), bass)).toBeNull();
  });

  it('say nothing where hardly anything moved, or nothing was measured', () => {
    expect(movedBeside(bands([80, -30], [8000, -14]), bass)).toBeNull();
    expect(movedBeside(bands([80, -8], [8000, null]), bass)).toBeNull();
  });
});

describe('what was to go or to come', () => {
  const lines: [name: string, Wished, expected: string][] = [
    ['lead muted in chorus 1', wish('lead vocal', 'remove', { kind: 'mute' }), 'seen in the measurement'],
    [
      'guitar muted in chorus 1',
      wish('electric guitar', 'remove', { kind: 'mute' }),
      'seen in the measurement',
    ],
    ['lead muted in chorus 1', wish('bass', 'remove', { kind: 'mute' }), 'no change measured'],
    ['lead muted in chorus 1', wish('lead vocal', 'add', { kind: 'mute' }), 'opposite'],
    ['lead −1 dB in chorus 1', wish('lead vocal', 'remove', { kind: 'mute' }), 'cannot be told this way'],
    ['lead added in chorus 1', wish('lead vocal', 'add', { kind: 'new-part' }), 'seen in the measurement'],
    ['lead added in chorus 1', wish('lead vocal', 'remove', { kind: 'mute' }), 'opposite'],
    ['lead +1 dB in chorus 1', wish('lead vocal', 'add', { kind: 'new-part' }), 'cannot be told this way'],
  ];
  for (const [name, asked, expected] of lines)
    it(`${name}: ${asked.target}, ${asked.direction} is “${expected}”`, () => {
      expect(verdict(comparisonOf(name), asked).verdict).toBe(expected);
    });
});

describe('tone, image, room, loudness and form', () => {
  const tone = (text: string, direction: Direction) => wish('keys', direction, { kind: 'tone', text });
  const pan = (text: string) => wish('lead vocal', 'change', { kind: 'pan', text });
  const loud = (direction: Direction) =>
    wish('whole mix', direction, { kind: 'overall-loudness', place: null });
  const form = (direction: Direction) => wish('song structure', direction, { kind: 'arrangement' });
  const room = (direction: Direction) => wish('lead vocal', direction, { kind: 'space' });
  const dipped = 'keys −3 dB around 400 Hz in chorus 1';
  const peaked = 'lead +3 dB around 2.5 kHz in chorus 1';
  const lines: [name: string, Wished, expected: string][] = [
    [dipped, tone('keys are boxy', 'down'), 'seen in the measurement'],
    [dipped, tone('keys need to be warmer', 'up'), 'opposite'],
    [dipped, tone('keys need more presence', 'up'), 'no change measured'],
    [dipped, tone('keys sound odd', 'change'), 'cannot be told this way'],
    [peaked, wish('lead vocal', 'up', { kind: 'tone', text: 'more presence' }), 'seen in the measurement'],
    [peaked, wish('lead vocal', 'down', { kind: 'tone', text: 'too harsh' }), 'opposite'],
    ['lead panned right in chorus 1', pan('pan it right'), 'seen in the measurement'],
    ['lead panned right in chorus 1', pan('pan it left'), 'opposite'],
    ['lead +1 dB in chorus 1', pan('pan it left'), 'cannot be told this way'],
    ['lead wetter in chorus 1', room('up'), 'seen in the measurement'],
    ['lead wetter in chorus 1', room('down'), 'opposite'],
    ['lead +1 dB in chorus 1', room('up'), 'cannot be told this way'],
    ['whole mix +1.5 dB', loud('up'), 'seen in the measurement'],
    ['whole mix +1.5 dB', loud('down'), 'opposite'],
    ['nothing at all', loud('up'), 'no change measured'],
    ['2 bars cut', form('remove'), 'seen in the measurement'],
    ['2 bars cut', form('add'), 'opposite'],
    ['nothing at all', form('remove'), 'no change measured'],
    ['bus limited 2 dB harder', wish('lead vocal', 'up'), 'cannot be told this way'],
  ];
  for (const [name, asked, expected] of lines)
    it(`${name}: “${asked.text || [asked.target, asked.direction].join(', ')}” is “${expected}”`, () => {
      expect(verdict(comparisonOf(name), asked).verdict).toBe(expected);
    });
});

describe('what two mixes say nothing about', () => {
  const kinds: RequestKind[] = ['tuning', 'timing', 'comp', 'lyric', 're-record', 'dynamics', 'cleanup'];
  for (const kind of kinds)
    it(`${kind}: can’t be told where something moved, and is “no change measured” where nothing did`, () => {
      const asked = wish('lead vocal', 'change', { kind });
      const moved = verdict(comparisonOf('lead +1 dB in chorus 1'), asked);
      expect(moved.verdict).toBe('cannot be told this way');
      expect(moved.figure).toMatch(/but .*(can’t be|is for the ear)/);
      expect(verdict(comparisonOf('nothing at all'), asked).verdict).toBe('no change measured');
    });

  it('says why the two can’t be compared', () => {
    const place: AskedPlace = { sections: [], narrower: null, named: true, left: 'unknown' };
    expect(requestVerdict(wish('bass', 'up'), place, null, [], 'The second file is silent.')).toEqual({
      verdict: 'cannot be told this way',
      figure: 'The second file is silent.',
    });
  });
});

describe('a pair in which nothing changed', () => {
  for (const name of [
    'nothing at all',
    '137 frames late',
    '0.37 frames late',
    '44.1 kHz against 48',
    '16 bits, dithered twice',
  ])
    it(`${name}: no request is seen, none the opposite, and nothing is unasked`, () => {
      const comparison = ofCase(truth(name));
      for (const target of Object.values(partNames))
        for (const kind of ['balance', 'mute', 'space', 'tone', 'pan'] as const)
          for (const direction of ['up', 'down', 'remove'] as const) {
            const asked = wish(target, direction, { kind, text: 'boxy, pan it left', place: null });
            const told = verdict(comparison, asked).verdict;
            expect([target, kind, direction, told]).toEqual([target, kind, direction, 'no change measured']);
          }
      expect(unaskedChanges(comparison, [])).toEqual([]);
    });
});

describe('where in the song', () => {
  /** The lead 1 dB up in verse 1 and in chorus 1, of which only one was asked for. */
  const inTwo = compared(
    toFloat32(
      mixDown(song, (part, seconds) => (part === 'lead' && seconds >= 4 && seconds < 12 ? decibels(1) : 1)),
    ),
  );

  it('each of several named places must show it', () => {
    const verses = verdict(inTwo, wish('lead vocal', 'up', { place: 'both verses' }));
    expect(verses.verdict).toBe('no change measured');
    expect(verses.figure).toMatch(/verse 1 .* up after matching.* Verse 2: no change measured/);
  });

  it('a wish for the whole song is seen where any section shows it', () => {
    expect(verdict(inTwo, wish('lead vocal', 'up', { place: null })).verdict).toBe('seen in the measurement');
    expect(verdict(inTwo, wish('lead vocal', 'down', { place: null })).verdict).toBe('opposite');
  });

  it('what nobody asked for is listed, the biggest first', () => {
    const unasked = unaskedChanges(inTwo, [placed(wish('lead vocal', 'up', { place: 'verse 1' }), inTwo)]);
    expect(unasked.map(({ where }) => where)).toEqual(['chorus 1']);
    const all = unaskedChanges(inTwo, []);
    expect(all.map(({ where }) => where).sort()).toEqual(['chorus 1', 'verse 1']);
    const bass = unaskedChanges(inTwo, [placed(wish('bass', 'up', { place: null }), inTwo)]);
    expect(bass).toHaveLength(2);
    const louder = unaskedChanges(comparisonOf('whole mix +1.5 dB'), []);
    expect(louder).toMatchObject([{ place: null, plain: 'The whole song is louder.' }]);
  });

  it('a range that stood still inside a section that changed is “no change measured”', () => {
    const late = compared(
      toFloat32(
        mixDown(song, (part, seconds) =>
          part === 'lead' && seconds >= 10.4 && seconds < 11.9 ? decibels(2) : 1,
        ),
      ),
    );
    const at = (startSeconds: number, endSeconds: number) =>
      verdict(late, wish('lead vocal', 'up', { place: null, range: { startSeconds, endSeconds } }));
    expect(at(8.2, 9.4)).toMatchObject({
      verdict: 'no change measured',
      figure: expect.stringMatching(/^0:08–0:09: no change measured/),
    });
    expect(at(10.4, 11.8).verdict).toBe('seen in the measurement');
  });

  it('follows the song through a cut, and says where its place was cut', () => {
    // Two bars of verse 1 go, so that all after it stands 2 s earlier; then the lead goes up in what was chorus 1.
    const exact = mixDown(song, (part, seconds) =>
      part === 'lead' && seconds >= 8 && seconds < 12 ? decibels(2) : 1,
    );
    const cut = compareSounds(
      { channels: a, sampleRateHz: rate },
      { channels: toFloat32(without(exact, rate, 5, 7)), sampleRateHz: rate },
      [
        { name: 'intro', start: 0, end: 4 },
        { name: 'verse 1', start: 4, end: 6 },
        { name: 'chorus 1', start: 6, end: 10 },
        { name: 'rest', start: 10, end: 22 },
      ],
    );
    const steps = [{ pieces: cut.alignment.pieces, towards: 'newer' as const }];
    const at = (startSeconds: number, endSeconds: number | null) => {
      const request = wish('lead vocal', 'up', { place: null, range: { startSeconds, endSeconds } });
      const place = askedPlace(request, movePlace(request.range!, steps), cut.sections);
      return { place, told: requestVerdict(request, place, cut, []) };
    };
    const moved = at(8, 12);
    expect(moved.place.sections.map((index) => cut.sections[index]!.name)).toEqual(['chorus 1']);
    expect(moved.told.verdict).toBe('seen in the measurement');
    expect(at(5.5, 6.5).told).toEqual({
      verdict: 'cannot be told this way',
      figure: 'Its place was cut from the new version.',
    });
    expect(at(6, null).place.left).toBe('none');
  });

  it('works where no section is named', () => {
    const lead = truth('lead +1 dB in chorus 1');
    const nameless = compared(lead.b, lead.a, false);
    const { start, end } = song.sections[chorus]!;
    const asked = wish('lead vocal', 'up', {
      place: 'chorus 1',
      range: { startSeconds: start, endSeconds: end },
    });
    expect(verdict(nameless, asked).verdict).toBe('seen in the measurement');
    expect(unaskedChanges(nameless, [placed(asked, nameless)])).toEqual([]);
    expect(unaskedChanges(nameless, [])).not.toEqual([]);
  });
});
