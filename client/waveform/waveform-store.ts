import WaveformData from 'waveform-data';
import { waveformBars } from './waveform-bars.ts';

/** A version's waveform as peaks.js and our lines read it. */
export interface Waveform {
  data: WaveformData;
  bytes: ArrayBuffer;
  /** Its highest point, 1 at full scale. */
  peak: number;
  /** The highest bar of a quarter of a second; all lines of a song are drawn to one scale. */
  highestBar: number;
}

const waveforms = new Map<string, Promise<Waveform | null>>();

/**
 * The waveform behind an address, read once: a version never changes.
 *
 * @returns `null` while the server has not made it yet; asking again later asks the server again.
 */
export function loadWaveform(address: string): Promise<Waveform | null> {
  const known = waveforms.get(address);
  if (known) return known;
  const loading = fetch(address).then(async (response) => {
    if (!response.ok) return null;
    const bytes = await response.arrayBuffer();
    const data = WaveformData.create(bytes);
    const bars = (count: number) =>
      waveformBars(data, 0, data.duration, count).reduce((highest, bar) => Math.max(highest, bar), 0);
    return { data, bytes, peak: bars(data.length), highestBar: bars(Math.ceil(data.duration * 4)) };
  });
  waveforms.set(address, loading);
  void loading.then(
    (waveform) => waveform ?? waveforms.delete(address),
    () => waveforms.delete(address),
  );
  return loading.catch(() => null);
}

/** Whether the waveform behind an address has been asked for and not refused. */
export function hasWaveform(address: string): boolean {
  return waveforms.has(address);
}
