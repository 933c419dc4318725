import { describe, expect, it } from 'vitest';
import WaveformData from 'waveform-data';
import { waveformBars } from '../../client/waveform/waveform-bars.ts';

/** A waveform in audiowaveform's binary form, version 2 (its Data Format documentation): 100 points a second. */
function waveform(points: [number, number][]): WaveformData {
  const bytes = new ArrayBuffer(24 + points.length * 2);
  const view = new DataView(bytes);
  view.setInt32(0, 2, true);
  view.setUint32(4, 1, true);
  view.setInt32(8, 48_000, true);
  view.setInt32(12, 480, true);
  view.setUint32(16, points.length, true);
  view.setInt32(20, 1, true);
  for (const [index, [low, high]] of points.entries()) {
    view.setInt8(24 + index * 2, low);
    view.setInt8(25 + index * 2, high);
  }
  return WaveformData.create(bytes);
}

/** Proves that the bars of a line show how high each stretch reaches on the mean, and nothing of its neighbours. */
describe('the bars of a line', () => {
  const points = Array.from({ length: 200 }, (): [number, number] => [-32, 32]);
  points[50] = [-128, 10];
  points.fill([-64, 64], 100);
  const data = waveform(points);

  it('are the mean of each stretch’s highest absolute values, 1 at full scale', () => {
    // 50 points a bar: forty-nine of 32/128 and one of 128/128 have the mean (49 · 0.25 + 1) / 50 = 0.265.
    const bars = waveformBars(data, 0, 2, 4);
    [0.25, 0.265, 0.5, 0.5].forEach((height, index) => {
      expect(bars[index]).toBeCloseTo(height, 6);
    });
  });

  it('end where the section ends', () => {
    expect([...waveformBars(data, 0.6, 1, 4)]).toEqual([0.25, 0.25, 0.25, 0.25]);
  });

  it('are silence outside the file', () => {
    expect([...waveformBars(data, 2, 3, 2)]).toEqual([0, 0]);
  });
});
