import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';

const folder = mkdtempSync(join(tmpdir(), 'sort-'));
afterAll(() => rmSync(folder, { recursive: true }));

function countoff(args: string[], input: string) {
  const { status, stdout, stderr } = spawnSync(
    process.execPath,
    ['--import', 'tsx', 'server/countoff.ts', ...args],
    {
      input,
      encoding: 'utf8',
    },
  );
  return {
    status,
    stderr,
    lines: stdout
      .split('\n')
      .filter(Boolean)
      .map((line) => JSON.parse(line)),
  };
}

// Proves the interface that notes are sorted and compared by from outside.
describe('countoff sort', () => {
  it('prints one line a note, always with its parts', () => {
    const { status, lines } = countoff(
      ['sort'],
      '{"id":"a","text":"vocal up in chorus 1, and add a shaker in verse 2"}\n\n{"id":7,"text":""}\n',
    );
    expect(status).toBe(0);
    expect(lines[0]).toMatchObject({
      id: 'a',
      level: 'production',
      kind: 'new-part',
      target: 'shaker',
      direction: 'add',
      place: 'verse 2',
      parts: [
        {
          text: 'vocal up in chorus 1',
          level: 'mix',
          kind: 'balance',
          target: 'lead vocal',
          direction: 'up',
          place: 'chorus 1',
        },
        {
          text: 'add a shaker in verse 2',
          level: 'production',
          kind: 'new-part',
          target: 'shaker',
          direction: 'add',
          place: 'verse 2',
        },
      ],
    });
    expect(lines[1]).toMatchObject({
      id: 7,
      level: 'none',
      parts: [{ level: 'none' }],
      question: null,
      clarification: null,
    });
    const asked = countoff(
      ['sort'],
      '{"id":1,"text":"kick up 2 dB. maybe some shaker in the last chorus"}\n',
    );
    const words = 'Is there a shaker in the recording already?';
    expect(asked.lines[0]).toMatchObject({
      question: words,
      clarification: { words, part: 'shaker', requestIndex: 1 },
    });
  });
  it('goes by a scope sheet, and names its faults', () => {
    const sheet = join(folder, 'sheet.json');
    const note = '{"id":1,"text":"tune the last note of the vocal"}';
    writeFileSync(sheet, '{"tuning":"mix"}');
    expect(countoff(['sort', '--scope', sheet], note).lines[0]).toMatchObject({
      level: 'mix',
      kind: 'tuning',
    });
    for (const [fault, words] of [
      ['[]', 'object'],
      ['{"tunning":"mix"}', 'tunning'],
      ['{"tuning":"blend"}', 'no level'],
      ['nope', 'not JSON'],
    ] as const) {
      writeFileSync(sheet, fault);
      const { status, stderr } = countoff(['sort', '--scope', sheet], note);
      expect(status).toBe(2);
      expect(stderr).toContain(words);
    }
  });
  it('names a bad line and sorts the others', () => {
    const { status, stderr, lines } = countoff(['sort'], 'nope\n{"id":1}\n{"id":2,"text":"kick up"}\n');
    expect(status).toBe(1);
    expect(stderr).toContain('line 1');
    expect(stderr).toContain('line 2');
    expect(lines).toHaveLength(1);
  });
});

describe('countoff contradictions', () => {
  it('prints one verdict a pair', () => {
    const { status, lines } = countoff(
      ['contradictions'],
      '{"id":"p","a":{"text":"vocal up","start":0,"end":9},"b":{"text":"vocal down","start":5,"end":12}}\n{"id":"q","a":{"text":"vocal up","start":0,"end":5},"b":{"text":"vocal down","start":5,"end":12}}\n',
    );
    expect(status).toBe(0);
    expect(lines).toEqual([
      { id: 'p', conflict: true, why: expect.stringContaining('vocal down') },
      { id: 'q', conflict: false, why: expect.any(String) },
    ]);
  });
  it('names a bad line and goes on', () => {
    const { status, stderr } = countoff(['contradictions'], '{"id":1,"a":{"text":"vocal up"}}\n');
    expect(status).toBe(1);
    expect(stderr).toContain('line 1');
  });
});
