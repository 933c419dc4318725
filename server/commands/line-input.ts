import { createInterface } from 'node:readline';

/**
 * The JSON objects of standard input, one a line; empty lines are passed over. A line that is no JSON object is named on
 * standard error by its number and left out, so that one bad line costs no other.
 */
export async function* objectLines(
  input: NodeJS.ReadableStream,
  onBadLine: (message: string) => void,
): AsyncGenerator<{ number: number; value: Record<string, unknown> }> {
  let number = 0;
  for await (const line of createInterface({ input, crlfDelay: Number.POSITIVE_INFINITY })) {
    number++;
    const text = number === 1 ? line.replace(/^\ufeff/u, '') : line;
    if (!text.trim()) continue;
    let value: unknown;
    try {
      value = JSON.parse(text);
    } catch {
      onBadLine(`line ${number} is not JSON.`);
      continue;
    }
    if (typeof value !== 'object' || value === null || Array.isArray(value)) {
      onBadLine(`line ${number} is not an object.`);
      continue;
    }
    yield { number, value: value as Record<string, unknown> };
  }
}
