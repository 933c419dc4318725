import type { ChangeKind } from '../../server/measurement/change.ts';
import { resample } from '../../server/measurement/rate-conversion.ts';
import { decibels, later, mixDown, type Song, seededRandom, toFloat32, without } from './synthetic-song.ts';

/** Two mixes of one song with one known difference between them, and what that difference is. */
export interface TruthCase {
  name: string;
  a: Float32Array[];
  b: Float32Array[];
  sampleRateHzB: number;
  offsetFrames: number;
  gainDb: number;
  polarity: 1 | -1;
  /** A cut, in seconds. */
  cut: { at: number; length: number } | null;
  /** The section that changed, by its place; `null` where none did, `all` where the whole mix is treated. */
  changed: number | 'all' | null;
  /** The kinds that name it rightly; more than one where two mixes can't tell them apart. */
  kinds: ChangeKind[];
  /** What the changed part's fader moved by. */
  partGainDb: number | null;
  /** Exact mixes, for truths that need them; `null` where B has another rate or timeline. */
  exact: { a: Float64Array[]; b: Float64Array[] } | null;
}

type Exact = Float64Array[];

const section = (song: Song, index: number, seconds: number) => {
  const { start, end } = song.sections[index]!;
  return seconds >= start && seconds < end;
};

/** Gains that hold in one section, with a straight 20 ms edge as a fader has it. */
export function inSection(song: Song, index: number, part: string, gain: number) {
  const { start, end } = song.sections[index]!;
  const half = 0.01;
  const atSongEnd = index === song.sections.length - 1;
  const atSongStart = index === 0;
  return (name: string, seconds: number) => {
    if (name !== part || seconds < start - half || seconds > end + half) return 1;
    const rise = atSongStart ? 1 : (seconds - start + half) / (2 * half);
    const fall = atSongEnd ? 1 : (end + half - seconds) / (2 * half);
    return 1 + (gain - 1) * Math.min(1, rise, fall);
  };
}

/** A part's power in a section, beside the mix: parts that don't play there have nothing to change. */
export function partLevelDb(song: Song, index: number, name: string): number {
  const { start, end } = song.sections[index]!;
  const from = Math.round(start * song.sampleRateHz);
  const to = Math.min(song.frames, Math.round(end * song.sampleRateHz));
  let own = 0;
  let all = 1e-12;
  for (let frame = from; frame < to; frame++) {
    let left = 0;
    let right = 0;
    for (const part of song.parts) {
      left += part.left[frame]!;
      right += part.right[frame]!;
      if (part.name === name) own += part.left[frame]! ** 2 + part.right[frame]! ** 2;
    }
    all += left * left + right * right;
  }
  return 10 * Math.log10(own / all + 1e-12);
}

/** Every part's fader moved in each of the given sections, by each of the given amounts. */
export function* faderCases(
  song: Song,
  sections: readonly number[],
  amountsDb: readonly number[],
  base: Exact = mixDown(song),
): Generator<TruthCase> {
  const a = toFloat32(base);
  for (const index of sections) {
    for (const { name } of song.parts) {
      if (partLevelDb(song, index, name) < -40) continue;
      for (const amountDb of amountsDb) {
        const exact = mixDown(song, inSection(song, index, name, decibels(amountDb)));
        yield {
          ...unchanged(song, a, toFloat32(exact)),
          name: `${name} ${amountDb > 0 ? '+' : '−'}${Math.abs(amountDb)} dB in ${song.sections[index]!.name}`,
          changed: index,
          kinds: amountDb > 0 ? ['up'] : ['down'],
          partGainDb: amountDb,
          exact: { a: base, b: exact },
        };
      }
    }
  }
}

function unchanged(song: Song, a: Float32Array[], b: Float32Array[]): TruthCase {
  return {
    name: '',
    a,
    b,
    sampleRateHzB: song.sampleRateHz,
    offsetFrames: 0,
    gainDb: 0,
    polarity: 1,
    cut: null,
    changed: null,
    kinds: [],
    partGainDb: null,
    exact: null,
  };
}

/** One case of every other kind. `lead` must sing in the section, `guitar` must stand beside the middle. */
export function* otherCases(song: Song, index: number, base: Exact = mixDown(song)): Generator<TruthCase> {
  const rate = song.sampleRateHz;
  const a = toFloat32(base);
  const where = song.sections[index]!.name;
  const part = (name: string) => song.parts.find((one) => one.name === name)!;
  const plain = (name: string, b: Float32Array[] | Exact, more: Partial<TruthCase> = {}): TruthCase => ({
    ...unchanged(song, a, b[0] instanceof Float32Array ? (b as Float32Array[]) : toFloat32(b as Exact)),
    name,
    ...more,
  });
  /** The mix with something of one part, made by `make`, in place of it within the section. */
  const withPart = (name: string, make: (channel: Float64Array, side: 0 | 1) => Float64Array): Exact =>
    base.map((channel, side) => {
      const own = side === 0 ? part(name).left : part(name).right;
      const made = make(own, side as 0 | 1);
      return channel.map((value, frame) =>
        section(song, index, frame / rate) ? value + made[frame]! - own[frame]! : value,
      );
    });

  yield plain('nothing at all', a);
  yield plain(
    'whole mix +1.5 dB',
    base.map((channel) => channel.map((value) => value * decibels(1.5))),
    {
      gainDb: 1.5,
    },
  );
  yield plain(
    'whole mix −0.7 dB and lead +2 dB in one section',
    (() => {
      const mix = mixDown(song, inSection(song, index, 'lead', decibels(2)));
      return mix.map((channel) => channel.map((value) => value * decibels(-0.7)));
    })(),
    { gainDb: -0.7, changed: index, kinds: ['up'], partGainDb: 2 },
  );
  yield plain('137 frames late', later(base, 137), { offsetFrames: 137 });
  yield plain(
    '137 frames early',
    base.map((channel) => channel.slice(137)),
    { offsetFrames: -137 },
  );
  yield plain('0.37 frames late', resample(a, 1, a[0]!.length, -0.37), { offsetFrames: 0.37 });
  yield plain('1001.6 frames late', resample(a, 1, a[0]!.length, -1001.6), { offsetFrames: 1001.6 });
  yield plain(
    'polarity turned over',
    a.map((channel) => channel.map((value) => -value)),
    { polarity: -1 },
  );
  const cutAt = song.sections[index]!.start + song.barSeconds;
  yield plain('2 bars cut', without(base, rate, cutAt, cutAt + 2 * song.barSeconds), {
    cut: { at: cutAt, length: 2 * song.barSeconds },
    changed: index,
    kinds: ['cut'],
  });
  const offBar = song.sections[index]!.start + 1.37;
  yield plain('1 bar cut off the beat', without(base, rate, offBar, offBar + song.barSeconds), {
    cut: { at: offBar, length: song.barSeconds },
    changed: index,
    kinds: ['cut'],
  });
  yield plain('44.1 kHz against 48', resample(a, 44_100 / rate, Math.floor((song.frames * 44_100) / rate)), {
    sampleRateHzB: 44_100,
  });
  const random = seededRandom(77);
  const dithered = () =>
    a.map((channel) => channel.map((value) => Math.round(value * 32_768 + random() - random()) / 32_768));
  yield plain('16 bits, dithered', dithered());
  yield { ...plain('16 bits, dithered twice', dithered()), a: dithered() };
  yield plain(`lead muted in ${where}`, mixDown(song, inSection(song, index, 'lead', 0)), {
    changed: index,
    kinds: ['removed'],
  });
  yield plain(`guitar muted in ${where}`, mixDown(song, inSection(song, index, 'guitar', 0)), {
    changed: index,
    kinds: ['removed'],
  });
  yield {
    ...plain(`lead added in ${where}`, a, { changed: index, kinds: ['added'] }),
    a: toFloat32(mixDown(song, inSection(song, index, 'lead', 0))),
  };
  yield {
    ...plain(`guitar added in ${where}`, a, { changed: index, kinds: ['added'] }),
    a: toFloat32(mixDown(song, inSection(song, index, 'guitar', 0))),
  };
  yield plain(
    `lead +3 dB around 2.5 kHz in ${where}`,
    withPart('lead', (channel) => bell(channel, rate, 2500, 3)),
    {
      changed: index,
      kinds: ['up'],
    },
  );
  yield plain(
    `keys −3 dB around 400 Hz in ${where}`,
    withPart('keys', (channel) => bell(channel, rate, 400, -3)),
    {
      changed: index,
      kinds: ['down'],
    },
  );
  // A constant-power pan from the middle, 30 degrees to the right.
  const angle = Math.PI / 4 + Math.PI / 12;
  yield plain(
    `lead panned right in ${where}`,
    withPart('lead', (channel, side) => {
      const weight = Math.SQRT2 * (side === 0 ? Math.cos(angle) : Math.sin(angle));
      return channel.map((value) => value * weight);
    }),
    { changed: index, kinds: ['moved in the image'] },
  );
  const room = (seed: number) => roomOf(rate, seed);
  yield {
    ...plain(`lead wetter in ${where}`, withRoom(song, base, index, 0.35, room), {
      changed: index,
      kinds: ['wetter'],
    }),
    a: toFloat32(withRoom(song, base, null, 0.35, room)),
  };
  yield {
    ...plain('bus limited 2 dB harder', limited(base, decibels(2)), {
      gainDb: 2,
      changed: 'all',
      kinds: ['dynamics', 'down'],
    }),
    a: toFloat32(limited(base, 1)),
  };
}

/** A bell filter, run over a whole part. @source R. Bristow-Johnson's cookbook formulas, Q 1 */
export function bell(channel: Float64Array, rate: number, centreHz: number, gainDb: number): Float64Array {
  const w = (2 * Math.PI * centreHz) / rate;
  const alpha = Math.sin(w) / 2;
  const amplitude = 10 ** (gainDb / 40);
  const a0 = 1 + alpha / amplitude;
  const [b0, b1, b2] = [(1 + alpha * amplitude) / a0, (-2 * Math.cos(w)) / a0, (1 - alpha * amplitude) / a0];
  const [a1, a2] = [(-2 * Math.cos(w)) / a0, (1 - alpha / amplitude) / a0];
  let [x1, x2, y1, y2] = [0, 0, 0, 0];
  return channel.map((x) => {
    const y = b0 * x + b1 * x1 + b2 * x2 - a1 * y1 - a2 * y2;
    [x2, x1, y2, y1] = [x1, x, y1, y];
    return y;
  });
}

/** A small room: four combs and two allpasses a side, about a second long. */
function roomOf(rate: number, seed: number) {
  return (channel: Float64Array): Float64Array => {
    const random = seededRandom(seed);
    const out = new Float64Array(channel.length);
    for (let comb = 0; comb < 4; comb++) {
      const delay = Math.round(rate * (0.029 + 0.012 * random()));
      const line = new Float64Array(delay);
      let low = 0;
      for (let frame = 0; frame < channel.length; frame++) {
        const value = line[frame % delay]!;
        low = 0.7 * value + 0.3 * low;
        line[frame % delay] = channel[frame]! + 0.8 * low;
        out[frame] = out[frame]! + 0.25 * value;
      }
    }
    for (let stage = 0; stage < 2; stage++) {
      const delay = Math.round(rate * (0.004 + 0.006 * random()));
      const line = new Float64Array(delay);
      for (let frame = 0; frame < channel.length; frame++) {
        const value = line[frame % delay]!;
        const inner = out[frame]! + 0.6 * value;
        line[frame % delay] = inner;
        out[frame] = value - 0.6 * inner;
      }
    }
    return out;
  };
}

/** The mix with a room on the lead; in one section its return stands 4 dB higher. */
function withRoom(
  song: Song,
  base: Exact,
  index: number | null,
  level: number,
  room: (seed: number) => (channel: Float64Array) => Float64Array,
): Exact {
  const lead = song.parts.find(({ name }) => name === 'lead')!;
  return [lead.left, lead.right].map((channel, side) => {
    const wet = room(side + 1)(channel);
    return base[side]!.map((value, frame) => {
      const more = index !== null && section(song, index, frame / song.sampleRateHz) ? decibels(4) : 1;
      return value + level * more * wet[frame]!;
    });
  });
}

function highestPeak([left, right]: Exact): number {
  let peak = 0;
  for (let frame = 0; frame < left!.length; frame++)
    peak = Math.max(peak, Math.abs(left![frame]!), Math.abs(right![frame]!));
  return peak;
}

/**
 * A bus limiter without make-up: instant attack, 60 ms release, the input pushed by `drive`; its threshold is half the
 * song's own peak unless it is given.
 */
export function limited(base: Exact, drive: number, threshold = 0.5 * highestPeak(base)): Exact {
  const [left, right] = base as [Float64Array, Float64Array];
  let held = 0;
  const out = [new Float64Array(left.length), new Float64Array(left.length)];
  for (let frame = 0; frame < left.length; frame++) {
    const level = drive * Math.max(Math.abs(left[frame]!), Math.abs(right[frame]!));
    held = level > held ? level : held * 0.99965;
    const gain = held > threshold ? (drive * threshold) / held : drive;
    out[0]![frame] = left[frame]! * gain;
    out[1]![frame] = right[frame]! * gain;
  }
  return out;
}
