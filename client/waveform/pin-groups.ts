/** Something that stands above a line, at a fraction of its width, 0 to 1. */
export interface Placed {
  at: number;
}

/**
 * Puts things that would lie on one another under one pin, so that every pin has room for a thumb.
 *
 * @param room The least distance between two pins, as a fraction of the line's width.
 * @returns groups in order, each at the place of its first member.
 */
export function groupPins<T extends Placed>(
  things: readonly T[],
  room: number,
): { at: number; members: T[] }[] {
  const groups: { at: number; members: T[] }[] = [];
  for (const thing of [...things].sort((one, other) => one.at - other.at)) {
    const last = groups.at(-1);
    if (last && thing.at - last.at < room) last.members.push(thing);
    else groups.push({ at: thing.at, members: [thing] });
  }
  return groups;
}
