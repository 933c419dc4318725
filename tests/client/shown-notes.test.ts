import { describe, expect, it } from 'vitest';
import type { RoundView } from '../../client/api/types.ts';
import { answeredIn, authorWords, isCurrentNote } from '../../client/features/listen/shown-notes.ts';

const round = (number: number, status: RoundView['status'], answeredBy: string | null) =>
  ({ gate: 'mix', number, status, answeredBy }) as RoundView;

/** Proves which notes are of now: what is still asked for, what the version at hand answers, and what was said of it. */
describe('a note of now', () => {
  const sheet = {
    gate: 'mix' as const,
    rounds: [
      round(1, 'answered', 'mix-2'),
      round(2, 'answered', 'mix-3'),
      round(3, 'sent', null),
      round(4, 'open', null),
    ],
  };
  const note = (versionId: string, number: number | null, more = {}) => ({
    versionId,
    afterApproval: false,
    gate: 'mix' as const,
    round: number === null ? null : { gate: 'mix' as const, number },
    ...more,
  });

  it.each([
    ['of a list answered by an earlier version is not', note('mix-1', 1), false],
    ['of the list that this version answers is', note('mix-2', 2), true],
    ['of a list that is sent is', note('mix-2', 3), true],
    ['of the open list is, on whichever version', note('mix-1', 4), true],
    ['on this very version is', note('mix-3', 1), true],
    ['after approval is', note('mix-1', null, { afterApproval: true }), true],
    ['of a gate that is closed is not', note('rough', null, { gate: 'production' }), false],
  ])('%s', (_words, given, current) => {
    expect(isCurrentNote(sheet, { id: 'mix-3', name: 'mix-3' }, given)).toBe(current);
  });

  it('names the version that answered its list', () => {
    expect([1, 2, 3].map((number) => answeredIn(sheet, note('mix-1', number)))).toEqual([
      'mix-2',
      'mix-3',
      null,
    ]);
    expect(answeredIn(sheet, note('rough', null))).toBeNull();
  });
});

describe('the author of a note', () => {
  it('is named with a role, where they have one', () => {
    const people = [
      { id: 'a', name: 'Ana', roles: ['artist' as const] },
      { id: 'm', name: 'Mo', roles: [] },
    ];
    const by = (id: string, name: string) => authorWords({ people }, { by: { id, name } });
    expect([by('a', 'Ana'), by('m', 'Mo'), by('gone', 'Gus')]).toEqual(['Ana, artist', 'Mo', 'Gus']);
  });
});
