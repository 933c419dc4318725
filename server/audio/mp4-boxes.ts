import type { FileHandle } from 'node:fs/promises';
import { AudioFileError } from './audio-file-error.ts';
import { bytesAt } from './audio-reader.ts';

/** What the movie box says of the first sound track. */
export interface Mp4Sound {
  /** The sample entry's name: `alac`, `mp4a` … */
  codec: string;
  /** Bits a sample that an ALAC track gives; `null` for other codecs. */
  bitDepth: number | null;
  /** Units in a second, in which the two lengths below are counted; usually the sample rate. */
  timescale: number;
  /** The track's length with all that its encoder put before and behind; `null` where the header leaves it to fragments. */
  mediaUnits: number | null;
  /** The one stretch of the track that is to be heard, where an edit list names one. */
  heard: { firstUnit: number; units: number; roundedToUnits: number } | null;
  /** Bytes that the boxes promise, and those that the file has. */
  promisedBytes: number;
  presentBytes: number;
}

interface Box {
  type: string;
  body: Buffer;
}

/** Boxes on the top level of any file that plays; fragments are one every few seconds. */
const mostTopBoxes = 100_000;
/** A movie box holds four to eight bytes a packet: a day of sound stays below this. */
const mostMovieBytes = 32 * 2 ** 20;

/** Whether the first twelve bytes are those of a file of the MPEG-4 family (.m4a, .mp4). */
export function isMp4(head: Uint8Array): boolean {
  return Buffer.from(head.subarray(4, 8)).toString('latin1') === 'ftyp';
}

/**
 * Reads the boxes of an MPEG-4 file as far as they tell how long its sound is, and whether the file holds it all.
 *
 * @throws AudioFileError
 * @source ISO/IEC 14496-12, 4.2 (boxes), 8.4 (media), 8.6.6 (edit lists); Apple, ALAC magic cookie description
 */
export async function readMp4Sound(handle: FileHandle, fileBytes: number): Promise<Mp4Sound> {
  let movie: Buffer | null = null;
  let position = 0;
  for (let count = 0; position < fileBytes; count++) {
    if (count === mostTopBoxes) throw new AudioFileError('unsound_header', 'The file is all boxes.');
    const head = await bytesAt(handle, position, 16);
    if (head.length < 8) break;
    const size = boxBytes(head, fileBytes - position);
    if (size === null) throw new AudioFileError('unsound_header', 'The size of a box contradicts itself.');
    if (head.toString('latin1', 4, 8) === 'moov' && movie === null) {
      if (size > mostMovieBytes)
        throw new AudioFileError('unsound_header', 'The movie box is out of all proportion.');
      movie = (await bytesAt(handle, position, size)).subarray(headBytes(head));
    }
    position += size;
  }
  const promisedBytes = Math.max(position, fileBytes);
  if (!movie) {
    throw position !== fileBytes
      ? new AudioFileError('truncated', 'The file ends before the table of its contents.')
      : new AudioFileError('unsound_header', 'The file has no table of its contents (moov).');
  }
  const track = boxesOf(movie).find((box) => box.type === 'trak' && handlerOf(box.body) === 'soun');
  if (!track) throw new AudioFileError('unsupported_format', 'The file holds no sound.');
  const mediaHeader = within(track.body, 'mdia', 'mdhd');
  const description = within(track.body, 'mdia', 'minf', 'stbl', 'stsd');
  const media = mediaHeader && timesOf(mediaHeader);
  if (!media || !description || description.length < 24) {
    throw new AudioFileError('unsound_header', 'The sound track does not say what it holds.');
  }
  const [entry] = boxesOf(description.subarray(8));
  const movieHeader = within(movie, 'mvhd');
  const movieTimes = movieHeader && timesOf(movieHeader);
  const edits = within(track.body, 'edts', 'elst');
  return {
    codec: entry?.type ?? '',
    bitDepth: entry?.type === 'alac' ? alacBitDepth(entry.body) : null,
    timescale: media.timescale,
    mediaUnits: media.duration || null,
    heard: edits && movieTimes && heardStretch(edits, media.timescale / movieTimes.timescale),
    promisedBytes,
    presentBytes: fileBytes,
  };
}

const headBytes = (head: Buffer) => (head.readUInt32BE(0) === 1 ? 16 : 8);

/** A box's size with its head; one that reaches to the end says 0. `null` for one smaller than its own head. */
function boxBytes(head: Buffer, left: number): number | null {
  const size = head.readUInt32BE(0);
  if (size === 0) return left;
  if (size !== 1) return size < 8 ? null : size;
  const long = head.length < 16 ? 0n : head.readBigUInt64BE(8);
  return long < 16n || long > BigInt(Number.MAX_SAFE_INTEGER) ? null : Number(long);
}

/** The boxes that stand one behind the other in `bytes`, as far as they are whole. */
function boxesOf(bytes: Buffer): Box[] {
  const boxes: Box[] = [];
  for (let at = 0; at + 8 <= bytes.length; ) {
    const head = bytes.subarray(at, at + 16);
    const size = boxBytes(head, bytes.length - at);
    if (size === null || at + size > bytes.length) break;
    boxes.push({
      type: head.toString('latin1', 4, 8),
      body: bytes.subarray(at + headBytes(head), at + size),
    });
    at += size;
  }
  return boxes;
}

/** The body of the first box along a path of names. */
function within(bytes: Buffer, ...names: string[]): Buffer | null {
  let body: Buffer | null = bytes;
  for (const name of names) body = body && (boxesOf(body).find((box) => box.type === name)?.body ?? null);
  return body;
}

const handlerOf = (track: Buffer) => within(track, 'mdia', 'hdlr')?.toString('latin1', 8, 12);

/** Timescale and duration, which stand alike in `mvhd` and `mdhd`; all ones is "not known". */
function timesOf(body: Buffer): { timescale: number; duration: number } | null {
  const long = body[0] === 1;
  if (body.length < (long ? 32 : 20)) return null;
  const timescale = body.readUInt32BE(long ? 20 : 12);
  const duration = long ? Number(body.readBigUInt64BE(24)) : body.readUInt32BE(16);
  const unknown = duration === 0xffffffff || duration > Number.MAX_SAFE_INTEGER;
  return timescale === 0 ? null : { timescale, duration: unknown ? 0 : duration };
}

function heardStretch(edits: Buffer, unitsInMovieUnit: number): Mp4Sound['heard'] {
  const long = edits[0] === 1;
  const entryBytes = long ? 20 : 12;
  if (edits.length < 8 || edits.readUInt32BE(4) !== 1 || edits.length < 8 + entryBytes) return null;
  const duration = long ? Number(edits.readBigUInt64BE(8)) : edits.readUInt32BE(8);
  const firstUnit = long ? Number(edits.readBigInt64BE(16)) : edits.readInt32BE(12);
  return firstUnit < 0
    ? null
    : { firstUnit, units: duration * unitsInMovieUnit, roundedToUnits: Math.ceil(unitsInMovieUnit) };
}

/** An ALAC entry: 28 bytes of sound description, then a box of the same name with the decoder's settings. */
function alacBitDepth(entry: Buffer): number | null {
  const settings = within(entry.subarray(28), 'alac');
  return settings && settings.length >= 10 ? settings[9]! : null;
}
