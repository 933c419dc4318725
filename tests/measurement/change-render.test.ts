import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readWhole } from '../../server/audio/open-audio.ts';
import { writeWav } from '../../server/audio/write-wav.ts';
import { changeLevel, gainOf, renderChange } from '../../server/measurement/change-render.ts';
import { compareSounds } from '../../server/measurement/comparison.ts';
import { matchOf, matchOlder } from '../../server/measurement/matched-older.ts';
import {
  type Automation,
  decibels,
  later,
  mixDown,
  synthesiseSong,
  toFloat32,
  without,
} from '../comparison/synthetic-song.ts';
import { ffmpeg } from '../ffmpeg.ts';
import { measure, whiteNoise } from './signal.ts';

/**
 * Proves that what is heard alone is the part that was changed and nothing else: of mixes whose parts are known the change
 * is a part times what its fader moved by, worked out from the parts. And that it is never louder than is promised.
 */
const song = synthesiseSong({ bars: 8, barsInSection: 2 });
const rate = song.sampleRateHz;
const [, verse, chorus] = song.sections as { start: number; end: number }[];
/** The lead, up by 2 dB in the chorus alone. */
const raised = decibels(2);
const leadUp: Automation = (part, seconds) =>
  part === 'lead' && seconds >= chorus!.start && seconds < chorus!.end ? raised : 1;
const before = mixDown(song);
const after = mixDown(song, leadUp);
const lead = song.parts.find(({ name }) => name === 'lead')!;
const truth = [lead.left, lead.right].map((channel) =>
  channel.map((value, frame) => (leadUp('lead', frame / rate) - 1) * value),
);

interface Rendered {
  channels: Float32Array[];
  gainDb: number;
}

function rendered(a: Float32Array[], b: Float32Array[], rateA = rate, rateB = rate): Rendered {
  const older = { channels: a, sampleRateHz: rateA };
  const newer = { channels: b, sampleRateHz: rateB };
  const { channels, figures } = renderChange(
    older,
    newer,
    matchOf(compareSounds(older, newer, song.sections)),
  );
  return { channels, gainDb: figures.gainDb };
}

/** What is left of the rendering once the known part is taken away, relative to that part, from second to second. */
function errorDb(
  { channels, gainDb }: Rendered,
  part: readonly ArrayLike<number>[],
  from: number,
  to: number,
) {
  let [error, power] = [0, 0];
  for (const [index, channel] of channels.entries())
    for (let frame = Math.round(from * rate); frame < Math.round(to * rate); frame++) {
      error += (channel[frame]! / decibels(gainDb) - part[index]![frame]!) ** 2;
      power += part[index]![frame]! ** 2;
    }
  return 10 * Math.log10(error / power);
}

/** The loudest sample of a stretch. */
const peakOf = (channels: readonly Float32Array[], from: number, to: number) =>
  Math.max(
    ...channels.map((channel) =>
      channel
        .subarray(Math.round(from * rate), Math.round(to * rate))
        .reduce((peak, value) => Math.max(peak, Math.abs(value)), 0),
    ),
  );

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'countoff-change-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** A mix without anything over 16 kHz, at a rate that ffmpeg brought it to. */
async function bandLimited(mix: Float64Array[], name: string, toRateHz: number): Promise<Float32Array[]> {
  const [source, target] = ['source', 'target'].map((end) => join(folder, `${name}-${end}.wav`)) as [
    string,
    string,
  ];
  await writeWav(source, mix, { sampleRateHz: rate, bitDepth: 32, encoding: 'float' });
  const steps = [32_000, toRateHz].map((hertz) => `aresample=${hertz}:filter_size=256:cutoff=0.95`);
  ffmpeg('-i', source, '-af', steps.join(','), '-c:a', 'pcm_f32le', target);
  return (await readWhole(target)).channels;
}

describe('the change alone is the part that was changed', () => {
  const inChorus: [number, number] = [chorus!.start, chorus!.end];

  it('where nothing else differs, and silence before it', () => {
    const change = rendered(toFloat32(before), toFloat32(after));
    expect(errorDb(change, truth, ...inChorus)).toBeLessThan(-100);
    expect(peakOf(change.channels, 0, chorus!.start)).toBe(0);
    expect(change.channels[0]!.length).toBe(song.frames);
  });

  it('where the newer one is at another gain: at the gain of the newer one', () => {
    const louder = after.map((channel) => channel.map((value) => value * decibels(3)));
    const change = rendered(toFloat32(before), toFloat32(louder));
    const part = truth.map((channel) => channel.map((value) => value * decibels(3)));
    expect(errorDb(change, part, ...inChorus)).toBeLessThan(-60);
  });

  it('where the newer one starts later and is upside down, on its own time', () => {
    const shift = 12_345;
    const turned = later(
      after.map((channel) => channel.map((value) => -value)),
      shift,
    );
    const change = rendered(toFloat32(before), toFloat32(turned));
    const part = later(
      truth.map((channel) => channel.map((value) => -value)),
      shift,
    );
    const seconds = shift / rate;
    expect(errorDb(change, part, chorus!.start + seconds, chorus!.end + seconds)).toBeLessThan(-100);
  });

  it('where the older one is at 44.1 kHz: at the newer one’s rate', async () => {
    const [newer, known, older] = await Promise.all([
      bandLimited(after, 'newer', rate),
      bandLimited(before, 'known', rate),
      bandLimited(before, 'older', 44_100),
    ]);
    const part = newer.map((channel, index) => channel.map((value, frame) => value - known[index]![frame]!));
    expect(errorDb(rendered(older, newer, 44_100, rate), part, ...inChorus)).toBeLessThan(-60);
  });

  it('where four seconds of the older one were cut, on what is left', () => {
    const cut = without(after, rate, verse!.start, verse!.end);
    const change = rendered(toFloat32(before), toFloat32(cut));
    const part = without(truth, rate, verse!.start, verse!.end);
    const gone = verse!.end - verse!.start;
    expect(errorDb(change, part, chorus!.start - gone + 0.1, chorus!.end - gone)).toBeLessThan(-60);
  });

  it('where the newer one has four seconds more: silent there', () => {
    const shorter = without(before, rate, verse!.start, verse!.end);
    const change = rendered(toFloat32(shorter), toFloat32(after));
    expect(peakOf(change.channels, verse!.start + 0.1, verse!.end - 0.1)).toBe(0);
    expect(errorDb(change, truth, chorus!.start + 0.1, chorus!.end)).toBeLessThan(-60);
  });

  it('where the newer one runs slower, as from another clock', () => {
    // By the definition of a drift: what the older one has at t, the newer one has at t · (1 + drift).
    const drift = 100e-6;
    const tone = (slower: number) => [
      Float32Array.from({ length: 10 * rate }, (_, frame) =>
        Math.sin((2 * Math.PI * 1000 * frame) / rate / (1 + slower)),
      ),
    ];
    const older = { channels: tone(0), sampleRateHz: rate };
    const newer = { channels: tone(drift), sampleRateHz: rate };
    const match = {
      polarity: 1 as const,
      gainDb: 0,
      driftPpm: drift * 1e6,
      pieces: [{ startSecondsA: 0, startSecondsB: 0, lengthSeconds: 10 }],
    };
    const matched = matchOlder(older, newer, match);
    expect(errorDb({ ...matched, gainDb: 0 }, newer.channels, 0.1, 9.9)).toBeLessThan(-80);
  });

  it('and silence, said to be so, where the two are the same', () => {
    const same = toFloat32(before);
    const older = { channels: same, sampleRateHz: rate };
    const { channels, figures } = renderChange(older, older, matchOf(compareSounds(older, older, [])));
    expect(peakOf(channels, 0, song.frames / rate)).toBe(0);
    expect(figures).toMatchObject({
      silent: true,
      gainDb: 0,
      integratedLoudnessLufs: null,
      truePeakDbtp: null,
    });
  });
});

/** Integrated loudness and true peak as ffmpeg's meter reads them. */
async function outside(channels: Float32Array[], name: string): Promise<{ lufs: number; dbtp: number }> {
  const path = join(folder, `${name}.wav`);
  await writeWav(path, channels, { sampleRateHz: rate, bitDepth: 24, encoding: 'integer' });
  const log = ffmpeg('-nostats', '-i', path, '-filter_complex', 'ebur128=peak=true', '-f', 'null', '-');
  const summary = log.slice(log.lastIndexOf('Summary:'));
  const read = (label: string) => Number(new RegExp(`${label}:\\s+(-?[\\d.]+)`).exec(summary)![1]);
  return { lufs: read('I'), dbtp: read('Peak') };
}

/** By our meter and by ffmpeg's, which keep to 0.1 LU (EBU Tech 3341) and 0.2 dB of each other. */
async function levels(a: Float32Array[], b: Float32Array[], name: string) {
  const change = rendered(a, b);
  const own = measure(change.channels, rate);
  const mix = measure(b, rate);
  const by = await outside(change.channels, name);
  const byMix = await outside(b, `${name}-mix`);
  return { ...change, own, mix, by, byMix };
}

describe('how loud the change alone is', () => {
  it('a faint change is turned up by no more than the most, and stays under the mix', async () => {
    const faint = mixDown(song, (part, seconds) =>
      part === 'guitar' && seconds >= verse!.start && seconds < verse!.end ? decibels(0.5) : 1,
    );
    const { gainDb, own, mix, by, byMix } = await levels(toFloat32(before), toFloat32(faint), 'faint');
    expect(gainDb).toBe(12);
    expect(own.integratedLoudnessLufs!).toBeLessThan(mix.integratedLoudnessLufs! - 6);
    expect(by.lufs).toBeLessThan(byMix.lufs - 6);
  });

  it('a large one is turned down to 6 LU under the mix, over the song and in its loudest three seconds', async () => {
    // Drums and bass turned over in the chorus: what differs there is twice what they are, louder than the mix.
    const large = mixDown(song, (part, seconds) =>
      (part === 'drums' || part === 'bass') && seconds >= chorus!.start && seconds < chorus!.end ? -1 : 1,
    );
    const { gainDb, own, mix, by, byMix } = await levels(toFloat32(before), toFloat32(large), 'large');
    expect(gainDb).toBeLessThan(0);
    const under = [
      mix.integratedLoudnessLufs! - own.integratedLoudnessLufs!,
      mix.maxShortTermLoudnessLufs! - own.maxShortTermLoudnessLufs!,
    ];
    expect(Math.min(...under)).toBeGreaterThan(6 - 0.01);
    expect(byMix.lufs - by.lufs).toBeGreaterThan(6 - 0.2);
  });

  it('its peaks stay under −1 dBTP', async () => {
    // One click a second in the newer one: next to no loudness, all peak.
    const loud = toFloat32(before).map((channel) => channel.map((value) => 0.3 * value));
    const clicks = loud.map((channel) =>
      channel.map((value, frame) => (frame % rate === rate / 2 ? value + 0.9 : value)),
    );
    const { channels, own, by } = await levels(loud, clicks, 'clicks');
    expect(own.truePeakDbtp!).toBeLessThan(-1 + 0.01);
    expect(by.dbtp).toBeLessThan(-1 + 0.1);
    expect(peakOf(channels, 0, song.frames / rate)).toBeGreaterThan(0.5);
  });

  it('two ditherings of one mix stay what they are', () => {
    const dithered = (seed: number) =>
      toFloat32(before).map((channel, index) => {
        const first = whiteNoise(channel.length, seed + index, 0.5);
        const second = whiteNoise(channel.length, seed + 10 + index, 0.5);
        return channel.map(
          (value, frame) => Math.round(value * 32_768 + first[frame]! + second[frame]!) / 32_768,
        );
      });
    const { channels, gainDb } = rendered(dithered(1), dithered(101));
    expect(gainDb).toBe(0);
    // Two roundings with triangular dither: 2 · (1/12 + 2/12) of a step squared (AES17: −96.3 dBFS a rounding alone).
    expect(measure(channels, rate).rmsDbfs!).toBeLessThan(-90);
  });

  // By hand from the rule: 6 LU under the mix, 12 dB at most, −1 dBTP.
  it.each([
    ['most raise', -40, -38, -20, 12],
    ['loudness', -25, -23, -12, 5],
    ['loudness', -25, -19, -12, 1],
    ['loudness', -10, -9, -3, -10],
    ['true peak', -30, -28, -4, 3],
    ['no loudness', null, null, -70, 0],
  ] as const)(
    '%s decides: %s LUFS, %s LUFS short-term, %s dBTP',
    (limit, integrated, shortTerm, peak, gain) => {
      const rest = {
        integratedLoudnessLufs: integrated,
        maxShortTermLoudnessLufs: shortTerm,
        truePeakDbtp: peak,
      };
      const mix = { integratedLoudnessLufs: -14, maxShortTermLoudnessLufs: -12, truePeakDbtp: -1 };
      expect(gainOf(rest, mix)).toEqual({ gainDb: gain, gainLimit: limit });
      expect(changeLevel).toMatchObject({ underMixLu: 6, mostRaiseDb: 12, ceilingDbtp: -1 });
    },
  );
});
