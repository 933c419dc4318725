import { describe, expect, it } from 'vitest';
import { createFeatureTracker, type SoundFeatures } from '../../server/measurement/sound-features.ts';
import { type Tempo, tempoOf } from '../../server/measurement/tempo.ts';
import { demoKnownSongs } from './known-song.ts';
import { musicLike } from './music.ts';
import { type Channels, inBoth, tones, whiteNoise } from './signal.ts';

/**
 * Proves that the tempo of music to a click is found within 1 %, where the beats and bars are, and that nothing is made
 * up where there is none. Expected values are those that the signals were made with.
 */
const blockFrames = 5003;

function featuresOf(channels: Channels, sampleRateHz = 48_000): SoundFeatures {
  const tracker = createFeatureTracker({ sampleRateHz, channelCount: channels.length });
  const frames = channels[0]!.length;
  for (let from = 0; from < frames; from += blockFrames) {
    const end = Math.min(frames, from + blockFrames);
    tracker.push(
      channels.map((channel) => channel.subarray(from, end)),
      end - from,
    );
  }
  return tracker.finish();
}

const tempoIn = (channels: Channels, sampleRateHz?: number) => tempoOf(featuresOf(channels, sampleRateHz));

/** Decaying strokes of a high tone at the given moments. */
function strokes(moments: readonly number[], seconds: number, sampleRateHz: number): Channels {
  const channel = new Float32Array(Math.round(seconds * sampleRateHz));
  for (const moment of moments) {
    const first = Math.round(moment * sampleRateHz);
    for (let frame = 0; frame < 0.03 * sampleRateHz && first + frame < channel.length; frame++) {
      const time = frame / sampleRateHz;
      channel[first + frame] = 0.5 * Math.exp(-time / 0.005) * Math.sin(2 * Math.PI * 1500 * time);
    }
  }
  return [channel];
}

const click = (tempoBpm: number, firstSeconds: number, seconds: number, sampleRateHz: number) =>
  strokes(
    Array.from(
      { length: Math.ceil(((seconds - firstSeconds) * tempoBpm) / 60) },
      (_, beat) => firstSeconds + (beat * 60) / tempoBpm,
    ),
    seconds,
    sampleRateHz,
  );

/** `right`, `an octave off` with the factor, or `wrong`. */
function verdict(tempo: Tempo | null, tempoBpm: number): string {
  if (tempo === null) return 'no tempo';
  const octaves = Math.log2(tempo.tempoBpm / tempoBpm);
  const nearest = Math.round(octaves);
  if (Math.abs(octaves - nearest) > Math.log2(1.01)) return `wrong: ${tempo.tempoBpm}`;
  return nearest === 0 ? 'right' : `an octave off: ${2 ** nearest} times`;
}

describe('a click', () => {
  for (const tempoBpm of [60, 90, 120, 174])
    it(`at ${tempoBpm} beats a minute is found within 1 %, its first beat within 20 ms`, () => {
      const tempo = tempoIn(click(tempoBpm, 0.25, 40, 44_100), 44_100);
      expect(verdict(tempo, tempoBpm)).toBe('right');
      expect(tempo!.confidence).toBeGreaterThan(0.9);
      expect(Math.abs(tempo!.firstBeatSeconds - 0.25)).toBeLessThan(0.02);
      // Strokes that are all the same make no bars.
      expect([tempo!.beatsPerBar, tempo!.firstBarSeconds]).toEqual([null, null]);
    });

  it('is found at the rates of telephones and of high-resolution files', () => {
    for (const sampleRateHz of [8000, 192_000])
      expect(verdict(tempoIn(click(120, 0.25, 15, sampleRateHz), sampleRateHz), 120)).toBe('right');
  });

  it('keeps the tempo that somebody knows, and finds its beats', () => {
    const tempo = tempoOf(featuresOf(click(87, 0.3, 30, 44_100), 44_100), 174);
    expect(tempo!.tempoBpm).toBe(174);
    expect(Math.abs(tempo!.firstBeatSeconds - 0.3)).toBeLessThan(0.02);
  });
});

describe('the demo songs', () => {
  it('have the tempo, the metre and the first bar that they were played in', () => {
    const found = [];
    for (const song of demoKnownSongs()) {
      const tempo = tempoIn(song.channels, song.sampleRateHz);
      found.push(song.name);
      expect([song.name, verdict(tempo, song.tempoBpm)]).toEqual([song.name, 'right']);
      expect([song.name, tempo!.beatsPerBar]).toEqual([song.name, song.beatsPerBar]);
      expect(Math.abs(tempo!.firstBarSeconds! - song.firstBarSeconds)).toBeLessThan(0.05);
    }
    expect(found).toHaveLength(3);
  });
});

describe('where there is no steady tempo', () => {
  const random = whiteNoise(400, 5);
  const scattered = Array.from({ length: 120 }, (_, index) => index * 0.5 + 0.24 * random[index]!);
  let moment = 0;
  const slowingDown = Array.from({ length: 120 }, (_, index) => (moment += 60 / (140 - index / 4)));
  const cases: [string, Channels][] = [
    ['silence', [new Float32Array(48_000 * 30)]],
    ['noise', inBoth(whiteNoise(48_000 * 60, 1, 0.3))],
    ['other noise', inBoth(whiteNoise(48_000 * 60, 2, 0.3))],
    ['one tone', inBoth(tones({ hz: 997, peakDbfs: -10, seconds: 30 }))],
    ['five seconds of music', musicLike(48_000, 5, 1, false)],
    [
      'strokes at random',
      strokes(
        scattered.map((each, index) => each + 0.2 * random[index + 200]!),
        60,
        48_000,
      ),
    ],
    ['strokes that slow down', strokes(slowingDown, 60, 48_000)],
  ];
  for (const [name, channels] of cases)
    it(`${name} has none`, () => {
      expect(tempoIn(channels)).toBeNull();
    });
});
