import { open } from 'node:fs/promises';
import { mixVersion, renderSong } from '../../fixtures/demo/render.ts';
import { createWavWriter } from '../../server/audio/write-wav.ts';
import { resample } from '../../server/measurement/rate-conversion.ts';

/** Sound that is repeated until a file is as long as it should be. */
export interface Loop {
  sampleRateHz: number;
  channels: Float32Array[];
}

/** Two mixes of the demo's main song at its own 48 kHz: different sound of equal length and kind. */
export function demoLoops(): [mix: Loop, otherMix: Loop] {
  const stems = renderSong('main');
  const loopOf = (version: string): Loop => ({
    sampleRateHz: stems.sampleRateHz,
    channels: mixVersion(stems, version).map((channel) => Float32Array.from(channel)),
  });
  return [loopOf('Mix v4'), loopOf('Mix v3')];
}

/** The same sound at twice the sample rate. */
export function atTwiceTheRate({ sampleRateHz, channels }: Loop): Loop {
  const frames = channels[0]!.length * 2;
  return { sampleRateHz: sampleRateHz * 2, channels: resample(channels, 2, frames) };
}

const blockFrames = 65_536;

/** How large a 24-bit stereo file of this length is, its short header left out. */
export const byteLengthOf = (sampleRateHz: number, seconds: number) => sampleRateHz * seconds * 2 * 3;

/** Writes the loop over and over, to exactly `seconds`, as a 24-bit WAV file that has reached the disk. */
export async function writeLoopedWav(path: string, loop: Loop, seconds: number): Promise<void> {
  const { sampleRateHz, channels } = loop;
  const writer = await createWavWriter(path, channels.length, {
    sampleRateHz,
    bitDepth: 24,
    encoding: 'integer',
  });
  const loopFrames = channels[0]!.length;
  const frames = Math.round(seconds * sampleRateHz);
  for (let frame = 0; frame < frames; ) {
    const from = frame % loopFrames;
    const count = Math.min(blockFrames, loopFrames - from, frames - frame);
    await writer.write(
      channels.map((channel) => channel.subarray(from, from + count)),
      count,
    );
    frame += count;
  }
  await writer.close();
  // What is still on its way to the disk would slow down whatever is timed next.
  const handle = await open(path, 'r+');
  await handle.sync();
  await handle.close();
}
