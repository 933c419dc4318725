import { renderSong } from '../../fixtures/demo/render.ts';
import { demoSong } from '../../fixtures/demo/scenario.ts';
import type { Song } from '../comparison/synthetic-song.ts';

/** The demo record's third song with its stems as parts. */
export function demoRecordSong(): Song {
  const { tempoBpm, beatsPerBar, sections } = demoSong('third');
  const { stems, frameCount, sampleRateHz } = renderSong('third');
  return {
    sampleRateHz,
    frames: frameCount,
    barSeconds: (60 / tempoBpm) * beatsPerBar,
    sections: sections.map(({ name, start, end }) => ({ name, start, end })),
    parts: [...stems].map(([name, [left, right]]) => ({
      name,
      left: Float64Array.from(left),
      right: Float64Array.from(right),
    })),
  };
}
