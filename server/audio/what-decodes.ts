/**
 * What a decoder makes of some bytes, or `null` where it broke on them. The decoders write every fault to the console
 * as well as returning it, which would fill the log with one damaged file: the console is held for as long as the
 * synchronous part of the work takes.
 */
export function whatDecodes<Decoded>(work: () => Promise<Decoded>): Promise<Decoded | null>;
export function whatDecodes<Decoded>(work: () => Decoded): Decoded | null;
export function whatDecodes<Decoded>(
  work: () => Decoded | Promise<Decoded>,
): Decoded | Promise<Decoded | null> | null {
  const { error } = console;
  console.error = () => {};
  try {
    const decoded = work();
    return decoded instanceof Promise ? decoded.catch(() => null) : decoded;
  } catch {
    return null;
  } finally {
    console.error = error;
  }
}
