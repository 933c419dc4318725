import type WaveformData from 'waveform-data';

/**
 * The heights of equally wide bars over a stretch of a waveform: the mean of the points' highest absolute values, 1 at
 * full scale. The mean, since a loud mix reaches full scale in every bar, and a line of equal bars would show nothing.
 * Parts outside the file are 0, as silence is.
 *
 * @param count How many bars, at least 1.
 */
export function waveformBars(
  data: WaveformData,
  startSeconds: number,
  endSeconds: number,
  count: number,
): Float32Array {
  const fullScale = data.bits === 16 ? 32_768 : 128;
  const channel = data.channel(0);
  const pointsPerSecond = data.sample_rate / data.scale;
  const bars = new Float32Array(count);
  for (let bar = 0; bar < count; bar++) {
    const from = startSeconds + ((endSeconds - startSeconds) * bar) / count;
    const to = startSeconds + ((endSeconds - startSeconds) * (bar + 1)) / count;
    // A point that straddles two bars belongs to the later one, so that a section's last bar does not show the next one.
    const first = Math.max(0, Math.floor(from * pointsPerSecond));
    const last = Math.min(data.length, Math.max(first + 1, Math.floor(to * pointsPerSecond)));
    let sum = 0;
    for (let point = first; point < last; point++)
      sum += Math.max(channel.max_sample(point), -channel.min_sample(point));
    bars[bar] = last > first ? sum / (last - first) / fullScale : 0;
  }
  return bars;
}
