import type { NoteView, SongSheet, VersionView } from '../../api/types.ts';

type Sheet = Pick<SongSheet, 'rounds' | 'gate' | 'people'>;

const roundOf = ({ rounds }: Pick<SongSheet, 'rounds'>, { round }: Pick<NoteView, 'round'>) =>
  rounds.find((each) => each.gate === round?.gate && each.number === round?.number);

/** Whether a note is of now: on the version that is drawn, of a list not yet answered, or of the one answered by it. */
export function isCurrentNote(
  sheet: Pick<Sheet, 'rounds' | 'gate'>,
  drawn: Pick<VersionView, 'id' | 'name'>,
  note: Pick<NoteView, 'versionId' | 'afterApproval' | 'round' | 'gate'>,
): boolean {
  if (note.versionId === drawn.id || note.afterApproval) return true;
  const round = roundOf(sheet, note);
  if (!round) return note.gate === sheet.gate;
  return round.status !== 'answered' || round.answeredBy === drawn.name;
}

/** The name of the version that answered a note's list, or `null`. */
export function answeredIn(sheet: Pick<Sheet, 'rounds'>, note: Pick<NoteView, 'round'>): string | null {
  return roundOf(sheet, note)?.answeredBy ?? null;
}

/** A note's author as it is signed: `Ines, artist`. */
export function authorWords({ people }: Pick<Sheet, 'people'>, { by }: Pick<NoteView, 'by'>): string {
  const role = people.find((person) => person.id === by.id)?.roles[0];
  return role ? `${by.name}, ${role}` : by.name;
}
