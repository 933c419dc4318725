import { readFile } from 'node:fs/promises';
import { parseArgs } from 'node:util';
import { type Level, levels, requestKinds } from '../domain/request-kind.ts';
import { defaultScopeSheet, type ScopeSheet } from '../domain/scope-sheet.ts';
import { sortNote } from '../triage/sort-note.ts';
import type { Command } from './command.ts';
import { objectLines } from './line-input.ts';

/** `countoff sort [--scope SHEET.json] < notes.jsonl`: each note's requests, one JSON object a line. */
export const sort: Command = {
  name: 'sort',
  summary: '[--scope SHEET.json] < notes.jsonl: what each note asks for, and at which level',
  async run(args) {
    const { values } = parseArgs({ args, options: { scope: { type: 'string' } } });
    const scopeSheet = values.scope === undefined ? defaultScopeSheet() : await readScopeSheet(values.scope);
    let bad = 0;
    const onBadLine = (message: string) => {
      bad++;
      console.error(`countoff sort: ${message}`);
    };
    for await (const { number, value } of objectLines(process.stdin, onBadLine)) {
      if (typeof value.text !== 'string') {
        onBadLine(`line ${number} has no text.`);
        continue;
      }
      const { level, kind, target, direction, place, confidence, requests, question, clarification } =
        sortNote(value.text, { scopeSheet });
      const parts = requests.map(({ text, level, kind, target, direction, place }) => ({
        text,
        level,
        kind,
        target,
        direction,
        place,
      }));
      console.log(
        JSON.stringify({
          id: value.id ?? null,
          level,
          kind,
          target,
          direction,
          place,
          confidence: Number(confidence.toFixed(3)),
          parts,
          question,
          clarification,
        }),
      );
    }
    return bad > 0 ? 1 : 0;
  },
};

/**
 * A contract's scope sheet from a file: an object from kinds to a level, or to `{ level, grey }`. Kinds that it leaves out
 * have the trade's level.
 */
export async function readScopeSheet(path: string): Promise<ScopeSheet> {
  const text = await readFile(path, 'utf8').catch(() => {
    throw new Error(`The scope sheet ${path} can't be read.`);
  });
  let given: unknown;
  try {
    given = JSON.parse(text);
  } catch {
    throw new Error(`The scope sheet ${path} is not JSON.`);
  }
  if (typeof given !== 'object' || given === null || Array.isArray(given))
    throw new Error(`The scope sheet ${path} must be an object from kinds of request to levels.`);
  const sheet = defaultScopeSheet();
  for (const [name, line] of Object.entries(given)) {
    const kind = requestKinds.find((known) => known === name);
    if (!kind) throw new Error(`The scope sheet ${path} names an unknown kind of request: "${name}".`);
    const { level, grey } = (typeof line === 'object' && line !== null ? line : { level: line }) as {
      level: unknown;
      grey?: unknown;
    };
    if (!levels.includes(level as Level))
      throw new Error(`The scope sheet ${path} gives "${name}" no level. Levels: ${levels.join(', ')}.`);
    sheet[kind] = {
      level: level as Level,
      grey: typeof grey === 'boolean' ? grey : sheet[kind].grey,
    };
  }
  return sheet;
}
