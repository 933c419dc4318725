import { GrowingColumn } from './growing-column.ts';
import type { LevelMeter } from './level-meter.ts';
import { LoudestWindow } from './loudest-window.ts';
import { hopsInBlock, hopsInShortTerm, hopsPerSecond } from './loudness.ts';

/** Grid on which the loudest momentary and short-term windows are looked for: 10 ms. */
export const stepsInHop = 10;

/** What has been summed over a stretch that is measured: the whole file, or one section. */
export class Stretch {
  readonly startFrame: number;
  /** Where it was planned to end; `endFrame` is where it does. */
  readonly boundaryFrame: number;
  endFrame: number;
  /** K-weighted energy of each 100 ms from its own start; the same of the fold-down to one channel. */
  readonly hopEnergies = new GrowingColumn();
  readonly foldDownHops = new GrowingColumn();
  readonly momentary = new LoudestWindow(hopsInBlock * stepsInHop);
  readonly shortTerm = new LoudestWindow(hopsInShortTerm * stepsInHop);
  /** Where the hop that is being filled ends. */
  hopEnd: number;
  readonly samples: Float64Array;
  readonly squares: Float64Array;
  products = 0;
  samplePeak = 0;
  truePeak = 0;
  clippedRuns = 0;
  readonly #sampleRateHz: number;
  #energy = 0;
  #foldDownEnergy = 0;

  constructor(sampleRateHz: number, channelCount: number, startFrame: number, endFrame: number) {
    this.#sampleRateHz = sampleRateHz;
    this.startFrame = startFrame;
    this.boundaryFrame = endFrame;
    this.endFrame = endFrame;
    this.samples = new Float64Array(channelCount);
    this.squares = new Float64Array(channelCount);
    this.hopEnd = this.#endOfHop(0);
  }

  #endOfHop(hop: number): number {
    return this.startFrame + Math.round(((hop + 1) * this.#sampleRateHz) / hopsPerSecond);
  }

  /** The ends of its hops up to the frame `end`, from the one that is being filled. */
  hopEndsTo(end: number): number[] {
    const ends: number[] = [];
    for (let hop = this.hopEnergies.length; this.#endOfHop(hop) <= end; hop++) ends.push(this.#endOfHop(hop));
    return ends;
  }

  /** Takes the K-weighted energies of frames up to `end`, which is never past `hopEnd`. */
  addEnergy(end: number, energy: number, foldDownEnergy: number): void {
    this.#energy += energy;
    this.#foldDownEnergy += foldDownEnergy;
    if (end !== this.hopEnd) return;
    this.hopEnergies.push(this.#energy);
    this.foldDownHops.push(this.#foldDownEnergy);
    this.#energy = 0;
    this.#foldDownEnergy = 0;
    this.hopEnd = this.#endOfHop(this.hopEnergies.length);
  }

  /** Takes the K-weighted energy of a whole step of the grid. */
  addStep(energy: number): void {
    this.momentary.push(energy);
    this.shortTerm.push(energy);
  }

  /** Takes what was read of a cell that lies within the stretch. */
  addLevels({ samples, squares, peaks, products }: LevelMeter, truePeak: number, clippedRuns: number): void {
    for (let channel = 0; channel < this.samples.length; channel++) {
      this.samples[channel]! += samples[channel]!;
      this.squares[channel]! += squares[channel]!;
      if (peaks[channel]! > this.samplePeak) this.samplePeak = peaks[channel]!;
    }
    this.products += products;
    if (truePeak > this.truePeak) this.truePeak = truePeak;
    this.clippedRuns += clippedRuns;
  }
}
