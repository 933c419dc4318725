import { compareTexts, type PlacedText } from '../triage/text-comparison.ts';
import type { Command } from './command.ts';
import { objectLines } from './line-input.ts';

/** `countoff contradictions < pairs.jsonl`: whether two people's notes on one song can both be done. */
export const contradictions: Command = {
  name: 'contradictions',
  summary: '< pairs.jsonl: whether two notes on one song can both be done',
  async run() {
    let bad = 0;
    const onBadLine = (message: string) => {
      bad++;
      console.error(`countoff contradictions: ${message}`);
    };
    for await (const { number, value } of objectLines(process.stdin, onBadLine)) {
      const [a, b] = [placedText(value.a), placedText(value.b)];
      if (!a || !b) {
        onBadLine(`line ${number} needs a and b, each with text, start and end.`);
        continue;
      }
      const { conflict, why } = compareTexts(a, b);
      console.log(JSON.stringify({ id: value.id ?? null, conflict, why }));
    }
    return bad > 0 ? 1 : 0;
  },
};

/** A note with its stretch of the song in seconds; without one it is about the whole song. */
function placedText(value: unknown): PlacedText | null {
  if (typeof value !== 'object' || value === null) return null;
  const { text, start, end, who } = value as Record<string, unknown>;
  if (typeof text !== 'string') return null;
  return {
    text,
    start: typeof start === 'number' ? start : 0,
    end: typeof end === 'number' ? end : Number.MAX_SAFE_INTEGER,
    who: typeof who === 'string' ? who : null,
  };
}
