import { compareSounds } from '../../server/measurement/comparison.ts';
import { resample } from '../../server/measurement/rate-conversion.ts';
import { compareStems, type StemComparison, type StemSet } from '../../server/measurement/stem-comparison.ts';
import { later, mixDown, type Part, type Song, toFloat32 } from './synthetic-song.ts';
import { bell, inSection, limited } from './truth-case.ts';

const linear = (gainDb: number) => 10 ** (gainDb / 20);

/** Two prints of one song with stems of one or both, and what each stem's fader did. */
export interface StemTruth {
  name: string;
  a: Float32Array[];
  b: Float32Array[];
  rateA: number;
  rateB: number;
  stemsA: StemSet | null;
  stemsB: StemSet | null;
  /** The section that changed and what its faders moved by; everything else stayed. */
  section: number;
  movedDb: Record<string, number>;
}

/** Stems in memory. */
export function stemSet(
  parts: readonly { name: string; left: Float64Array; right: Float64Array }[],
  sampleRateHz: number,
): StemSet {
  const stems = parts.map(({ name, left, right }) => ({ name, channels: toFloat32([left, right]) }));
  return {
    names: stems.map(({ name }) => name),
    sampleRateHz,
    frames: stems[0]!.channels[0]!.length,
    stream: async (onStems) =>
      onStems(
        stems.map(({ channels }) => channels),
        stems[0]!.channels[0]!.length,
      ),
    whole: async (name) => stems.find((stem) => stem.name === name)!.channels,
  };
}

/** The song with each of its parts changed by `gains` in one section. */
function moved(song: Song, section: number, gains: Record<string, number>): Song {
  const moves = Object.entries(gains).map(([name, gain]) => inSection(song, section, name, gain));
  const parts = song.parts.map((part): Part => {
    const gainAt = (frame: number) =>
      moves.reduce((all, move) => all * move(part.name, frame / song.sampleRateHz), 1);
    return {
      name: part.name,
      left: part.left.map((value, frame) => value * gainAt(frame)),
      right: part.right.map((value, frame) => value * gainAt(frame)),
    };
  });
  return { ...song, parts };
}

/** The song with faders moved by decibels in one section. */
export function movedByFader(song: Song, section: number, movedDb: Record<string, number>): Song {
  return moved(
    song,
    section,
    Object.fromEntries(Object.entries(movedDb).map(([name, gainDb]) => [name, linear(gainDb)])),
  );
}

/** The song with one part put in place of its own in one section. */
function withPart(
  song: Song,
  section: number,
  name: string,
  make: (channel: Float64Array, side: 0 | 1) => Float64Array,
): Song {
  const { start, end } = song.sections[section]!;
  const within = (frame: number) =>
    frame >= Math.round(start * song.sampleRateHz) && frame < Math.round(end * song.sampleRateHz);
  const parts = song.parts.map((part) => {
    if (part.name !== name) return part;
    const put = (own: Float64Array, side: 0 | 1) => {
      const made = make(own, side);
      return own.map((value, frame) => (within(frame) ? made[frame]! : value));
    };
    return { name, left: put(part.left, 0), right: put(part.right, 1) };
  });
  return { ...song, parts };
}

/** Instrumental and a cappella. */
export function alternatesOf(song: Song): Part[] {
  const lead = song.parts.find(({ name }) => name === 'lead')!;
  const [left, right] = mixDown({ ...song, parts: song.parts.filter(({ name }) => name !== 'lead') });
  return [
    { name: 'instrumental', left, right },
    { ...lead, name: 'a cappella' },
  ];
}

/** One part's fader moved in one section. */
export function faderCase(song: Song, section: number, part: string, amountDb: number): StemTruth {
  const movedDb = { [part]: amountDb };
  return {
    name: `${part} ${amountDb > 0 ? '+' : '−'}${Math.abs(amountDb)} dB`,
    a: toFloat32(mixDown(song)),
    b: toFloat32(mixDown(movedByFader(song, section, movedDb))),
    rateA: song.sampleRateHz,
    rateB: song.sampleRateHz,
    stemsA: stemSet(song.parts, song.sampleRateHz),
    stemsB: null,
    section,
    movedDb,
  };
}

/** One case of every other kind; the lead must sing in the section. */
export function* stemCases(song: Song, section: number): Generator<StemTruth> {
  const rate = song.sampleRateHz;
  const exact = mixDown(song);
  const a = toFloat32(exact);
  const stemsA = stemSet(song.parts, rate);
  const plain = (name: string, b: Float32Array[], more: Partial<StemTruth> = {}): StemTruth => ({
    name,
    a,
    b,
    rateA: rate,
    rateB: rate,
    stemsA,
    stemsB: null,
    section,
    movedDb: {},
    ...more,
  });
  const byFader = (movedDb: Record<string, number>) => movedByFader(song, section, movedDb);
  const mixOf = (changed: Song) => toFloat32(mixDown(changed));

  yield plain('nothing at all', a);
  const two = { lead: 1.1, guitar: -0.6 };
  const b = mixDown(byFader(two));
  yield plain('lead +1.1 and guitar −0.6 dB', toFloat32(b), { movedDb: two });
  yield plain('the same, stems of B', toFloat32(b), {
    movedDb: two,
    stemsA: null,
    stemsB: stemSet(byFader(two).parts, rate),
  });
  yield plain('the same, stems of both', toFloat32(b), {
    movedDb: two,
    stemsB: stemSet(byFader(two).parts, rate),
  });
  yield plain('the same, 137 frames late', toFloat32(later(b, 137)), { movedDb: two });
  yield plain('the same, 137 frames late, stems of both, B’s not late', toFloat32(later(b, 137)), {
    movedDb: two,
    stemsB: stemSet(byFader(two).parts, rate),
  });
  yield plain(
    'the same, upside down and 0.8 dB quieter',
    toFloat32(b.map((channel) => channel.map((value) => -value * linear(-0.8)))),
    { movedDb: two },
  );
  yield plain(
    'the same at 44.1 kHz',
    resample(toFloat32(b), 44_100 / rate, Math.floor((song.frames * 44_100) / rate)),
    { movedDb: two, rateB: 44_100 },
  );
  yield plain('the same, both through one limiter', toFloat32(limited(b, 1)), {
    a: toFloat32(limited(exact, 1)),
    movedDb: two,
  });
  yield plain('instrumental and a cappella, lead +1 dB', mixOf(byFader({ lead: 1 })), {
    movedDb: { 'a cappella': 1 },
    stemsA: stemSet(alternatesOf(song), rate),
  });
  yield plain('lead muted', mixOf(moved(song, section, { lead: 0 })), {
    movedDb: { lead: Number.NEGATIVE_INFINITY },
  });
  const brighter = withPart(song, section, 'lead', (channel) => bell(channel, rate, 2500, 3));
  yield plain('lead +3 dB around 2.5 kHz', mixOf(brighter), { movedDb: { lead: Number.NaN } });
  yield plain('lead +3 dB around 2.5 kHz, stems of both', mixOf(brighter), {
    movedDb: { lead: Number.NaN },
    stemsB: stemSet(brighter.parts, rate),
  });
  // A constant-power pan from the middle, 30 degrees to the right.
  const angle = Math.PI / 4 + Math.PI / 12;
  const right = withPart(song, section, 'lead', (channel, side) =>
    channel.map((value) => value * Math.SQRT2 * (side === 0 ? Math.cos(angle) : Math.sin(angle))),
  );
  yield plain('lead panned right', mixOf(right), { movedDb: { lead: Number.NaN } });
  yield plain('lead panned right, both through one limiter', toFloat32(limited(mixDown(right), 1)), {
    a: toFloat32(limited(exact, 1)),
    movedDb: { lead: Number.NaN },
  });
  yield plain('lead +1.1 and guitar −0.6 dB, B alone through a limiter', toFloat32(limited(b, 1)), {
    movedDb: two,
  });
  yield plain('lead +1.1 and guitar −0.6 dB, drums missing among the stems', toFloat32(b), {
    movedDb: two,
    stemsA: stemSet(
      song.parts.filter(({ name }) => name !== 'drums'),
      rate,
    ),
  });
  yield plain('lead +1.1 and guitar −0.6 dB, keys twice among the stems', toFloat32(b), {
    movedDb: two,
    stemsA: stemSet([...song.parts, { ...song.parts[2]!, name: 'keys copy' }], rate),
  });
  yield plain('bus limited 2 dB harder', toFloat32(limited(exact, linear(2))), {
    a: toFloat32(limited(exact, 1)),
  });
}

/** What the comparison by stems makes of a case. */
export async function judge(song: Song, truth: StemTruth): Promise<StemComparison> {
  const a = { channels: truth.a, sampleRateHz: truth.rateA };
  const b = { channels: truth.b, sampleRateHz: truth.rateB };
  const { gainDb } = compareSounds(a, b, song.sections);
  return compareStems(a, b, truth.stemsA, truth.stemsB, song.sections, gainDb);
}

/** The largest error of a gain, over all sections and stems that a fader alone moved, and how many were told at all. */
export function gainErrorDb(truth: StemTruth, found: StemComparison): { worstDb: number; told: number } {
  let worstDb = 0;
  let told = 0;
  for (const [index, { stems }] of found.sections.entries()) {
    for (const { stem, matchedGainDifferenceDb } of stems) {
      const trueDb = index === truth.section ? (truth.movedDb[stem] ?? 0) : 0;
      if (matchedGainDifferenceDb === null || !Number.isFinite(trueDb)) continue;
      told++;
      worstDb = Math.max(worstDb, Math.abs(matchedGainDifferenceDb - trueDb));
    }
  }
  return { worstDb, told };
}
