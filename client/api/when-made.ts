import { Refusal, wait } from './call.ts';

const retryMilliseconds = 700;

/**
 * Asks until what is made only when somebody asks has been made.
 *
 * @param onProgress hears how far it has come, 0 to 1.
 * @throws Refusal
 */
export async function whenMade<T>(
  ask: () => Promise<T>,
  signal: AbortSignal,
  onProgress: (progress: number) => void = () => {},
): Promise<T> {
  for (;;) {
    try {
      return await ask();
    } catch (error) {
      if (!(error instanceof Refusal && error.code === 'not_ready')) throw error;
      onProgress(error.progress);
    }
    await wait(retryMilliseconds);
    signal.throwIfAborted();
  }
}
