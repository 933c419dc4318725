/** A named stretch of a song, in seconds from the start of the file. */
export interface SectionSpan {
  name: string;
  start: number;
  end: number;
}
