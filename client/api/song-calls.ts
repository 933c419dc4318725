import { read, readBytes, readOrPending, readWhenReady, send } from './call.ts';
import { parseChangeMap } from './change.ts';
import { recordPath } from './record-calls.ts';
import { readSeriesWhenReady } from './series.ts';
import type {
  AnswerKind,
  AskedAndChanged,
  ChangeFigures,
  Clarification,
  Comparison,
  Direction,
  Gate,
  Level,
  Measurement,
  NotePlace,
  Part,
  PersonName,
  Range,
  RequestKind,
  RoundGate,
  Section,
  SectionProposal,
  Stem,
  StemCheck,
  StemComparison,
  StemRole,
} from './types.ts';
import { whenMade } from './when-made.ts';

/** What a note's words would be sorted as, before it is written. */
export interface Sorting {
  requests: {
    text: string;
    /** Where in the note the words stand. */
    start: number;
    end: number;
    level: Level;
    kind: RequestKind;
    target: string | null;
    direction: Direction | null;
    place: string | null;
    range: Range | null;
    grey: boolean;
    confidence: number;
    why: string;
  }[];
  protections: { text: string }[];
  /**
   * What the author is asked where the words don't decide: `part` where the answer goes on the song's list of parts,
   * `vague` where any part of the song would answer it.
   */
  question: Clarification | null;
  /** One sentence: what it means for time and money. */
  meaning: string;
}

/** Stems as they were attached to a version. */
export interface AttachedStems {
  stems: Stem[];
  /** Why they replaced those before them; empty for the first. */
  reason: string;
  at: string;
  by: PersonName;
}

/** The calls on one song; each changing one may be given the key of the intent that it repeats. */
export function songCalls(recordId: string, songId: string) {
  const at = `${recordPath(recordId)}/songs/${encodeURIComponent(songId)}`;
  const note = (noteId: string) => `${at}/notes/${encodeURIComponent(noteId)}`;
  const request = (requestId: string) => `${at}/requests/${encodeURIComponent(requestId)}`;
  const round = (gate: RoundGate, number: number) => `${at}/rounds/${gate}/${number}`;
  const change = (number: number) => `${at}/changes/${number}`;
  const gateAt = (gate: Gate) => `${at}/gates/${gate}`;
  const version = (versionId: string) => `${at}/versions/${encodeURIComponent(versionId)}`;
  const comparison = (older: string, newer: string) =>
    `${at}/comparisons/${encodeURIComponent(older)}/${encodeURIComponent(newer)}`;
  return {
    rename: (title: string, key?: string) => send('PUT', at, { title }, key),
    nameSections: (
      body: {
        sections: Section[];
        tempoBpm: number | null;
        beatsPerBar: number | null;
        firstBarSeconds: number;
        basedOnRevision: number;
      },
      key?: string,
    ) => send('PUT', `${at}/sections`, body, key),
    nameParts: (parts: Part[], key?: string) => send('PUT', `${at}/parts`, { parts }, key),
    answerPart: (part: string, delivered: boolean, key?: string) =>
      send('POST', `${at}/parts/answers`, { part, delivered }, key),

    /** Changes nothing, so it needs no key. */
    sort: async (
      body: {
        text: string;
        versionId: string;
        range: Range | null;
        /** Levels that the author has chosen already, by the words of the request: the meaning follows them. */
        chosen: readonly { text: string; level: Level }[];
      },
      signal: AbortSignal,
    ): Promise<Sorting> => {
      const response = await fetch(`${at}/sortings`, {
        method: 'POST',
        headers: { 'content-type': 'application/json', accept: 'application/json' },
        body: JSON.stringify(body),
        signal,
      });
      if (!response.ok) throw new Error(`sorting: ${response.status}`);
      return (await response.json()) as Sorting;
    },
    writeNote: (
      body: {
        noteId: string;
        versionId: string;
        range: Range | null;
        text: string;
        heardOn: string | null;
        /** The author's choice for each proposed request; `null` leaves it as proposed. */
        levels: (Level | null)[];
      },
      key?: string,
    ) => send('POST', `${at}/notes`, body, key),
    withdrawNote: (noteId: string, key?: string) => send('DELETE', note(noteId), {}, key),
    reply: (noteId: string, text: string, key?: string) =>
      send('POST', `${note(noteId)}/replies`, { text }, key),

    chooseLevel: (requestId: string, level: Level, key?: string) =>
      send('PUT', `${request(requestId)}/level`, { level }, key),
    resort: (
      requestId: string,
      body: { level: Level; kind: RequestKind | null; reason: string },
      key?: string,
    ) => send('POST', `${request(requestId)}/resorting`, body, key),
    answer: (requestId: string, body: { answer: AnswerKind; text: string }, key?: string) =>
      send('POST', `${request(requestId)}/answer`, body, key),
    markOwnMistake: (requestId: string, reason: string, key?: string) =>
      send('POST', `${request(requestId)}/own-mistake`, { reason }, key),
    leaveOut: (requestId: string, reason: string, key?: string) =>
      send('POST', `${request(requestId)}/omission`, { reason }, key),
    takeBackIn: (requestId: string, key?: string) =>
      send('DELETE', `${request(requestId)}/omission`, {}, key),
    merge: (into: string, others: string[], key?: string) =>
      send('POST', `${request(into)}/merger`, { others }, key),
    keepApart: (requestIds: string[], key?: string) =>
      send('POST', `${at}/agreements/dismissal`, { requestIds }, key),
    unmerge: (into: string, key?: string) => send('DELETE', `${request(into)}/merger`, {}, key),
    settle: (body: { requestIds: [string, string]; keep: string | null; reason: string }, key?: string) =>
      send('POST', `${at}/contradictions/settlement`, body, key),

    sendRound: (gate: RoundGate, agreedFeeMinorUnits: number | null, key?: string) =>
      send('POST', `${at}/rounds/${gate}/sending`, { agreedFeeMinorUnits }, key),
    quoteRound: (gate: RoundGate, number: number, hours: number, key?: string) =>
      send('POST', `${round(gate, number)}/quote`, { hours }, key),
    giveRoundGoAhead: (gate: RoundGate, number: number, agreedFeeMinorUnits: number, key?: string) =>
      send('POST', `${round(gate, number)}/go-ahead`, { agreedFeeMinorUnits }, key),
    declineRound: (gate: RoundGate, number: number, reason: string, key?: string) =>
      send('POST', `${round(gate, number)}/refusal`, { reason }, key),
    extendNoteDays: (body: { gate: Gate; until: string; reason: string }, key?: string) =>
      send('POST', `${at}/note-days`, body, key),

    priceChange: (number: number, body: { hours: number; words: string }, key?: string) =>
      send('POST', `${change(number)}/price`, body, key),
    declineChange: (number: number, reason: string, key?: string) =>
      send('POST', `${change(number)}/decline`, { reason }, key),
    acceptChange: (number: number, agreedFeeMinorUnits: number, key?: string) =>
      send('POST', `${change(number)}/acceptance`, { agreedFeeMinorUnits }, key),
    refuseChange: (number: number, reason: string, key?: string) =>
      send('POST', `${change(number)}/refusal`, { reason }, key),

    signOff: (gate: Gate, body: { versionId: string; sha256: string; statement: string }, key?: string) =>
      send('POST', `${gateAt(gate)}/signature`, body, key),
    withdrawSignature: (gate: Gate, reason: string, key?: string) =>
      send('DELETE', `${gateAt(gate)}/signature`, { reason }, key),
    reopenGate: (gate: Gate, body: { reason: string; agreedFeeMinorUnits: number | null }, key?: string) =>
      send('POST', `${gateAt(gate)}/reopening`, body, key),
    giveReopeningGoAhead: (gate: Gate, key?: string) =>
      send('POST', `${gateAt(gate)}/reopening/go-ahead`, {}, key),
    declineReopening: (gate: Gate, reason: string, key?: string) =>
      send('POST', `${gateAt(gate)}/reopening/refusal`, { reason }, key),
    certificate: <T>(gate: Gate) => read<T>(`${gateAt(gate)}/certificate`),

    postVersion: (
      body: { versionId: string; uploadId: string; gate: Gate; printNotes: string; changes: number[] },
      key?: string,
    ) => send('POST', `${at}/versions`, body, key),
    measureAgain: (versionId: string, key?: string) =>
      send<unknown>('POST', `${version(versionId)}/measurement`, {}, key),
    measurement: (versionId: string) => readOrPending<Measurement>(`${version(versionId)}/measurement`),
    measured: (versionId: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      readWhenReady<Measurement>(`${version(versionId)}/measurement`, signal, onProgress),
    /** What the audio alone suggests; nothing is named by it. */
    sectionsProposed: (versionId: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      readWhenReady<SectionProposal>(`${version(versionId)}/sections-proposal`, signal, onProgress),
    proposeSectionsAgain: (versionId: string, key?: string) =>
      send<unknown>('POST', `${version(versionId)}/sections-proposal`, {}, key),
    series: (versionId: string, signal: AbortSignal) =>
      readSeriesWhenReady(`${version(versionId)}/series`, signal),
    /** All stems that a version ever had, the last ones holding, and whether the reader may attach others; for the engineer's side alone. */
    stems: (versionId: string, signal: AbortSignal) =>
      read<{ attached: AttachedStems[]; mayAttach: boolean }>(`${version(versionId)}/stems`, signal),
    attachStems: (
      versionId: string,
      body: {
        stems: { name: string; role: StemRole; uploadId: string | null; sha256: string | null }[];
        reason: string;
      },
      key?: string,
    ) => send('POST', `${version(versionId)}/stems`, body, key),
    /** Whether the stems of a version sum to it. */
    stemSum: (versionId: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      readWhenReady<StemCheck>(`${version(versionId)}/stems/sum`, signal, onProgress),
    sumStemsAgain: (versionId: string, key?: string) =>
      send<unknown>('POST', `${version(versionId)}/stems/sum`, {}, key),
    /** What each stem's gain changed by between two versions. */
    stemComparison: (
      older: string,
      newer: string,
      signal: AbortSignal,
      onProgress?: (progress: number) => void,
    ) => readWhenReady<StemComparison>(`${comparison(older, newer)}/stems`, signal, onProgress),
    compareStemsAgain: (older: string, newer: string, key?: string) =>
      send<unknown>('POST', `${comparison(older, newer)}/stems`, {}, key),
    comparison: (
      older: string,
      newer: string,
      signal: AbortSignal,
      onProgress?: (progress: number) => void,
    ) => readWhenReady<Comparison>(comparison(older, newer), signal, onProgress),
    /** Has the change made, to be heard alone; its sound is then under `changeUrl`. */
    change: (older: string, newer: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      whenMade(
        () => read<ChangeFigures>(`${comparison(older, newer)}/change/figures`, signal),
        signal,
        onProgress,
      ),
    renderChangeAgain: (older: string, newer: string, key?: string) =>
      send<unknown>('POST', `${comparison(older, newer)}/change`, {}, key),
    changeMap: (older: string, newer: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      whenMade(
        async () => parseChangeMap(await readBytes(`${comparison(older, newer)}/map`, signal)),
        signal,
        onProgress,
      ),
    drawMapAgain: (older: string, newer: string, key?: string) =>
      send<unknown>('POST', `${comparison(older, newer)}/map`, {}, key),

    /** What was asked between two versions, and what changed that nobody asked for. */
    asked: (older: string, newer: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      readWhenReady<AskedAndChanged>(`${comparison(older, newer)}/asked`, signal, onProgress),
    /** The same for a checked upload of one's own, before it is posted. */
    askedBefore: (uploadId: string, signal: AbortSignal, onProgress?: (progress: number) => void) =>
      readWhenReady<AskedAndChanged>(
        `${at}/uploads/${encodeURIComponent(uploadId)}/asked`,
        signal,
        onProgress,
      ),
    explainChange: (
      older: string,
      newer: string,
      body: { place: Range | null; text: string },
      key?: string,
    ) => send('POST', `${comparison(older, newer)}/explanations`, body, key),
    /** Where the notes on other versions stand in one. */
    notePlaces: (versionId: string, signal: AbortSignal) =>
      read<{ places: NotePlace[] }>(`${version(versionId)}/note-places`, signal),

    /** Addresses for media elements and downloads. */
    changeUrl: (older: string, newer: string) => `${comparison(older, newer)}/change`,
    audioUrl: (versionId: string) => `${version(versionId)}/audio`,
    fileUrl: (versionId: string) => `${version(versionId)}/file`,
    stemUrl: (versionId: string, sha256: string) => `${version(versionId)}/stems/${sha256}/file`,
    waveformUrl: (versionId: string) => `${version(versionId)}/waveform`,
  };
}
