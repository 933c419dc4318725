import { beforeAll, describe, expect, it } from 'vitest';
import { parseChangeMap } from '../../client/api/change.ts';
import {
  type ChangeMap,
  decodeChangeMap,
  encodeChangeMap,
  mapChange,
  stepsPerDb,
  undefinedCell,
} from '../../server/measurement/change-map.ts';
import { compareSounds } from '../../server/measurement/comparison.ts';
import { matchOf } from '../../server/measurement/matched-older.ts';
import { decibels, mixDown, seededRandom, synthesiseSong, toFloat32 } from '../comparison/synthetic-song.ts';
import { inBoth, tones, whiteNoise } from './signal.ts';

/**
 * Proves that the map shows a change where it was made, in time and frequency, and nothing elsewhere.
 */
const rate = 48_000;

function mapOf(a: Float32Array[], b: Float32Array[], options: { lossy?: boolean } = {}): ChangeMap {
  const older = { channels: a, sampleRateHz: rate, ...options };
  const newer = { channels: b, sampleRateHz: rate, ...options };
  return mapChange(older, newer, matchOf(compareSounds(older, newer, [])));
}

/** A band's differences from one second to another, in dB. */
function differences(
  { difference, nominalHz, hopSeconds }: ChangeMap,
  hertz: number,
  from: number,
  to: number,
) {
  const row = difference[nominalHz.indexOf(hertz)]!;
  return Array.from(row.subarray(Math.ceil(from / hopSeconds), Math.floor(to / hopSeconds)), (value) =>
    value === undefinedCell ? null : value / stepsPerDb,
  );
}

const sum = (...channels: Float32Array[]) =>
  channels[0]!.map((_, frame) => channels.reduce((total, channel) => total + channel[frame]!, 0));

describe('a map of tones over noise', () => {
  // Noise throughout, so that every band sounds; a tone at 1 kHz, 20 dB over its band's share, that is 6 dB louder in
  // the newer one from 10 s to 20 s: its band goes up by 6 dB, no other goes anywhere.
  const seconds = 30;
  const noise = whiteNoise(seconds * rate, 7, 0.05);
  const tone = tones({ hz: 1000, peakDbfs: -20, seconds });
  const louder = tone.map((value, frame) =>
    frame >= 10 * rate && frame < 20 * rate ? value * decibels(6) : value,
  );
  let map: ChangeMap;
  beforeAll(() => {
    map = mapOf(inBoth(sum(noise, tone)), inBoth(sum(noise, louder)));
  });

  it('has a cell each quarter of a second in bands of IEC 61260-1', () => {
    expect([map.hopSeconds, map.hopCount, map.nominalHz.length]).toEqual([0.25, 120, 29]);
    expect([map.nominalHz[0], map.nominalHz.at(-1), map.limited]).toEqual([25, 16_000, false]);
  });

  it('shows the band that went up, by how much, while it did', () => {
    for (const value of differences(map, 1000, 10.5, 19.5))
      expect(Math.abs(value! - 6)).toBeLessThanOrEqual(0.25);
  });

  it('shows nothing before and after it, and nothing in other bands', () => {
    for (const hertz of map.nominalHz) {
      const before = differences(map, hertz, 0, 9.5);
      const after = differences(map, hertz, 20.5, 30);
      expect([hertz, ...new Set([...before, ...after])]).toEqual([hertz, 0]);
      if (hertz < 800 || hertz > 1250)
        expect([hertz, ...new Set(differences(map, hertz, 10.5, 19.5))]).toEqual([hertz, 0]);
    }
  });

  it('tells the residual in the band: 6 dB up leaves half of it', () => {
    // By hand: 1 − 10^(−6/20) = 0.499 of the louder tone, −6.0 dB.
    const row = map.residual[map.nominalHz.indexOf(1000)]!;
    for (const value of row.subarray(42, 78)) expect(value).toBe(-6);
    expect(new Set(row.subarray(0, 38))).toEqual(new Set([undefinedCell]));
  });
});

describe('a map of a song', () => {
  const song = synthesiseSong({ bars: 12, barsInSection: 2 });
  const chorus = song.sections[2]!;
  const before = mixDown(song);

  it('stands out where a part went up, and nowhere else', () => {
    const after = mixDown(song, (part, at) =>
      part === 'bass' && at >= chorus.start && at < chorus.end ? decibels(3) : 1,
    );
    const map = mapOf(toFloat32(before), toFloat32(after));
    // How far a band goes up depends on what else plays in it; that it does where the bass plays, from 55 Hz to its
    // sixth harmonic, is what stands out.
    const low = [63, 80, 100, 125].flatMap((hertz) =>
      differences(map, hertz, chorus.start + 0.5, chorus.end - 0.5),
    );
    expect(low.filter((value) => (value ?? 0) >= 1).length).toBeGreaterThan(low.length / 3);
    const elsewhere = map.nominalHz.flatMap((hertz) => [
      ...differences(map, hertz, 0, chorus.start - 0.5),
      ...differences(map, hertz, chorus.end + 0.5, song.frames / rate),
    ]);
    expect(elsewhere.filter((value) => value !== null && value !== 0)).toEqual([]);
    const high = differences(map, 8000, chorus.start, chorus.end);
    expect(high.filter((value) => Math.abs(value ?? 0) >= 0.5)).toEqual([]);
  });

  it('has no value where nothing can be laid side by side', () => {
    const cut = chorus.start;
    const inserted = toFloat32(before).map((channel) => {
      const longer = new Float32Array(channel.length + 4 * rate);
      longer.set(channel.subarray(0, cut * rate));
      longer.set(channel.subarray(cut * rate), (cut + 4) * rate);
      const random = seededRandom(3);
      for (let frame = cut * rate; frame < (cut + 4) * rate; frame++) longer[frame] = 0.1 * (random() - 0.5);
      return longer;
    });
    const map = mapOf(toFloat32(before), inserted);
    for (const hertz of map.nominalHz)
      expect(new Set(differences(map, hertz, cut + 0.5, cut + 3.5))).toEqual(new Set([null]));
  });

  it('shows nothing of two ditherings', () => {
    const dithered = (seed: number) => {
      const random = seededRandom(seed);
      return toFloat32(before).map((channel) =>
        channel.map((value) => Math.round(value * 32_768 + random() - random()) / 32_768),
      );
    };
    const map = mapOf(dithered(1), dithered(2));
    const values = new Set(map.difference.flatMap((row) => [...row]));
    expect([...values].filter((value) => value !== undefinedCell)).toEqual([0]);
  });

  it('shows only what is steady where something differs throughout', () => {
    // A room that never repeats, 30 dB under the mix, and the lead's whole band up by 4 dB in the chorus.
    const loudness = 0.004;
    const room = (seed: number) => [0, 1].map((channel) => whiteNoise(song.frames, seed + channel, loudness));
    const withRoom = (mix: Float64Array[], seed: number) =>
      toFloat32(mix).map((channel, index) => {
        const noise = room(seed)[index]!;
        return channel.map((value, frame) => value + noise[frame]!);
      });
    const after = mixDown(song, (part, at) =>
      part === 'bass' && at >= chorus.start && at < chorus.end ? decibels(4) : 1,
    );
    const map = mapOf(withRoom(before, 11), withRoom(after, 51));
    expect(map.limited).toBe(true);
    const calm = map.nominalHz.flatMap((hertz) => differences(map, hertz, 0, chorus.start - 3));
    const shown = calm.filter((value) => value !== null && value !== 0);
    expect(shown.length / calm.length).toBeLessThan(0.01);
    const low = [80, 100, 125].flatMap((hertz) => differences(map, hertz, chorus.start + 1, chorus.end - 1));
    expect(low.filter((value) => (value ?? 0) > 1).length).toBeGreaterThan(0);
  });
});

describe('the stored form of a map', () => {
  const map: ChangeMap = {
    hopSeconds: 0.25,
    hopCount: 3,
    nominalHz: [31.5, 1000],
    limited: true,
    difference: [Int8Array.of(0, 127, undefinedCell), Int8Array.of(-127, 4, -1)],
    residual: [Int8Array.of(undefinedCell, -100, 20), Int8Array.of(0, -6, -65)],
  };

  it('reads back as it was written, by the server and by the pages', () => {
    const bytes = encodeChangeMap(map);
    expect(decodeChangeMap(bytes)).toEqual(map);
    expect(parseChangeMap(bytes.buffer as ArrayBuffer)).toEqual(map);
    // By hand from the description: twenty bytes, four a band, then a byte a cell, twice.
    expect(bytes.length).toBe(20 + 4 * 2 + 2 * 2 * 3);
    expect(String.fromCharCode(...bytes.subarray(0, 4))).toBe('MAP1');
  });

  it('is refused where it is cut off or something else', () => {
    const bytes = encodeChangeMap(map);
    for (const wrong of [bytes.subarray(0, bytes.length - 1), bytes.subarray(0, 10), new Uint8Array(64)]) {
      expect(() => decodeChangeMap(wrong)).toThrow(RangeError);
      expect(() => parseChangeMap(wrong.slice().buffer)).toThrow(RangeError);
    }
  });
});
