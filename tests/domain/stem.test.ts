import { describe, expect, it } from 'vitest';
import { ledgerWords } from '../../server/application/ledger-words.ts';
import type { CommandOf } from '../../server/domain/command.ts';
import { type Stem, type StemRole, stemsOf } from '../../server/domain/stem.ts';
import type { VersionFile } from '../../server/domain/version.ts';
import { fileOf, type RecordUnderTest } from './record-under-test.ts';
import { storyAt, storySong } from './worked-story.ts';

/**
 * Proves who may attach stems to a version and which stems, that another set replaces one with a reason while the ledger
 * keeps both, and that what has a stem stands on the song's list of parts.
 */
const song = storySong;
const stem = (name: string, more: Partial<VersionFile> = {}, role: StemRole = 'part'): Stem => ({
  name,
  role,
  file: { ...fileOf(name), ...more },
});
const attach = (stems: Stem[], reason = '', versionId = 'mix-1'): CommandOf<'attachStems'> => ({
  type: 'attachStems',
  song,
  versionId,
  stems,
  reason,
});
/** Mix v1 is posted. */
const given = (): RecordUnderTest => storyAt(2);
const codeOf = (record: RecordUnderTest, by: string, command: CommandOf<'attachStems'>) => {
  const decision = record.decide(by, command);
  return decision.ok || decision.refusal.code;
};

describe('stems of a version', () => {
  it('are attached by whoever may post at its gate, and by nobody of the client’s', () => {
    const record = given();
    expect(codeOf(record, 'mixer', attach([stem('bass')]))).toBe(true);
    for (const by of ['artist', 'drummer', 'label', 'manager', 'producer', 'masterer'])
      expect([by, codeOf(record, by, attach([stem('bass')]))]).toEqual([by, 'not_entitled']);
    expect(codeOf(record, 'producer', attach([stem('bass')], '', 'rough-1'))).toBe(true);
    expect(codeOf(record, 'mixer', attach([stem('bass')], '', 'mix-9'))).toBe('version_unknown');
  });

  it('have names of their own, the rate of the print and its length within half a second', () => {
    const record = given();
    const code = (...stems: Stem[]) => codeOf(record, 'mixer', attach(stems));
    expect(code()).toBe('malformed');
    expect(code(stem(' '))).toBe('malformed');
    expect(code(stem('x'.repeat(61)))).toBe('malformed');
    expect(code(stem('bass'), { ...stem('other'), name: ' Bass' })).toBe('stem_repeated');
    expect(code(stem('bass'), { ...stem('bass'), name: 'sub' })).toBe('stem_repeated');
    expect(code(stem('bass', { sampleRateHz: 44_100 }))).toBe('stem_rate_differs');
    // The story's versions last 210 s.
    expect(code(stem('bass', { durationSeconds: 209.4 }))).toBe('stem_length_differs');
    expect(code(stem('bass', { durationSeconds: 210.4 }), stem('drums'))).toBe(true);
    expect(code(...Array.from({ length: 64 }, (_, index) => stem(`stem ${index}`)))).toBe(true);
    expect(code(...Array.from({ length: 65 }, (_, index) => stem(`stem ${index}`)))).toBe('stems_too_many');
  });

  it('are attached once, and replaced with a reason; the record keeps both sets', () => {
    const record = given();
    const first = attach([stem('bass'), stem('drums')]);
    record.done('mixer', first);
    expect(record.done('mixer', first)).toEqual([]);
    const second = [stem('bass'), stem('drums, printed again')];
    expect(codeOf(record, 'mixer', attach(second, ' '))).toBe('reason_missing');
    record.done('mixer', attach(second, 'the drum bus was muted'));
    expect(record.song(song).attachedStems).toMatchObject([
      { reason: '', by: 'mixer', stems: [{ name: 'bass' }, { name: 'drums' }] },
      { reason: 'the drum bus was muted', stems: [{ name: 'bass' }, { name: 'drums, printed again' }] },
    ]);
    expect(stemsOf(record.song(song), 'mix-1')?.stems).toEqual(second);
    expect(stemsOf(record.song(song), 'rough-1')).toBeNull();
    const replaced = record.entries.findLast(({ fact }) => fact.type === 'stemsAttached')!;
    expect(ledgerWords(record.record, replaced)).toBe(
      'replaced the stems of Mix v1: bass, drums, printed again (the drum bus was muted) · Lanterns',
    );
  });

  it('put their names on the list of parts; alternates of the whole song do not', () => {
    const record = given();
    record.done('mixer', {
      type: 'nameParts',
      song,
      parts: [
        { name: 'Lead vocal', delivered: true },
        { name: 'shaker', delivered: false },
      ],
    });
    const stems = [
      stem('lead vocal'),
      stem('Shaker'),
      stem('strings'),
      stem('everything but the voice', {}, 'instrumental'),
    ];
    expect(record.done('mixer', attach(stems))).toEqual(['stemsAttached', 'partsNamed']);
    expect(record.song(song).parts).toEqual([
      { name: 'Lead vocal', delivered: true },
      // Somebody had said that there is none: there is.
      { name: 'shaker', delivered: true },
      { name: 'strings', delivered: true },
    ]);
    expect(record.done('mixer', attach(stems.slice(0, 2), 'the strings are in the pad'))).toEqual([
      'stemsAttached',
    ]);
  });
});
