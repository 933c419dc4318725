import { html, nothing, type TemplateResult } from 'lit';
import type { Figures, SectionFigures } from '../../api/types.ts';
import { figure } from '../../elements/figures-table.ts';
import { entryOf, type FigureName, figureEntries, glossaryAddress } from '../glossary/figure-entries.ts';
import { undefinedReason } from './undefined-reason.ts';

/** A figure that is one number. */
export type NumberName = {
  [Name in FigureName & keyof Figures]: Figures[Name] extends number | null ? Name : never;
}[FigureName & keyof Figures];

const units: Partial<Record<NumberName, [unit: string, digits: number]>> = {
  integratedLoudnessLufs: ['LUFS', 1],
  loudnessRangeLu: ['LU', 1],
  maxMomentaryLoudnessLufs: ['LUFS', 1],
  maxShortTermLoudnessLufs: ['LUFS', 1],
  truePeakDbtp: ['dBTP', 1],
  samplePeakDbfs: ['dBFS', 1],
  rmsDbfs: ['dBFS', 1],
  rmsAes17Dbfs: ['dBFS', 1],
  crestFactorDb: ['dB', 1],
  plrDb: ['dB', 1],
  clippedRuns: ['', 0],
  correlation: ['', 2],
  midSideBalanceDb: ['dB', 1],
  monoFoldDownLossLu: ['LU', 1],
};

/** A figure with its unit, or a dash with the reason; `unit: false` for a column that has it in its head. */
export function figureValue(
  name: NumberName,
  figures: Figures | SectionFigures,
  channelCount: number,
  { unit = true } = {},
): TemplateResult {
  const [own, digits] = units[name] ?? ['', 1];
  const value = figures[name];
  if (value !== null) return html`${figure(value, unit ? own : '', digits)}`;
  const reason = undefinedReason(name, figures, channelCount);
  return html`–${reason ? html` <small>${reason}</small>` : nothing}`;
}

/** A figure's unit, as a column's head has it. */
export const unitOf = (name: NumberName): string => units[name]?.[0] ?? '';

/** A figure's name as a link to what it means. */
export function figureName(name: FigureName, words = nameOf(name)): TemplateResult {
  return html`<a class="term" href=${glossaryAddress(name)}>${words}</a>`;
}

function nameOf(name: FigureName): string {
  const entry = entryOf[name];
  return entry in figureEntries ? figureEntries[entry as keyof typeof figureEntries].name : name;
}
