/**
 * The binary form that peaks.js and waveform-data read: audiowaveform's data format, version 2, all little-endian.
 *
 * | byte | type | value |
 * | --- | --- | --- |
 * | 0 | int32 | version, 2 |
 * | 4 | uint32 | flags; bit 0 set: 8-bit values |
 * | 8 | int32 | sample rate, Hz |
 * | 12 | int32 | frames behind one point |
 * | 16 | uint32 | points |
 * | 20 | int32 | channels, 1 |
 * | 24 | int8, int8 | lowest and highest value of the first point, 128 at full scale, then of the next point … |
 *
 * @source audiowaveform, Data Format documentation (version 2)
 */
const headerBytes = 24;
const formatVersion = 2;
const eightBitFlag = 1;
const fullScale = 128;

export const waveformFramesPerPoint = 256;

/** Builds waveform data block by block; its memory grows by two bytes a point. */
export interface WaveformDataBuilder {
  push(channels: readonly Float32Array[], frames: number): void;
  finish(): Uint8Array;
}

/**
 * One line for all channels: the lowest and the highest value of any of them, so that a sound in antiphase, which
 * would vanish from a mono sum, is drawn. Values beyond full scale are drawn at full scale; silence is 0, 0. A last
 * point may stand for fewer frames.
 */
export function createWaveformDataBuilder(
  sampleRateHz: number,
  framesPerPoint: number = waveformFramesPerPoint,
): WaveformDataBuilder {
  let bytes = new Uint8Array(headerBytes + 65_536);
  let length = headerBytes;
  let framesInPoint = 0;
  let lowest = Infinity;
  let highest = -Infinity;

  const endPoint = () => {
    if (length + 2 > bytes.length) {
      const longer = new Uint8Array(bytes.length * 2);
      longer.set(bytes);
      bytes = longer;
    }
    bytes[length++] = eightBit(lowest);
    bytes[length++] = eightBit(highest);
    framesInPoint = 0;
    lowest = Infinity;
    highest = -Infinity;
  };

  return {
    push(channels, frames) {
      for (let first = 0; first < frames; ) {
        const last = Math.min(frames, first + framesPerPoint - framesInPoint);
        for (const channel of channels) {
          for (let frame = first; frame < last; frame++) {
            const value = channel[frame]!;
            if (value < lowest) lowest = value;
            if (value > highest) highest = value;
          }
        }
        framesInPoint += last - first;
        first = last;
        if (framesInPoint === framesPerPoint) endPoint();
      }
    },
    finish() {
      if (framesInPoint > 0) endPoint();
      const view = new DataView(bytes.buffer);
      view.setInt32(0, formatVersion, true);
      view.setUint32(4, eightBitFlag, true);
      view.setInt32(8, sampleRateHz, true);
      view.setInt32(12, framesPerPoint, true);
      view.setUint32(16, (length - headerBytes) / 2, true);
      view.setInt32(20, 1, true);
      return bytes.slice(0, length);
    },
  };
}

/** The nearest signed byte, as it stands in an unsigned array. */
function eightBit(value: number): number {
  return Math.max(-fullScale, Math.min(fullScale - 1, Math.round(value * fullScale))) & 0xff;
}
