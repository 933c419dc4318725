import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { MessagePort } from 'node:worker_threads';
import type { DemoFile } from '../../fixtures/demo/render.ts';
import { AudioFileError } from '../audio/audio-file-error.ts';
import type { AudioFormat } from '../audio/audio-format.ts';
import { listeningCopyNeeded, writeListeningCopy } from '../audio/listening-copy.ts';
import { openAudio } from '../audio/open-audio.ts';
import type { ChangeFigures } from '../measurement/change-render.ts';
import type { Comparison, Tempo } from '../measurement/comparison.ts';
import type { SectionSpan } from '../measurement/measurement.ts';
import { MeasurementError } from '../measurement/measurement-error.ts';
import type { SectionProposal } from '../measurement/section-finder.ts';
import type { StemComparison } from '../measurement/stem-comparison.ts';
import { compareFiles } from './compare-files.ts';
import { checkStemFiles, compareStemFiles, type StemCheck } from './compare-stems.ts';
import { findSections } from './find-sections.ts';
import { inspectStem, type StemInspection } from './inspect-stem.ts';
import { type ChangeFiles, storeChangeMap, storeChangeSound } from './make-change.ts';
import { measureFile } from './measure-file.ts';
import { openStems, type StemSource } from './open-stems.ts';
import { type StoredMeasurement, storeSeries } from './stored-measurement.ts';
import { writeWhole } from './write-whole.ts';

/** Work that a worker does, with a port for its progress (0 to 1). */
export interface Task<Input> {
  input: Input;
  port: MessagePort;
}

/** A refusal with plain words, or what was made. */
export type TaskResult<Value> = { ok: true; value: Value } | { ok: false; code: string; message: string };

const progressOf = (port: MessagePort, from = 0, to = 1) => {
  let last = -1;
  return (fraction: number) => {
    const progress = from + (to - from) * fraction;
    if (progress - last < 0.01 && fraction < 1) return;
    last = progress;
    port.postMessage(progress);
  };
};

/** Expected faults of a file become words; everything else is a defect and is thrown. */
async function guarded<Value>(work: () => Promise<Value>): Promise<TaskResult<Value>> {
  try {
    return { ok: true, value: await work() };
  } catch (error) {
    if (error instanceof AudioFileError || error instanceof MeasurementError)
      return { ok: false, code: error.code, message: error.message };
    if (error instanceof Error && error.name === 'ComparisonError')
      return { ok: false, code: (error as Error & { code: string }).code, message: error.message };
    throw error;
  }
}

async function sha256Of(
  path: string,
  onProgress: (fraction: number) => void,
  byteLength: number,
): Promise<string> {
  const hash = createHash('sha256');
  let read = 0;
  for await (const chunk of createReadStream(path, { highWaterMark: 1 << 20 })) {
    hash.update(chunk as Buffer);
    read += (chunk as Buffer).length;
    onProgress(byteLength ? read / byteLength : 1);
  }
  return hash.digest('hex');
}

export interface IntakeInput {
  path: string;
  byteLength: number;
  /** Root of the audio store: waveform, series and listening copy are written to the file's place in it. */
  audioFolder: string;
  sections: SectionSpan[];
}

export interface IntakeResult {
  sha256: string;
  format: AudioFormat;
  measurement: StoredMeasurement;
  /** `original`, or what the listening copy is. */
  listening: string;
}

/** Reads a new file once and whole: its hash, its format, its figures, its series, its waveform, its listening copy if needed. */
export async function intake({ input, port }: Task<IntakeInput>): Promise<TaskResult<IntakeResult>> {
  return guarded(async () => {
    const reader = await openAudio(input.path);
    const { format } = reader;
    await reader.close();
    const sha256 = await sha256Of(input.path, progressOf(port, 0, 0.2), input.byteLength);
    const { measurement, waveformData } = await measureFile(input.path, input.sections, {
      onProgress: progressOf(port, 0.2, 0.9),
      waveform: true,
    });
    const folder = join(input.audioFolder, sha256.slice(0, 2), sha256);
    await mkdir(folder, { recursive: true });
    if (waveformData) await writeWhole(join(folder, 'waveform.dat'), waveformData);
    const stored = await storeSeries(measurement, folder);
    const listening = listeningCopyNeeded(format)
      ? (await writeListeningCopy(input.path, join(folder, 'listening.wav'))).description
      : 'original';
    port.postMessage(1);
    return { sha256, format, measurement: stored, listening };
  });
}

/** Reads a new stem once and whole: its hash, its format, its length. */
export async function intakeStem({
  input,
  port,
}: Task<{ path: string; byteLength: number }>): Promise<TaskResult<StemInspection & { sha256: string }>> {
  return guarded(async () => {
    const sha256 = await sha256Of(input.path, progressOf(port, 0, 0.4), input.byteLength);
    return { ...(await inspectStem(input.path, progressOf(port, 0.4, 1))), sha256 };
  });
}

/** Measures a stored file again, as after its sections were renamed; its series is written beside it. */
export async function measure({
  input,
  port,
}: Task<{ path: string; waveformPath: string | null; sections: SectionSpan[] }>): Promise<
  TaskResult<StoredMeasurement>
> {
  return guarded(async () => {
    const { measurement, waveformData } = await measureFile(input.path, input.sections, {
      onProgress: progressOf(port),
      waveform: input.waveformPath !== null,
    });
    if (waveformData && input.waveformPath) await writeWhole(input.waveformPath, waveformData);
    return storeSeries(measurement, dirname(input.path));
  });
}

/** Compares two stored files. */
export async function compare({
  input,
  port,
}: Task<{ olderPath: string; newerPath: string; sections: SectionSpan[]; tempo: Tempo | null }>): Promise<
  TaskResult<Comparison>
> {
  const { olderPath, newerPath, sections, tempo } = input;
  return guarded(() => compareFiles(olderPath, newerPath, sections, { onProgress: progressOf(port), tempo }));
}

/** Turns shares of sets that are read several times into progress. */
function readingProgress(port: MessagePort, times: number): (share: number) => void {
  const tell = progressOf(port);
  let read = 0;
  return (share) => {
    read += share;
    tell(Math.min(0.99, read / times));
  };
}

/** Says whether stored stems sum to their print. */
export async function checkStems({
  input,
  port,
}: Task<{ path: string; stems: StemSource[] }>): Promise<TaskResult<StemCheck>> {
  const alternates = input.stems.some(({ role }) => role !== 'part');
  return guarded(async () =>
    checkStemFiles(input.path, await openStems(input.stems, readingProgress(port, alternates ? 4 : 2))),
  );
}

/** Compares two stored files stem by stem. */
export async function compareStems({
  input,
  port,
}: Task<{
  olderPath: string;
  newerPath: string;
  olderStems: StemSource[] | null;
  newerStems: StemSource[] | null;
  sections: SectionSpan[];
  overallGainDb: number;
}>): Promise<TaskResult<StemComparison>> {
  const { olderPath, newerPath, olderStems, newerStems, sections, overallGainDb } = input;
  return guarded(async () => {
    const onShare = readingProgress(port, olderStems && newerStems ? 6 : 3);
    const opened = async (stems: StemSource[] | null) => (stems ? openStems(stems, onShare) : null);
    const stems = { a: await opened(olderStems), b: await opened(newerStems) };
    return compareStemFiles(olderPath, newerPath, stems, sections, overallGainDb);
  });
}

/** Proposes the sections of a stored file. */
export async function proposeSections({
  input,
  port,
}: Task<{ path: string }>): Promise<TaskResult<SectionProposal>> {
  return guarded(() => findSections(input.path, { onProgress: progressOf(port) }));
}

/** Renders the change between two stored files, to be heard alone. */
export async function renderChange({ input, port }: Task<ChangeFiles>): Promise<TaskResult<ChangeFigures>> {
  return guarded(() => storeChangeSound(input, progressOf(port)));
}

/** Draws the map of the change between two stored files. */
export async function mapChange({
  input,
  port,
}: Task<ChangeFiles>): Promise<TaskResult<{ hopCount: number }>> {
  return guarded(() => storeChangeMap(input, progressOf(port)));
}

/** Renders the demo record's files into a folder; the synthesiser is loaded only here. */
export async function renderDemo({ input, port }: Task<{ folder: string }>): Promise<DemoFile[]> {
  const { renderDemo: render } = await import('../../fixtures/demo/render.ts');
  return render(input.folder, progressOf(port));
}
