import WaveformData from 'waveform-data';
import { waveformBars } from './waveform-bars.ts';

/** A version's waveform as peaks.js and our lines read it. */
export interface Waveform {
  data: WaveformData;
  bytes: ArrayBuffer;
  /** Its highest value, 1 at full scale; all lines of a song are drawn to one scale. */
  peak: number;
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
    return { data, bytes, peak: waveformBars(data, 0, data.duration, 1)[0]! };
  });
  waveforms.set(address, loading);
  void loading.then(
    (waveform) => waveform ?? waveforms.delete(address),
    () => waveforms.delete(address),
  );
  return loading.catch(() => null);
}
