import { BitReader, EndOfBytes } from './bit-reader.ts';

/** Bytes that are no FLAC frame: a checksum that doesn't hold, or values that the format forbids. */
export class DamagedFrame extends Error {}

/** What a frame says of itself; `null` where it leaves a value to the stream's header. */
export interface FlacFrameHeader {
  bytes: number;
  frames: number;
  sampleRateHz: number | null;
  bitDepth: number | null;
  channelCount: number;
  stereo: 'independent' | 'left-side' | 'side-right' | 'mid-side';
  /** Whether `number` counts frames of sound; else it counts coded frames of one size. */
  variable: boolean;
  number: number;
}

/** The most frames that one coded frame holds. */
const largestBlockFrames = 65_535;
const stereoKinds = ['left-side', 'side-right', 'mid-side'] as const;
/** @source RFC 9639, 9.1.2 */
const sampleRates = [
  null,
  88_200,
  176_400,
  192_000,
  8000,
  16_000,
  22_050,
  24_000,
  32_000,
  44_100,
  48_000,
  96_000,
];
/** `undefined` is reserved. @source RFC 9639, 9.1.4 */
const bitDepths = [null, 8, 12, undefined, 16, 20, 24, 32];

/**
 * The header of a coded frame at byte `at`, or `null` where no whole one stands before `end`: its own checksum (CRC-8) tells.
 *
 * @source RFC 9639, 9.1
 */
export function flacFrameHeader(bytes: Uint8Array, at: number, end: number): FlacFrameHeader | null {
  if (bytes[at] !== 0xff || (bytes[at + 1]! & 0xfe) !== 0xf8) return null;
  const sizeCode = bytes[at + 2]! >> 4;
  const rateCode = bytes[at + 2]! & 15;
  const channelCode = bytes[at + 3]! >> 4;
  const bitDepth = bitDepths[(bytes[at + 3]! >> 1) & 7];
  if (sizeCode === 0 || rateCode === 15 || channelCode > 10 || bitDepth === undefined || bytes[at + 3]! & 1) {
    return null;
  }
  let index = at + 4;
  const byte = () => bytes[index++] ?? 0;
  const lead = byte();
  let following = Math.clz32(~(lead << 24));
  if (following === 1 || following > 7) return null;
  let number = following === 0 ? lead : lead & (0x7f >> following);
  for (; following > 1; following--) {
    const next = byte();
    if ((next & 0xc0) !== 0x80) return null;
    number = number * 64 + (next & 0x3f);
  }
  let frames = sizeCode === 1 ? 192 : sizeCode <= 5 ? 576 << (sizeCode - 2) : 256 << (sizeCode - 8);
  if (sizeCode === 6) frames = byte() + 1;
  if (sizeCode === 7) frames = byte() * 256 + byte() + 1;
  let sampleRateHz = sampleRates[rateCode] ?? null;
  if (rateCode === 12) sampleRateHz = byte() * 1000;
  if (rateCode === 13) sampleRateHz = byte() * 256 + byte();
  if (rateCode === 14) sampleRateHz = (byte() * 256 + byte()) * 10;
  let crc = 0;
  for (let each = at; each < index; each++) crc = crc8Table[crc ^ bytes[each]!]!;
  if (index >= end || crc !== bytes[index] || frames > largestBlockFrames) return null;
  return {
    bytes: index + 1 - at,
    frames,
    sampleRateHz,
    bitDepth,
    channelCount: channelCode < 8 ? channelCode + 1 : 2,
    stereo: stereoKinds[channelCode - 8] ?? 'independent',
    variable: (bytes[at + 1]! & 1) === 1,
    number,
  };
}

/**
 * Decodes the frame whose header stands at byte `at` into the start of `channels`, as integers of the stream's depth.
 * Doubles hold them all, and every sum of a prediction (33 bits × 15 bits × 32 terms), exactly.
 *
 * @param bytes as a `BitReader` wants them: eight bytes more than up to `end`.
 * @returns the byte behind the frame.
 * @throws EndOfBytes where the frame goes on behind `end`; DamagedFrame
 * @source RFC 9639, 9.2 and 9.3
 */
export function decodeFlacFrame(
  bytes: Uint8Array,
  at: number,
  end: number,
  header: FlacFrameHeader,
  bitDepth: number,
  channels: Float64Array[],
): number {
  const { frames, stereo } = header;
  const bits = new BitReader(bytes, at + header.bytes, end);
  const sideChannel = { independent: -1, 'left-side': 1, 'side-right': 0, 'mid-side': 1 }[stereo];
  for (const [channel, target] of channels.entries()) {
    decodeSubframe(bits, target, frames, bitDepth + (channel === sideChannel ? 1 : 0));
  }
  const checked = bits.align();
  if (checked + 2 > end) throw new EndOfBytes();
  if (crc16(bytes, at, checked + 2) !== 0) throw new DamagedFrame('checksum');
  if (stereo !== 'independent') undoStereo(channels[0]!, channels[1]!, frames, stereo);
  return checked + 2;
}

function undoStereo(
  first: Float64Array,
  second: Float64Array,
  frames: number,
  stereo: 'left-side' | 'side-right' | 'mid-side',
): void {
  for (let frame = 0; frame < frames; frame++) {
    if (stereo === 'left-side') second[frame] = first[frame]! - second[frame]!;
    else if (stereo === 'side-right') first[frame] = first[frame]! + second[frame]!;
    else {
      const side = second[frame]!;
      const left = first[frame]! + (side + (side & 1)) / 2;
      first[frame] = left;
      second[frame] = left - side;
    }
  }
}

function decodeSubframe(bits: BitReader, target: Float64Array, frames: number, fullDepth: number): void {
  if (bits.unsigned(1) !== 0) throw new DamagedFrame('subframe');
  const type = bits.unsigned(6);
  const wasted = bits.unsigned(1) === 1 ? bits.unary() + 1 : 0;
  const depth = fullDepth - wasted;
  if (depth < 1) throw new DamagedFrame('wasted bits');
  if (type === 0) target.fill(bits.signed(depth), 0, frames);
  else if (type === 1) verbatim(bits, target, 0, frames, depth);
  else if (type >= 8 && type <= 12) fixedPrediction(bits, target, frames, depth, type - 8);
  else if (type >= 32) linearPrediction(bits, target, frames, depth, type - 31);
  else throw new DamagedFrame('subframe type');
  if (wasted > 0) {
    const scale = 2 ** wasted;
    for (let frame = 0; frame < frames; frame++) target[frame] = target[frame]! * scale;
  }
}

function verbatim(bits: BitReader, target: Float64Array, first: number, last: number, depth: number): void {
  for (let frame = first; frame < last; frame++) target[frame] = bits.signed(depth);
}

/** The predictors of order 0 to 4: each value is the residual plus a polynomial through the ones before. */
function fixedPrediction(
  bits: BitReader,
  target: Float64Array,
  frames: number,
  depth: number,
  order: number,
): void {
  if (order > frames) throw new DamagedFrame('order');
  verbatim(bits, target, 0, order, depth);
  residual(bits, target, frames, order);
  let [last, before, third, fourth] = [order - 1, order - 2, order - 3, order - 4].map((frame) =>
    frame >= 0 ? target[frame]! : 0,
  ) as [number, number, number, number];
  for (let frame = order; frame < frames; frame++) {
    let value = target[frame]!;
    if (order === 1) value += last;
    else if (order === 2) value += 2 * last - before;
    else if (order === 3) value += 3 * (last - before) + third;
    else if (order === 4) value += 4 * (last + third) - 6 * before - fourth;
    target[frame] = value;
    fourth = third;
    third = before;
    before = last;
    last = value;
  }
}

function linearPrediction(
  bits: BitReader,
  target: Float64Array,
  frames: number,
  depth: number,
  order: number,
): void {
  if (order > frames) throw new DamagedFrame('order');
  verbatim(bits, target, 0, order, depth);
  const precision = bits.unsigned(4) + 1;
  const shift = bits.signed(5);
  if (precision === 16 || shift < 0) throw new DamagedFrame('coefficients');
  // Scaled, which a power of two leaves exact. The newest value's coefficient stands alone: only its product has to
  // wait for the value before. The others, oldest first, are filled up with zeros, to be taken four at a time.
  const scale = 2 ** -shift;
  const newest = bits.signed(precision) * scale;
  const taps = Math.ceil((order - 1) / 4) * 4;
  const coefficients = new Float64Array(taps);
  for (let tap = taps - 1; tap > taps - order; tap--) coefficients[tap] = bits.signed(precision) * scale;
  residual(bits, target, frames, order);
  let last = target[order - 1]!;
  for (let frame = order; frame < frames; frame++) {
    let sum = target[frame]!;
    if (frame <= taps) {
      for (let back = 2; back <= order; back++) sum += coefficients[taps + 1 - back]! * target[frame - back]!;
    } else {
      for (let tap = 0, past = frame - 1 - taps; tap < taps; tap += 4, past += 4) {
        sum +=
          coefficients[tap]! * target[past]! +
          coefficients[tap + 1]! * target[past + 1]! +
          (coefficients[tap + 2]! * target[past + 2]! + coefficients[tap + 3]! * target[past + 3]!);
      }
    }
    last = Math.floor(sum + newest * last);
    target[frame] = last;
  }
}

function residual(bits: BitReader, target: Float64Array, frames: number, order: number): void {
  const method = bits.unsigned(2);
  if (method > 1) throw new DamagedFrame('residual');
  const parameterBits = 4 + method;
  const escaped = 2 ** parameterBits - 1;
  const partitions = 1 << bits.unsigned(4);
  const partitionFrames = frames / partitions;
  if (!Number.isInteger(partitionFrames) || partitionFrames < order) throw new DamagedFrame('partitions');
  for (let last = partitionFrames, first = order; last <= frames; first = last, last += partitionFrames) {
    const parameter = bits.unsigned(parameterBits);
    if (parameter < escaped) bits.rice(target, first, last, parameter);
    else verbatim(bits, target, first, last, bits.unsigned(5));
  }
}

/** The first of `ends` at which the frame that begins at byte `at` has its checksum (CRC-16), or `null`. */
export function frameEnd(bytes: Uint8Array, at: number, ends: readonly number[]): number | null {
  let crc = 0;
  let from = at;
  for (const end of [...ends].sort((one, other) => one - other)) {
    crc = crc16(bytes, from, end, crc);
    if (crc === 0) return end;
    from = end;
  }
  return null;
}

/** The remainder of the bytes from `first` up to `end`, continuing from `crc`: 0 behind a checksum that holds. */
function crc16(bytes: Uint8Array, first: number, end: number, crc = 0): number {
  let index = first;
  for (; index + 1 < end; index += 2) {
    crc = crc16OfTwo[(crc >> 8) ^ bytes[index]!]! ^ crc16Table[(crc & 0xff) ^ bytes[index + 1]!]!;
  }
  return index < end ? ((crc << 8) & 0xffff) ^ crc16Table[(crc >> 8) ^ bytes[index]!]! : crc;
}

/** The remainder table of a CRC, most significant bit first. */
function crcTable(polynomial: number, bits: 8 | 16): Uint16Array {
  const top = 2 ** (bits - 1);
  const mask = 2 ** bits - 1;
  return Uint16Array.from({ length: 256 }, (_, byte) => {
    let remainder = byte << (bits - 8);
    for (let bit = 0; bit < 8; bit++) {
      remainder = remainder & top ? ((remainder << 1) ^ polynomial) & mask : (remainder << 1) & mask;
    }
    return remainder;
  });
}

/** @source RFC 9639, 9.1.8 (x⁸+x²+x+1) and 9.3 (x¹⁶+x¹⁵+x²+1) */
const crc8Table = crcTable(0x07, 8);
const crc16Table = crcTable(0x8005, 16);
/** What a byte leaves behind another one: two bytes are then taken in one step. */
const crc16OfTwo = crc16Table.map((crc) => ((crc << 8) & 0xffff) ^ crc16Table[crc >> 8]!);
