import { open } from 'node:fs/promises';
import { openWav } from '../../server/audio/wav.ts';
import { loadEbur128 } from '../measurement/ebur128.ts';

/**
 * `ebur128-wasm` as a program: a stereo WAV file to one JSON object, integrated loudness and true peak, which is all that
 * it measures. It takes whole channels, so the file is decoded whole, by the project's own reader.
 */
const path = process.argv[2];
if (path === undefined) throw new Error('Usage: measure-speed-ebur128-wasm FILE');
const meter = await loadEbur128();
const handle = await open(path);
const reader = await openWav(handle, (await handle.stat()).size);
const { sampleRateHz, channelCount, frameCount } = reader.format;
if (channelCount !== 2 || frameCount === null) throw new Error('Stereo files of known length only.');
const left = new Float32Array(frameCount);
const right = new Float32Array(frameCount);
let filled = 0;
await reader.read(([leftBlock, rightBlock], frames) => {
  left.set(leftBlock!.subarray(0, frames), filled);
  right.set(rightBlock!.subarray(0, frames), filled);
  filled += frames;
});
await reader.close();
console.log(
  JSON.stringify({
    integratedLoudnessLufs: meter.integratedLoudnessLufs(sampleRateHz, left, right),
    truePeakDbtp: meter.truePeakDbtp(sampleRateHz, left, right),
  }),
);
