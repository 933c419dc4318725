import { html, nothing, type TemplateResult } from 'lit';
import type { NoteView, Range, SectionMap } from '../../api/types.ts';
import { levelShape, levelWord } from '../../elements/level-mark.ts';
import { barCount, timeCode } from '../../elements/time-code.ts';
import type { VersionTimeline } from '../../player/version-timeline.ts';
import { groupPins } from '../../waveform/pin-groups.ts';
import type { Waveform } from '../../waveform/waveform-store.ts';
import '../../waveform/waveform-line.ts';
import type { LineChange } from './line-change.ts';
import { noteLevel } from './note-entry.ts';
import type { SheetLine } from './sheet-line.ts';

/** What all lines of a sheet are drawn by. */
export interface LineDrawing {
  newer: Waveform | null;
  older: Waveform | null;
  newerGain: number;
  olderGain: number;
  /** The value drawn at full height. */
  fullHeight: number;
  timeline: VersionTimeline;
  selection: Range | null;
  grid: SectionMap;
  /** The least distance of two pins, as a fraction of a line. */
  pinRoom: number;
}

function pin(
  at: number,
  notes: readonly NoteView[],
  seconds: number | null,
  mark: string,
  onPin: (note: NoteView) => void,
): TemplateResult {
  const first = notes[0]!;
  const level = noteLevel(first);
  const time = seconds === null ? '' : timeCode(seconds);
  const label =
    notes.length === 1
      ? `${time} ${levelWord[level]}: ${first.text}${mark ? ` (${mark})` : ''}`
      : `${notes.length} notes from ${time}`;
  return html`<button
    type="button"
    class="pin ${level}"
    style=${`--at: ${(at * 100).toFixed(2)}%`}
    aria-label=${label}
    title=${label}
    @click=${() => onPin(first)}
  >
    ${levelShape(level)}${notes.length > 1 ? html`<i>${notes.length}</i>` : nothing}
  </button>`;
}

/** One line of the song sheet: name on tape, waveform with pins, what changed, and the notes in the margin. */
export function sectionLine(
  line: SheetLine,
  drawing: LineDrawing,
  change: LineChange | null,
  notes: readonly NoteView[],
  secondsOf: (note: NoteView) => number | null,
  markOf: (note: NoteView) => string,
  note: (note: NoteView) => TemplateResult,
  onPin: (note: NoteView) => void,
): TemplateResult {
  const length = line.endSeconds - line.startSeconds;
  const pins = groupPins(
    notes.map((each) => ({ at: ((secondsOf(each) ?? 0) - line.startSeconds) / length, note: each })),
    drawing.pinRoom,
  );
  const bars = line.section ? barCount(line.startSeconds, line.endSeconds, drawing.grid) : null;
  return html`<section class="line" aria-labelledby=${`line-${line.id}`}>
    <div class="name">
      <h2 id=${`line-${line.id}`} class=${line.section ? '' : 'nameless'}>${line.name}</h2>
      <small>${timeCode(line.startSeconds)}${bars ? ` · ${bars} bar${bars === 1 ? '' : 's'}` : ''}</small>
    </div>
    <div class="wave">
      <countoff-waveform-line
        .name=${line.name}
        .startSeconds=${line.startSeconds}
        .endSeconds=${line.endSeconds}
        .waveform=${drawing.newer}
        .ghost=${drawing.older}
        .timeline=${drawing.timeline}
        .gain=${drawing.newerGain}
        .ghostGain=${drawing.olderGain}
        .fullHeight=${drawing.fullHeight}
        .selection=${drawing.selection}
      ></countoff-waveform-line>
      ${pins.map(({ at, members }) =>
        pin(
          at,
          members.map((member) => member.note),
          secondsOf(members[0]!.note),
          markOf(members[0]!.note),
          onPin,
        ),
      )}
    </div>
    <div class="delta ${change?.still ? 'still' : ''}">
      ${change?.figure ? html`<b>${change.figure}</b>` : nothing}${change ? html`<span>${change.words}</span>` : nothing}
    </div>
    <div class="margin">${notes.map(note)}</div>
  </section>`;
}
