const words = [
  'no',
  'one',
  'two',
  'three',
  'four',
  'five',
  'six',
  'seven',
  'eight',
  'nine',
  'ten',
  'eleven',
  'twelve',
];

/** A count as one writes it in a sentence: words up to twelve, figures from there. */
export function numberWord(count: number): string {
  return words[count] ?? String(count);
}

/** A count with its noun: `three requests`, `one request`. */
export function countWords(count: number, noun: string, plural = `${noun}s`): string {
  return `${numberWord(count)} ${count === 1 ? noun : plural}`;
}

/** The first letter of a sentence set large. */
export function asSentence(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A list as one says it: `Ines, Jon and the label`. */
export function listWords(items: readonly string[]): string {
  return items.length < 2 ? (items[0] ?? '') : `${items.slice(0, -1).join(', ')} and ${items.at(-1)}`;
}
