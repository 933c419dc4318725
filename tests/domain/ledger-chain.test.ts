import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { canonicalJson, sameValue } from '../../server/domain/canonical-json.ts';
import { chainStart, entryHash, verifyChain } from '../../server/domain/ledger-chain.ts';
import type { LedgerEntry } from '../../server/domain/ledger-entry.ts';
import { storyAt } from './worked-story.ts';

/**
 * Proves that a ledger is verified from its own bytes: equal values give equal bytes (RFC 8785), the chain is the
 * SHA-256 that its definition says, and whatever is changed, taken out, moved or cut off is named.
 */
describe('canonical JSON', () => {
  it('orders keys by their UTF-16 code units', () => {
    // RFC 8785, section 3.2.3, the example of sorting and its expected order.
    const sorted = canonicalJson({
      '\u20ac': 'Euro Sign',
      '\r': 'Carriage Return',
      '\ufb33': 'Hebrew Letter Dalet With Dagesh',
      '1': 'One',
      '\ud83d\ude00': 'Emoji: Grinning Face',
      '\u0080': 'Control',
      '\u00f6': 'Latin Small Letter O With Diaeresis',
    });
    expect([...sorted.matchAll(/:"([^"]*)"/g)].map(([, value]) => value)).toEqual([
      'Carriage Return',
      'One',
      'Control',
      'Latin Small Letter O With Diaeresis',
      'Euro Sign',
      'Emoji: Grinning Face',
      'Hebrew Letter Dalet With Dagesh',
    ]);
  });

  it('writes numbers, strings and literals in one way', () => {
    // RFC 8785, section 3.2.2, the sample and what it becomes in section 3.2.3.
    const sample = JSON.parse(
      String.raw`{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}`,
    );
    expect(canonicalJson(sample)).toBe(
      String.raw`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
    );
  });

  it('has no word for a number that is none', () => {
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY])
      expect(() => canonicalJson({ hours: [value] })).toThrow(RangeError);
  });

  it('tells values apart, and not the order of their keys', () => {
    expect(sameValue({ a: 1, b: [1, 2] }, { b: [1, 2], a: 1 })).toBe(true);
    expect(sameValue({ a: 1, b: [1, 2] }, { a: 1, b: [2, 1] })).toBe(false);
    expect(sameValue({ a: null }, {})).toBe(false);
    expect(sameValue({ a: undefined }, {})).toBe(true);
  });
});

describe('the chain', () => {
  const { entries } = storyAt(16);
  const head = entries.at(-1)?.hash ?? '';
  const verdict = (changed: readonly LedgerEntry[], expectedHead?: string) =>
    verifyChain(changed, expectedHead);

  it('hashes what its definition says: the hash before, a line feed, and the entry', () => {
    const entry = {
      sequence: 1,
      at: '2026-01-05T09:00:00.000Z',
      by: 'ana',
      fact: { type: 'songAdded', song: 's', title: 'Ö' } as const,
    };
    const bytes = `${'0'.repeat(64)}\n{"at":"2026-01-05T09:00:00.000Z","by":"ana","fact":{"song":"s","title":"Ö","type":"songAdded"},"sequence":1}`;
    expect(entryHash(chainStart, entry)).toBe(createHash('sha256').update(bytes, 'utf8').digest('hex'));
  });

  it('is whole as it was written, and ends at its head', () => {
    expect(verdict(entries, head)).toEqual({ whole: true, entries: entries.length, head });
    expect(verdict([])).toEqual({ whole: true, entries: 0, head: chainStart });
  });

  it('names the entry of which any one character was changed', () => {
    for (const [index, entry] of entries.entries()) {
      const text = JSON.stringify(entry);
      // Every seventh character of every entry, so that over the story each kind of place is met.
      for (let place = index % 7; place < text.length; place += 7) {
        const other = /[0-9]/.test(text[place] ?? '') ? (text[place] === '1' ? '2' : '1') : 'e';
        if (text[place] === other) continue;
        let damaged: LedgerEntry;
        try {
          damaged = JSON.parse(`${text.slice(0, place)}${other}${text.slice(place + 1)}`);
        } catch {
          continue; // No JSON any more: whoever reads the entry has met the damage already.
        }
        expect(verdict(entries.with(index, damaged))).toMatchObject({ whole: false, sequence: index + 1 });
      }
    }
  });

  it('names the place of an entry that was taken out, put in twice or moved', () => {
    expect(verdict(entries.toSpliced(7, 1))).toEqual({
      whole: false,
      sequence: 8,
      fault: 'entry 8 is missing: entry 9 follows',
    });
    const twice = entries[7];
    if (!twice) throw new Error('The story has more than seven entries.');
    expect(verdict(entries.toSpliced(8, 0, twice))).toMatchObject({ whole: false, sequence: 9 });
    const moved = entries.toSpliced(7, 1).toSpliced(9, 0, twice);
    expect(verdict(moved)).toMatchObject({ whole: false, sequence: 8 });
  });

  it('names an entry that was taken out and the rest numbered anew', () => {
    const renumbered = entries.toSpliced(7, 1).map((entry, index) => ({ ...entry, sequence: index + 1 }));
    expect(verdict(renumbered)).toMatchObject({ whole: false, sequence: 8 });
  });

  it('shows a tail that was cut or replaced against a head that was kept elsewhere', () => {
    const cut = entries.slice(0, -3);
    expect(verdict(cut)).toMatchObject({ whole: true, entries: entries.length - 3 });
    expect(verdict(cut, head)).toMatchObject({ whole: false, sequence: entries.length - 3 });
    expect(verdict(entries, entries[20]?.hash)).toMatchObject({ whole: true });
    const last = entries.at(-1);
    if (!last) throw new Error('The story has entries.');
    const forged = { ...last, by: 'manager' };
    const replaced = [...entries.slice(0, -1), { ...forged, hash: entryHash(last.previousHash, forged) }];
    expect(verdict(replaced)).toMatchObject({ whole: true });
    expect(verdict(replaced, head)).toMatchObject({ whole: false });
  });
});
