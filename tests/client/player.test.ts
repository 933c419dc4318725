import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { keepInStep } from '../../client/player/keep-in-step.ts';
import { gainFactor, matchLoudness } from '../../client/player/matching.ts';
import { sameTimeline, timelineOf } from '../../client/player/version-timeline.ts';

/** Proves that matching brings both to one loudness and never turns anything up. */
describe('matching two versions in loudness', () => {
  it('turns the louder one down by the difference', () => {
    // A gain of x dB moves loudness by x LU (ITU-R BS.1770-5: loudness is 10·lg of weighted power).
    expect(matchLoudness(-14.3, -15.2)?.newerGainDb).toBeCloseTo(-0.9, 9);
    expect(matchLoudness(-14.3, -15.2)?.olderGainDb).toBe(0);
    expect(matchLoudness(-18, -16)?.olderGainDb).toBeCloseTo(-2, 9);
  });

  it('holds for any two loudnesses', () => {
    const lufs = fc.double({ min: -70, max: 0, noNaN: true });
    fc.assert(
      fc.property(lufs, lufs, (newer, older) => {
        const matching = matchLoudness(newer, older)!;
        expect(Math.max(matching.newerGainDb, matching.olderGainDb)).toBeCloseTo(0, 12);
        expect(newer + matching.newerGainDb).toBeCloseTo(older + matching.olderGainDb, 9);
        expect(gainFactor(matching.newerGainDb)).toBeLessThanOrEqual(1);
        expect(gainFactor(matching.olderGainDb)).toBeLessThanOrEqual(1);
      }),
    );
  });

  it('claims nothing where one was not measured', () => {
    expect(matchLoudness(null, -15)).toBeNull();
    expect(matchLoudness(-15, null)).toBeNull();
  });

  it('reads decibels as the factor on samples', () => {
    // By definition of the decibel for amplitudes: 20·lg(1/2) = −6.0206.
    expect(gainFactor(-6.0206)).toBeCloseTo(0.5, 5);
    expect(gainFactor(0)).toBe(1);
  });
});

/** Proves that both versions are heard at the same place of the song, whatever was cut or moved. */
describe('one playhead over two versions', () => {
  it('is the same time where nothing was compared', () => {
    expect(sameTimeline.inOlder(12.5)).toBe(12.5);
    expect(timelineOf([]).inNewer(12.5)).toBe(12.5);
  });

  // The newer version starts 0.5 s later, and two bars (4 s) after 60 s of the older one were cut.
  const timeline = timelineOf([
    { olderStartSeconds: 0, newerStartSeconds: 0.5, lengthSeconds: 60 },
    { olderStartSeconds: 64, newerStartSeconds: 60.5, lengthSeconds: 100 },
  ]);

  it('follows the offset and the cut', () => {
    expect(timeline.inOlder(10.5)).toBe(10);
    expect(timeline.inOlder(61.5)).toBe(65);
    expect(timeline.inNewer(10)).toBe(10.5);
    expect(timeline.inNewer(70)).toBe(66.5);
  });

  it('goes to the nearest shared place where one version has nothing', () => {
    expect(timeline.inNewer(62)).toBe(60.5);
    expect(timeline.inOlder(0.2)).toBe(0);
  });

  it('comes back to where it started wherever both have the place', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.5, max: 160, noNaN: true }), (seconds) => {
        expect(timeline.inNewer(timeline.inOlder(seconds))).toBeCloseTo(seconds, 9);
      }),
    );
  });
});

/** Proves that the silent version is brought into step and left alone once it is there. */
describe('keeping in step', () => {
  it('lets a version in step run at its own rate', () => {
    expect(keepInStep(0.002)).toEqual({ seek: false, playbackRate: 1 });
  });

  it('slows one that is ahead and hurries one that lags', () => {
    const ahead = keepInStep(0.05);
    const behind = keepInStep(-0.05);
    expect(!ahead.seek && ahead.playbackRate).toBeLessThan(1);
    expect(!behind.seek && behind.playbackRate).toBeGreaterThan(1);
  });

  it('jumps where catching up would take too long', () => {
    expect(keepInStep(1.5).seek).toBe(true);
    expect(keepInStep(-1.5).seek).toBe(true);
  });

  it('gets every drift into step when asked five times a second', () => {
    fc.assert(
      fc.property(fc.double({ min: -3, max: 3, noNaN: true }), (start) => {
        let drift = start;
        for (let step = 0; step < 40; step++) {
          const correction = keepInStep(drift);
          drift = correction.seek ? 0 : drift + (correction.playbackRate - 1) * 0.2;
        }
        expect(Math.abs(drift)).toBeLessThanOrEqual(0.004);
      }),
    );
  });
});
