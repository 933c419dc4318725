/** How one sample of linear PCM lies in a file. Integers fill the high bits of their container, as WAV and AIFF ask. */
export interface PcmLayout {
  encoding: 'integer' | 'float';
  bytesPerSample: number;
  littleEndian: boolean;
  /** Only 8-bit WAV is unsigned. */
  unsigned: boolean;
}

/** Turns `frames` interleaved frames at the start of `bytes` into one array a channel, ±1.0 at full scale. */
export type PcmDecoder = (bytes: Uint8Array, frames: number, channels: Float32Array[]) => void;

/** The smallest power of two that keeps every integer container inside ±1.0. */
const fullScale = { 8: 2 ** 7, 16: 2 ** 15, 32: 2 ** 31 } as const;

/**
 * The decoder for one layout. Integers to 24 bits and 32-bit floats are exact in `Float32Array`; 32-bit integers and
 * 64-bit floats are rounded to its 24-bit mantissa, an error below −144 dB relative to the sample.
 *
 * @returns `null` for a layout that isn't linear PCM of 8, 16, 24 or 32 bits or float of 32 or 64.
 */
export function pcmDecoder(layout: PcmLayout, channelCount: number): PcmDecoder | null {
  const { encoding, bytesPerSample, littleEndian, unsigned } = layout;
  if (encoding === 'float') {
    if (bytesPerSample === 4)
      return viewDecoder(channelCount, 4, (view, at) => view.getFloat32(at, littleEndian));
    if (bytesPerSample === 8)
      return viewDecoder(channelCount, 8, (view, at) => view.getFloat64(at, littleEndian));
    return null;
  }
  if (bytesPerSample === 1) {
    return unsigned
      ? viewDecoder(channelCount, 1, (view, at) => (view.getUint8(at) - fullScale[8]) / fullScale[8])
      : viewDecoder(channelCount, 1, (view, at) => view.getInt8(at) / fullScale[8]);
  }
  if (bytesPerSample === 2) {
    return viewDecoder(channelCount, 2, (view, at) => view.getInt16(at, littleEndian) / fullScale[16]);
  }
  if (bytesPerSample === 3) {
    const decode = decode24(channelCount, littleEndian);
    return channelCount === 2 && littleEndian ? decode24Stereo(decode) : decode;
  }
  if (bytesPerSample === 4) {
    return viewDecoder(channelCount, 4, (view, at) => view.getInt32(at, littleEndian) / fullScale[32]);
  }
  return null;
}

function viewDecoder(
  channelCount: number,
  bytesPerSample: number,
  sampleAt: (view: DataView, at: number) => number,
): PcmDecoder {
  return (bytes, frames, channels) => {
    const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    const stride = bytesPerSample * channelCount;
    for (let channel = 0; channel < channelCount; channel++) {
      const target = channels[channel]!;
      for (let frame = 0, at = channel * bytesPerSample; frame < frames; frame++, at += stride) {
        target[frame] = sampleAt(view, at);
      }
    }
  };
}

/** 24-bit samples have no view of their own: the three bytes go to the top of a 32-bit integer, which keeps the sign. */
function decode24(channelCount: number, littleEndian: boolean): PcmDecoder {
  const high = littleEndian ? 2 : 0;
  const low = littleEndian ? 0 : 2;
  return (bytes, frames, channels) => {
    const stride = 3 * channelCount;
    for (let channel = 0; channel < channelCount; channel++) {
      const target = channels[channel]!;
      for (let frame = 0, at = channel * 3; frame < frames; frame++, at += stride) {
        const top = (bytes[at + high]! << 24) | (bytes[at + 1]! << 16) | (bytes[at + low]! << 8);
        target[frame] = top / fullScale[32];
      }
    }
  };
}

/**
 * The usual mix, in two fifths of the time: two frames of two channels are three words. Odd frames, and bytes that don't
 * begin on a word, are left to `otherwise`.
 */
function decode24Stereo(otherwise: PcmDecoder): PcmDecoder {
  return (bytes, frames, channels) => {
    if (bytes.byteOffset % 4 !== 0 || frames % 2 !== 0) return otherwise(bytes, frames, channels);
    const words = new Int32Array(bytes.buffer, bytes.byteOffset, (frames / 2) * 3);
    const left = channels[0]!;
    const right = channels[1]!;
    for (let frame = 0, at = 0; frame < frames; frame += 2, at += 3) {
      const first = words[at]!;
      const second = words[at + 1]!;
      const third = words[at + 2]!;
      left[frame] = (first << 8) / fullScale[32];
      right[frame] = (((first >>> 24) << 8) | (second << 16)) / fullScale[32];
      left[frame + 1] = (((second >>> 16) << 8) | (third << 24)) / fullScale[32];
      right[frame + 1] = (third & ~0xff) / fullScale[32];
    }
  };
}
