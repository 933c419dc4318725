import { describe, expect, it } from 'vitest';
import type { StemReading } from '../../server/measurement/stem-gain.ts';
import { faderCase, gainErrorDb, judge, type StemTruth, stemCases } from './stem-truth.ts';
import { synthesiseSong } from './synthetic-song.ts';

/**
 * Proves that with stems at hand each part's own move is told: expectations are what was done to the parts, whatever
 * then happened to the prints: late, upside down, at another rate, through a limiter.
 */
const song = synthesiseSong({ bars: 12, barsInSection: 2 });
const chorus = 2;
const cases = new Map([...stemCases(song, chorus)].map((truth) => [truth.name, truth]));
const caseOf = (name: string) => {
  const truth = cases.get(name);
  if (!truth) throw new RangeError(`There is no case "${name}".`);
  return truth;
};

const found = (name: string) => foundIn(caseOf(name));

async function foundIn(truth: StemTruth) {
  const comparison = await judge(song, truth);
  const readings = (section: number) =>
    Object.fromEntries(
      comparison.sections[section]!.stems.map(({ stem, reading }) => [stem, reading]),
    ) as Record<string, StemReading>;
  return { comparison, readings, ...gainErrorDb(truth, comparison) };
}

/** The lead rests in the first section. Everything else sounds in all six. */
const sounding = 5 * song.sections.length - 1;

describe('a fader moved in one section', () => {
  for (const [part, gainDb] of [
    ['lead', 0.5],
    ['lead', -0.5],
    ['lead', 1],
    ['lead', -2],
    ['bass', 0.5],
    ['drums', -0.5],
    ['keys', 1],
    ['guitar', 2],
  ] as const) {
    it(`${part} ${gainDb} dB`, async () => {
      const { comparison, readings, worstDb, told } = await foundIn(faderCase(song, chorus, part, gainDb));
      expect(told).toBe(sounding);
      expect(worstDb).toBeLessThan(0.001);
      expect(readings(chorus)[part]).toBe(gainDb > 0 ? 'up' : 'down');
      const moved = comparison.sections.flatMap(({ stems }) =>
        stems.filter(({ reading }) => reading !== 'no change measured' && reading !== 'silent'),
      );
      expect(moved.map(({ stem }) => stem)).toEqual([part]);
    });
  }
});

describe('two faders moved in one section', () => {
  for (const name of [
    'lead +1.1 and guitar −0.6 dB',
    'the same, stems of B',
    'the same, stems of both',
    'the same, 137 frames late',
    'the same, 137 frames late, stems of both, B’s not late',
    'the same, upside down and 0.8 dB quieter',
    'the same at 44.1 kHz',
  ]) {
    it(name, async () => {
      const { comparison, worstDb, told } = await found(name);
      expect(told).toBe(sounding);
      expect(worstDb).toBeLessThan(0.01);
      expect(comparison.sections[chorus]!.sentence).toBe(
        'Chorus 1: lead +1.1 dB; guitar −0.6 dB; the other stems: no change measured.',
      );
    });
  }

  for (const name of [
    'the same, both through one limiter',
    'lead +1.1 and guitar −0.6 dB, B alone through a limiter',
  ]) {
    it(`${name}: gains within 0.1 dB, the limiter said`, async () => {
      const { comparison, readings, worstDb } = await found(name);
      expect(worstDb).toBeLessThan(0.1);
      expect(readings(chorus)).toMatchObject({ lead: 'up', guitar: 'down', drums: 'no change measured' });
      for (const { doubt, busGainDb } of comparison.sections) {
        expect(doubt).toBe('bus dynamics');
        expect(busGainDb!.b).toBeLessThan(-0.3);
      }
    });
  }

  it('with a stem missing: what is there within 0.1 dB, and that much is unexplained', async () => {
    const { comparison, worstDb } = await found(
      'lead +1.1 and guitar −0.6 dB, drums missing among the stems',
    );
    expect(worstDb).toBeLessThan(0.1);
    expect(comparison.sections[chorus]!.doubt).toBe('unexplained');
    expect(comparison.sums.a!.reading).toBe('bus processor or missing stem');
  });

  it('with a stem twice: neither of the two is told, the others are', async () => {
    const { readings, worstDb } = await found('lead +1.1 and guitar −0.6 dB, keys twice among the stems');
    expect(worstDb).toBeLessThan(0.001);
    expect(readings(chorus)).toEqual({
      drums: 'no change measured',
      bass: 'no change measured',
      keys: 'not told apart',
      'keys copy': 'not told apart',
      guitar: 'down',
      lead: 'up',
    });
  });
});

describe('other changes', () => {
  it('nothing at all: no change measured, anywhere', async () => {
    const { comparison, told, worstDb } = await found('nothing at all');
    expect(told).toBe(sounding);
    expect(worstDb).toBe(0);
    expect(comparison.sections.every(({ doubt }) => doubt === null)).toBe(true);
    expect(comparison.sums.a!.reading).toBe('rounding');
  });

  it('a bus limited 2 dB harder: no fader moved, the limiter holds more down', async () => {
    const { comparison, worstDb } = await found('bus limited 2 dB harder');
    expect(worstDb).toBeLessThan(0.1);
    for (const { doubt, busGainDb, stems } of comparison.sections) {
      expect(doubt).toBe('bus dynamics');
      expect(busGainDb!.b - busGainDb!.a).toBeLessThan(-1);
      expect(busGainDb!.b - busGainDb!.a).toBeGreaterThan(-2);
      expect(stems.every(({ reading }) => reading === 'no change measured' || reading === 'silent')).toBe(
        true,
      );
    }
    expect(comparison.sums.a!.reading).toBe('bus dynamics');
  });

  it('a muted stem is gone, and has no gain', async () => {
    const { comparison, readings } = await found('lead muted');
    expect(readings(chorus).lead).toBe('removed');
    const lead = comparison.sections[chorus]!.stems.find(({ stem }) => stem === 'lead')!;
    expect(lead.gainDifferenceDb).toBeNull();
    expect(readings(chorus).drums).toBe('no change measured');
  });

  for (const name of ['lead +3 dB around 2.5 kHz', 'lead +3 dB around 2.5 kHz, stems of both']) {
    it(`${name}: its tone changed, no gain is said, and the bands show where`, async () => {
      const { comparison, readings, worstDb } = await found(name);
      expect(worstDb).toBeLessThan(0.1);
      expect(readings(chorus).lead).toBe('tone changed');
      const lead = comparison.sections[chorus]!.stems.find(({ stem }) => stem === 'lead')!;
      expect(lead.gainDifferenceDb).toBeNull();
      const band = (wanted: string) => lead.bands.find(({ name: each }) => each === wanted)!.gainDifferenceDb;
      expect(band('presence')).toBeGreaterThan(2);
      expect(band('presence')).toBeLessThanOrEqual(3);
      expect(band('low mids')).toBeLessThan(0.3);
    });
  }

  it('a pan of 30 degrees at constant power: moved to the right, at its own level', async () => {
    const { comparison, readings } = await found('lead panned right');
    expect(readings(chorus).lead).toBe('moved in the image');
    const lead = comparison.sections[chorus]!.stems.find(({ stem }) => stem === 'lead')!;
    // √2 cos 60° and √2 sin 60°, from 45 + 15 degrees; cos² + sin² = 1.
    expect(lead.leftGainDifferenceDb).toBeCloseTo(20 * Math.log10(Math.SQRT2 * Math.cos(Math.PI / 3)), 2);
    expect(lead.rightGainDifferenceDb).toBeCloseTo(20 * Math.log10(Math.SQRT2 * Math.sin(Math.PI / 3)), 2);
    expect(lead.gainDifferenceDb).toBeCloseTo(0, 2);
    expect(comparison.sections[chorus]!.doubt).toBeNull();
  });

  it('the same pan under a limiter is still a move, and the section doubtful', async () => {
    const { comparison, readings } = await found('lead panned right, both through one limiter');
    expect(readings(chorus).lead).toBe('moved in the image');
    expect(comparison.sections[chorus]!.doubt).toBe('unexplained');
    for (const stem of ['drums', 'bass', 'keys', 'guitar'])
      expect(['no change measured', 'too uncertain']).toContain(readings(chorus)[stem]);
  });

  it('instrumental and a cappella serve as two stems', async () => {
    const { readings, worstDb } = await found('instrumental and a cappella, lead +1 dB');
    expect(worstDb).toBeLessThan(0.001);
    expect(readings(chorus)).toEqual({ instrumental: 'no change measured', 'a cappella': 'up' });
  });
});
