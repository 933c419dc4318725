import { setTimeout as pause } from 'node:timers/promises';

const longestMilliseconds = 120_000;

/** Asks again and again until it is so. @throws Error, with `what` was waited for, where that takes over two minutes */
export async function until(what: string, isSo: () => Promise<boolean> | boolean): Promise<void> {
  const start = performance.now();
  while (!(await isSo())) {
    if (performance.now() - start > longestMilliseconds) throw new Error(`Waited in vain: ${what}.`);
    await pause(50);
  }
}
