import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import type { SectionSpan } from '../measurement/measurement.ts';

/** `[{ "name", "start", "end" }]`, in seconds. */
const sectionFile = z.array(
  z
    .object({ name: z.string(), start: z.number().nonnegative(), end: z.number() })
    .refine(({ start, end }) => end > start, 'a section must end after it starts'),
);

/**
 * Reads a file of sections for the command line.
 *
 * @throws Error with one line on what is wrong in the file
 */
export async function readSectionFile(path: string): Promise<SectionSpan[]> {
  const text = await readFile(path, 'utf8').catch(() => {
    throw new Error(`The sections file ${path} can't be read.`);
  });
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch {
    throw new Error(`The sections file ${path} holds no JSON.`);
  }
  const parsed = sectionFile.safeParse(content);
  if (parsed.success) return parsed.data;
  const [issue] = parsed.error.issues;
  const place = issue?.path.length ? ` at ${issue.path.join('.')}` : '';
  throw new Error(
    `The sections file ${path} must be [{ "name", "start", "end" }] in seconds: ${issue?.message}${place}.`,
  );
}
