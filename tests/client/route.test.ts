import { describe, expect, it } from 'vitest';
import { recordAddress, routeOf, songAddress } from '../../client/route.ts';

/** Proves that every thing has one address, that each is read back as itself, and that nothing else is taken for a page. */
describe('addresses', () => {
  it('name the pages of a song and of a record', () => {
    expect(routeOf('/r/lantern/s/ferry')).toMatchObject({
      page: 'listen',
      recordId: 'lantern',
      songId: 'ferry',
    });
    expect(routeOf('/r/lantern/s/ferry/certificate/mix')).toMatchObject({ page: 'certificate', gate: 'mix' });
    for (const page of [
      'sections',
      'queue',
      'scope',
      'sign-off',
      'changed',
      'figures',
      'post-version',
    ] as const)
      expect(routeOf(songAddress('lantern', 'ferry', page))?.page).toBe(page);
    for (const page of ['record', 'set-up', 'ledger', 'taught'] as const)
      expect(routeOf(recordAddress('lantern', page))?.page).toBe(page);
    expect(routeOf('/')?.page).toBe('home');
    expect(routeOf('/enter')?.page).toBe('enter');
    expect(routeOf('/taught')).toMatchObject({ page: 'taught', recordId: null });
    expect(routeOf('/glossary')).toMatchObject({ page: 'glossary', recordId: null });
  });

  it('carry ids with any characters', () => {
    const address = songAddress('a/b', 'ü?#', 'listen', { v: 'x&y' });
    expect(routeOf(new URL(address, 'http://local').pathname)).toMatchObject({
      recordId: 'a/b',
      songId: 'ü?#',
    });
    expect(new URL(address, 'http://local').searchParams.get('v')).toBe('x&y');
  });

  it('are nothing where they name nothing', () => {
    for (const path of ['/r', '/r/x/nothing', '/r/x/s', '/r/x/s/y/nothing', '/r/x/s/y/queue/z', '/elsewhere'])
      expect(routeOf(path)).toBeNull();
  });
});
