/** The server's types that the pages read; nothing of the server's code. */

export type { StemCheck } from '../../server/analysis/compare-stems.ts';
export type { StoredMeasurement as Measurement } from '../../server/analysis/stored-measurement.ts';
export type { AskedAndChanged, AskedView, UnaskedView } from '../../server/application/asked-and-changed.ts';
export type { ExampleView } from '../../server/application/example-views.ts';
export type { NotePlace } from '../../server/application/note-places.ts';
export type { RecordSheet, SongLine } from '../../server/application/record-sheet.ts';
export type { RequestVerdict } from '../../server/application/request-verdict.ts';
export type {
  AnalysisState,
  GateView,
  LockBreakView,
  NoteView,
  OpenRoundView,
  PersonName,
  Reader,
  RequestView,
  RoundView,
  SignatureView,
  SongSheet,
  VersionView,
} from '../../server/application/song-sheet.ts';
export type { Turn } from '../../server/application/turn.ts';
export type { AudioFormat } from '../../server/audio/audio-format.ts';
export type { CommandType } from '../../server/domain/command.ts';
export type {
  Alternate,
  Amendment,
  Contract,
  ContractTerms,
  Gate,
  RoundFee,
  RoundGate,
} from '../../server/domain/contract.ts';
export type { Fact, FactType } from '../../server/domain/ledger-entry.ts';
export type { AnswerKind, Contradiction, Range } from '../../server/domain/note.ts';
export type { GivenRole, Role } from '../../server/domain/person.ts';
export type { Charge, Part, ProductionLock } from '../../server/domain/record.ts';
export type { RefusalCode } from '../../server/domain/refusal.ts';
export type { Direction, Level, RequestKind } from '../../server/domain/request-kind.ts';
export type { ScopeSheet } from '../../server/domain/scope-sheet.ts';
export type { Section, SectionMap } from '../../server/domain/section.ts';
export type { Stem, StemRole } from '../../server/domain/stem.ts';
export type { ChangeFigures } from '../../server/measurement/change-render.ts';
export type { Comparison } from '../../server/measurement/comparison.ts';
export type {
  BandLevel,
  ClippedRun,
  Figures,
  Over,
  SectionFigures,
} from '../../server/measurement/measurement.ts';
export type { SectionProposal } from '../../server/measurement/section-finder.ts';
export type { SeriesName } from '../../server/measurement/series.ts';
export type { StemComparison } from '../../server/measurement/stem-comparison.ts';
export type { StemChange, StemSection } from '../../server/measurement/stem-gain.ts';
export type { StemSum } from '../../server/measurement/stem-sum.ts';
export type { Clarification } from '../../server/triage/sort-note.ts';
