import { crc8, crc16 } from '../../fixtures/hostile/flac-bytes.ts';

/** Numbers 0 to 1, the same for the same seed. */
export type Random = () => number;

/** The generator known as mulberry32: one 32-bit state, good enough to choose places in a file. */
export function seededRandom(seed: number): Random {
  let state = seed | 0;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

const below = (random: Random, count: number) => Math.floor(random() * count);
/** A place in the file, in its first hundred bytes half of the time: headers stand there. */
const place = (random: Random, bytes: Uint8Array) =>
  below(random, random() < 0.5 ? Math.min(100, bytes.length) : bytes.length);
const range = (random: Random, bytes: Uint8Array): [number, number] => {
  const from = place(random, bytes);
  return [from, Math.min(bytes.length, from + 1 + below(random, random() < 0.5 ? 16 : bytes.length))];
};

/** What size and count fields are set to: nothing, one, the edges of signed and unsigned, and nearly so. */
const extremes = [
  0, 1, 2, 7, 8, 0x7f, 0x80, 0xff, 0x7fff, 0x8000, 0xffff, 0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff,
];

type Mutation = (bytes: Buffer, random: Random, other: Buffer) => Buffer;

const mutations: Mutation[] = [
  function flipBits(bytes, random) {
    for (let flips = 1 + below(random, 12); flips > 0; flips--) {
      const at = place(random, bytes);
      bytes[at] = bytes[at]! ^ (1 << below(random, 8));
    }
    return bytes;
  },
  function truncate(bytes, random) {
    return bytes.subarray(0, place(random, bytes));
  },
  function remove(bytes, random) {
    const [from, to] = range(random, bytes);
    return Buffer.concat([bytes.subarray(0, from), bytes.subarray(to)]);
  },
  function repeat(bytes, random) {
    const [from, to] = range(random, bytes);
    return Buffer.concat([bytes.subarray(0, to), bytes.subarray(from)]);
  },
  function insert(bytes, random) {
    const at = place(random, bytes);
    const filling = below(random, 3);
    const added = Buffer.alloc(1 + below(random, 64));
    for (let index = 0; index < added.length; index++)
      added[index] = filling === 0 ? 0 : filling === 1 ? 0xff : below(random, 256);
    return Buffer.concat([bytes.subarray(0, at), added, bytes.subarray(at)]);
  },
  function setField(bytes, random) {
    const size = [1, 2, 4, 8][below(random, 4)]!;
    if (bytes.length < size) return bytes;
    const at = Math.min(place(random, bytes), bytes.length - size);
    const value = BigInt.asUintN(
      size * 8,
      BigInt(extremes[below(random, extremes.length)]!) << BigInt(8 * below(random, size)),
    );
    for (let index = 0; index < size; index++) {
      const byte = Number((value >> BigInt(8 * index)) & 0xffn);
      bytes[random() < 0.5 ? at + index : at + size - 1 - index] = byte;
    }
    return bytes;
  },
  function chunkSize(bytes, random) {
    const names = [
      'data',
      'fmt ',
      'ds64',
      'RIFF',
      'COMM',
      'SSND',
      'FORM',
      'moov',
      'mdat',
      'stsd',
      'mdhd',
      'stsz',
    ];
    const found = names.map((name) => bytes.indexOf(name, 0, 'latin1')).filter((at) => at >= 0);
    const at = found[below(random, found.length)] ?? 0;
    const value = extremes[below(random, extremes.length)]!;
    if (at + 8 > bytes.length || at < 4) return bytes;
    const where = random() < 0.5 ? at - 4 : at + 4;
    if (random() < 0.5) bytes.writeUInt32LE(value, where);
    else bytes.writeUInt32BE(value, where);
    return bytes;
  },
  function swap(bytes, random) {
    const [one, two, three] = [place(random, bytes), place(random, bytes), place(random, bytes)].sort(
      (a, b) => a - b,
    ) as [number, number, number];
    return Buffer.concat([
      bytes.subarray(0, one),
      bytes.subarray(two, three),
      bytes.subarray(one, two),
      bytes.subarray(three),
    ]);
  },
  function splice(bytes, random, other) {
    const at = 1 + below(random, 120);
    return Buffer.concat([
      other.subarray(0, at),
      bytes.subarray(random() < 0.5 ? at : below(random, bytes.length)),
    ]);
  },
  function putInFront(bytes, random, other) {
    return Buffer.concat([other.subarray(0, below(random, other.length)), bytes]);
  },
];

/** One to four mutations, one upon the other. */
export function mutate(valid: Buffer, random: Random, other: Buffer): Buffer {
  let bytes: Buffer = Buffer.from(valid);
  for (let times = 1 + below(random, 4); times > 0 && bytes.length > 0; times--) {
    bytes = Buffer.from(mutations[below(random, mutations.length)]!(bytes, random, other));
  }
  return bytes;
}

const firstFlacFrame = 42;

/**
 * A FLAC file of one frame, damaged inside that frame with its checksums put right again: what a decoder sees of a
 * damage is otherwise a checksum that doesn't hold, and nothing behind it.
 *
 * @param headerBytes of the frame's header with its CRC-8
 */
export function mutateFlacFrame(valid: Buffer, headerBytes: number, random: Random): Buffer {
  const bytes = Buffer.from(valid);
  const body = firstFlacFrame + headerBytes;
  for (let flips = 1 + below(random, 10); flips > 0; flips--) {
    const inHeader = random() < 0.15;
    const at = inHeader
      ? firstFlacFrame + 2 + below(random, headerBytes - 3)
      : body + below(random, bytes.length - 2 - body);
    bytes[at] = random() < 0.5 ? bytes[at]! ^ (1 << below(random, 8)) : below(random, 256);
  }
  bytes.fill(0, 26, 42); // The MD5 of the samples: none.
  bytes[body - 1] = crc8(bytes.subarray(firstFlacFrame, body - 1));
  bytes.writeUInt16BE(crc16(bytes.subarray(firstFlacFrame, bytes.length - 2)), bytes.length - 2);
  return bytes;
}
