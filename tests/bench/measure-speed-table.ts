/** A Markdown table whose columns also stand under each other as plain text: words to the left, numbers to the right. */
export function alignedTable(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = head.map((name, column) => Math.max(name.length, ...rows.map((row) => row[column]!.length)));
  const line = (cells: readonly string[]) =>
    `| ${cells.map((cell, column) => (column === 0 ? cell.padEnd(widths[column]!) : cell.padStart(widths[column]!))).join(' | ')} |`;
  const rule = widths.map((width, column) =>
    column === 0 ? '-'.repeat(width) : `${'-'.repeat(width - 1)}:`,
  );
  return [line(head), line(rule), ...rows.map(line)].join('\n');
}
