import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { writeWav } from '../../server/audio/write-wav.ts';
import { ffmpeg } from '../ffmpeg.ts';
import { loadEbur128 } from './ebur128.ts';
import { musicLike } from './music.ts';
import { measure } from './signal.ts';

/**
 * Proves that the figures are those of meters that others wrote, on signals with music's dynamics: `ebur128-wasm`
 * (libebur128's algorithm) and ffmpeg's `ebur128` filter. Both let the filter's gain drift with the sample rate by up to
 * 0.03 dB, and ffmpeg keeps hundredths of a LU in a histogram.
 */
const rates = [44_100, 48_000, 96_000];
const songs = [
  { name: 'dense', seed: 1, seconds: 40, quietParts: false },
  { name: 'with quiet parts', seed: 2, seconds: 60, quietParts: true },
];

describe.each(rates)('at %i Hz', (rate) => {
  describe.each(songs)('$name', ({ seed, seconds, quietParts }) => {
    const channels = musicLike(rate, seconds, seed, quietParts);
    const measured = measure(channels, rate);

    it('integrated loudness as ebur128-wasm reads it, ±0.1 LU', async () => {
      const outside = (await loadEbur128()).integratedLoudnessLufs(rate, channels[0]!, channels[1]!);
      expect(Math.abs(measured.integratedLoudnessLufs! - outside)).toBeLessThanOrEqual(0.1);
    });

    // Its interpolator has 12 taps a phase to the 32 here, and two points a frame at 96 kHz to the 16 here: on the
    // snare's white noise it can find less, never more.
    it('true peak as ebur128-wasm reads it, −0.1/+0.6 dB', async () => {
      const outside = (await loadEbur128()).truePeakDbtp(rate, channels[0]!, channels[1]!);
      expect(measured.truePeakDbtp! - outside).toBeGreaterThanOrEqual(-0.1);
      expect(measured.truePeakDbtp! - outside).toBeLessThanOrEqual(0.6);
    });

    describe('as ffmpeg reads it', () => {
      let folder = '';
      let summary = '';
      beforeAll(async () => {
        folder = await mkdtemp(join(tmpdir(), 'countoff-'));
        const path = join(folder, 'song.wav');
        await writeWav(path, channels, { sampleRateHz: rate, bitDepth: 32, encoding: 'float' });
        const filter = 'ebur128=peak=true:framelog=verbose';
        const log = ffmpeg('-nostats', '-i', path, '-filter_complex', filter, '-f', 'null', '-');
        summary = log.slice(log.lastIndexOf('Summary:'));
      });
      afterAll(() => rm(folder, { recursive: true, force: true }));

      const read = (label: string) => Number(new RegExp(`${label}:\\s+(-?[\\d.]+)`).exec(summary)![1]);

      it('integrated loudness ±0.1 LU', () => {
        expect(Math.abs(measured.integratedLoudnessLufs! - read('I'))).toBeLessThanOrEqual(0.1);
      });
      it('loudness range ±0.3 LU', () => {
        expect(Math.abs(measured.loudnessRangeLu! - read('LRA'))).toBeLessThanOrEqual(0.3);
      });
      it('true peak ±0.3 dB', () => {
        expect(Math.abs(measured.truePeakDbtp! - read('Peak'))).toBeLessThanOrEqual(0.3);
      });
    });
  });
});
