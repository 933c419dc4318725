/** A word, explained. */
export interface GlossaryEntry {
  name: string;
  /** What it is; then what it tells. */
  sentences: readonly [string, string];
  unit: string | null;
  /** Standard and edition, or *common practice*; `null` for a word that no standard defines. */
  standard: string | null;
}
