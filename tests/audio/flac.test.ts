import { describe, expect, it } from 'vitest';
import { type FlacOptions, flacBytes, samplesMd5 } from '../../fixtures/hostile/flac-bytes.ts';
import { flacExamples } from '../../fixtures/hostile/flac-examples.ts';
import { chunk, extensibleBody, formatBody, riff } from '../../fixtures/hostile/wav-bytes.ts';
import { measureFile } from '../../server/analysis/measure-file.ts';
import { openAudio, readWhole } from '../../server/audio/open-audio.ts';
import { ffmpeg } from '../ffmpeg.ts';
import { expectSameSamples } from './same-samples.ts';
import { stored, temporaryPath } from './stored-file.ts';

/** A decaying chord with a little noise, each channel another, as integers; the last frames are the depth's two ends. */
function sound(bitDepth: number, channelCount: number, frames: number): number[][] {
  const top = 2 ** (bitDepth - 1);
  let state = 1;
  return Array.from({ length: channelCount }, (_, channel) => {
    const values = Array.from({ length: frames - 2 }, (_, frame) => {
      state = (Math.imul(state, 1_664_525) + 1_013_904_223) | 0;
      const tone = Math.sin(frame / (9 + channel)) + 0.5 * Math.sin(frame / 31);
      return Math.round((0.4 * tone * Math.exp(-frame / 20_000) + state / 2 ** 38) * (top - 1));
    });
    return [...values, top - 1, -top];
  });
}

const floats = (channels: number[][], bitDepth: number) =>
  channels.map((channel) => Float32Array.from(channel, (value) => value / 2 ** (bitDepth - 1) + 0));

/** The same integers as WAV, in whole bytes from the top. */
function wavBytes(channels: number[][], bitDepth: number): Buffer {
  const bytesPerSample = Math.ceil(bitDepth / 8);
  const channelCount = channels.length;
  const data = Buffer.alloc(channels[0]!.length * channelCount * bytesPerSample);
  for (const [channel, values] of channels.entries()) {
    for (const [frame, value] of values.entries()) {
      const shifted = value * 2 ** (bytesPerSample * 8 - bitDepth);
      data.writeIntLE(shifted, (frame * channelCount + channel) * bytesPerSample, bytesPerSample);
    }
  }
  const bits = bytesPerSample * 8;
  const body =
    bits === bitDepth
      ? formatBody({ bits, channelCount })
      : extensibleBody({ bits, channelCount }, bitDepth, 3);
  return riff([chunk('fmt ', body), chunk('data', data)]);
}

/** Proves that published files decode to the samples that were worked out by hand. */
describe('an example of the standard', () => {
  it.each(flacExamples)('$name', async ({ bytes, sampleRateHz, bitDepth, channels }) => {
    const read = await readWhole(await stored(bytes));
    expect(read.format).toMatchObject({ sampleRateHz, bitDepth, frameCount: channels[0]!.length });
    expectSameSamples(read.channels, floats(channels, bitDepth));
  });
});

/** Proves that the freedoms that the standard gives to a stream are taken, with checksums laid down outside. */
describe('a stream', () => {
  const streams: [string, number, number, FlacOptions][] = [
    ['that leaves rate and depth to its header', 16, 2, { leaveToHeader: true }],
    ['of a depth that only the header can give', 13, 2, { leaveToHeader: true }],
    ['of a rate that only the header can give', 16, 1, { leaveToHeader: true, sampleRateHz: 37_123 }],
    ['of 4 bits', 4, 1, { leaveToHeader: true }],
    ['of 8 bits', 8, 2, {}],
    ['of 12 bits', 12, 2, {}],
    ['of 20 bits', 20, 2, {}],
    ['of 32 bits', 32, 2, {}],
    ['of varying block size', 24, 2, { blockFrames: [4096, 16, 1000, 65_535, 4608] }],
    ['of the smallest blocks', 16, 2, { blockFrames: 16 }],
    ['of eight channels', 24, 8, {}],
    ['of unknown length', 16, 2, { promisedFrames: 0 }],
  ];
  it.each(streams)('%s', async (_, bitDepth, channelCount, options) => {
    const channels = sound(bitDepth, channelCount, 20_003);
    const md5 = samplesMd5(channels, bitDepth);
    const read = await readWhole(await stored(flacBytes(channels, { bitDepth, md5, ...options })));
    expect(read.format.bitDepth).toBe(bitDepth);
    expectSameSamples(read.channels, floats(channels, bitDepth));
  });

  it('whose samples have another MD5 is damaged', async () => {
    const channels = sound(16, 2, 9000);
    const path = await stored(flacBytes(channels, { md5: samplesMd5(channels.toReversed(), 16) }));
    await expect(readWhole(path)).rejects.toMatchObject({ code: 'damaged' });
  });

  it('is not held to its MD5 where the reading stops early', async () => {
    const channels = sound(16, 2, 30_000);
    const reader = await openAudio(await stored(flacBytes(channels, { md5: '1'.repeat(32) })));
    expect(await reader.read(() => false)).toEqual({ frameCount: 8192 });
    await reader.close();
  });

  it('with a frame left out is damaged, and with one too many unsound', async () => {
    const channels = sound(16, 1, 4000);
    const whole = flacBytes(channels, { blockFrames: 1000 });
    const frameBytes = (whole.length - 42) / 4;
    const frame = (number: number) =>
      whole.subarray(42 + frameBytes * number, 42 + frameBytes * (number + 1));
    const header = whole.subarray(0, 42);
    const gap = Buffer.concat([header, frame(0), frame(2), frame(3)]);
    await expect(readWhole(await stored(gap))).rejects.toMatchObject({ code: 'damaged' });
    const short = flacBytes(channels, { blockFrames: 1000, promisedFrames: 3000 });
    await expect(readWhole(await stored(short))).rejects.toMatchObject({ code: 'unsound_header' });
  });

  it('that changes its depth midway is refused', async () => {
    const [one, other] = [flacBytes(sound(16, 1, 1000)), flacBytes(sound(24, 1, 1000), { bitDepth: 24 })];
    const path = await stored(Buffer.concat([one, other.subarray(42)]));
    await expect(readWhole(path)).rejects.toMatchObject({
      code: expect.stringMatching(/unsupported_format|unsound_header/),
    });
  });
});

/** Proves that every way in which ffmpeg's encoder packs a stream comes out as it went in. */
describe('what ffmpeg packs', () => {
  const ways: [string, string[]][] = [
    ['without prediction', ['-compression_level', '0']],
    ['at its hardest', ['-compression_level', '12']],
    [
      'with 32 coefficients',
      ['-lpc_type', 'cholesky', '-min_prediction_order', '32', '-max_prediction_order', '32'],
    ],
    ['as left and side', ['-ch_mode', 'left_side']],
    ['as side and right', ['-ch_mode', 'right_side']],
    ['as mid and side', ['-ch_mode', 'mid_side']],
    ['in odd blocks', ['-frame_size', '1000']],
  ];
  it.each(ways)('%s', async (_, options) => {
    for (const [bitDepth, channelCount] of [
      [16, 2],
      [24, 1],
      [24, 2],
      [24, 8],
    ] as const) {
      // Five bits that carry nothing in every third channel: "wasted" in the standard's words.
      const channels = sound(bitDepth, channelCount, 12_345).map((channel, index) =>
        index % 3 === 1 ? channel.map((value) => Math.floor(value / 32) * 32) : channel,
      );
      const wav = await stored(wavBytes(channels, bitDepth));
      const flac = temporaryPath('packed.flac');
      const raw = bitDepth === 24 ? ['-sample_fmt', 's32', '-bits_per_raw_sample', '24'] : [];
      ffmpeg('-i', wav, '-c:a', 'flac', ...raw, ...options, flac);
      expectSameSamples((await readWhole(flac)).channels, floats(channels, bitDepth));
    }
  });
});

/** Proves that a song measures the same, to the last bit of every figure, as FLAC and as WAV. */
describe('FLAC and WAV of the same samples', () => {
  it.each([16, 20, 24, 32])('of %i bits measure the same', async (bitDepth) => {
    const channels = sound(bitDepth, 2, 60_000);
    const [flac, wav] = [
      await measureFile(await stored(flacBytes(channels, { bitDepth })), [], { waveform: true }),
      await measureFile(await stored(wavBytes(channels, bitDepth)), [], { waveform: true }),
    ];
    expect(flac).toEqual(wav);
    expect(flac.measurement.frameCount).toBe(60_000);
  });
});
