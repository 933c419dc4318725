import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { aiffBytes } from '../../fixtures/hostile/aiff-bytes.ts';
import { flacBytes } from '../../fixtures/hostile/flac-bytes.ts';
import { flacExamples } from '../../fixtures/hostile/flac-examples.ts';
import { id3Tag, mp3Bytes } from '../../fixtures/hostile/mp3-bytes.ts';
import {
  chunk,
  ds64,
  extensibleBody,
  floatBytes,
  formatBody,
  riff,
  toneBytes,
} from '../../fixtures/hostile/wav-bytes.ts';
import { ffmpeg } from '../ffmpeg.ts';

/** A small sound file to start from. */
export interface ValidFile {
  name: string;
  bytes: Buffer;
  /** For a FLAC file of one frame that is to be damaged behind its checksums: the bytes of that frame's header. */
  flacFrameHeaderBytes?: number;
}

/** Files of every kind that is read, a tenth of a second each and shorter. */
export async function validFiles(folder: string): Promise<ValidFile[]> {
  const sound = toneBytes(3000);
  const tone = Array.from({ length: 3000 }, (_, frame) => Math.round(8000 * Math.sin(frame / 7)));
  const aiff = (bits: number, compression?: string) =>
    aiffBytes(sound, { bits, channelCount: 2, frameCount: 12_000 / (bits / 4), compression });
  const sizes = (id: string) =>
    riff(
      [ds64(12_084, sound.length), chunk('fmt ', formatBody()), chunk('data', sound, 0xffffffff)],
      id,
      0xffffffff,
    );
  return [
    { name: 'wav', bytes: riff([chunk('fmt ', formatBody()), chunk('data', sound)]) },
    {
      name: 'wav, extensible, with tags',
      bytes: riff([
        chunk('JUNK', Buffer.alloc(28)),
        chunk('fmt ', extensibleBody({ bits: 24, channelCount: 4 }, 20, 0x33)),
        chunk('LIST', Buffer.from('INFOISFT\x05\0\0\0maker\0', 'latin1')),
        chunk('data', sound),
      ]),
    },
    {
      name: 'wav, float',
      bytes: riff([
        chunk('fmt ', formatBody({ tag: 3, channelCount: 1, bits: 32 })),
        chunk('fact', Buffer.from([0xb8, 0x0b, 0, 0])),
        chunk('data', floatBytes(tone.map((sample) => sample / 2 ** 15))),
      ]),
    },
    { name: 'rf64', bytes: sizes('RF64') },
    { name: 'bw64', bytes: sizes('BW64') },
    { name: 'aiff', bytes: aiff(16) },
    { name: 'aifc, sowt', bytes: aiff(16, 'sowt') },
    { name: 'aifc, fl32', bytes: aiff(32, 'fl32') },
    { name: 'flac', bytes: flacBytes([tone, tone], { blockFrames: 1000 }) },
    { name: 'flac behind a tag', bytes: Buffer.concat([id3Tag(50), flacBytes([tone], { bitDepth: 24 })]) },
    ...flacExamples.map(({ name, bytes }) => ({
      name: `flac, ${name}`,
      bytes,
      flacFrameHeaderBytes: 7,
    })),
    { name: 'm4a, ALAC', bytes: await encoded(folder, sound, ['-c:a', 'alac', '-movflags', '+faststart']) },
    { name: 'm4a, AAC', bytes: await encoded(folder, sound, ['-c:a', 'aac']) },
    { name: 'mp3', bytes: mp3Bytes(6) },
    {
      name: 'mp3 with its length',
      bytes: Buffer.concat([id3Tag(30), mp3Bytes(6, { frames: 6, bytes: 7 * 417 })]),
    },
  ];
}

async function encoded(folder: string, sound: Buffer, options: readonly string[]): Promise<Buffer> {
  const [wav, path] = [join(folder, 'sound.wav'), join(folder, 'sound.m4a')];
  await writeFile(wav, riff([chunk('fmt ', formatBody()), chunk('data', sound)]));
  ffmpeg('-i', wav, ...options, path);
  return readFile(path);
}
