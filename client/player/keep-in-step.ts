/** What to do with the silent version so that it runs in step with the one that is heard. */
export type StepCorrection = { seek: true } | { seek: false; playbackRate: number };

/** Beyond this the silent one jumps; below it, it hurries or lags until it is in step. */
const jumpSeconds = 0.2;
/** Within this the two are in step: a tenth of the shortest echo that ears tell apart is far below it. */
const inStepSeconds = 0.004;
/** A drift is made up for in about this time. */
const catchUpSeconds = 0.6;
const mostRateChange = 0.25;

/**
 * @param driftSeconds How far the silent version is ahead of where it should be.
 */
export function keepInStep(driftSeconds: number): StepCorrection {
  const drift = Math.abs(driftSeconds);
  if (drift > jumpSeconds) return { seek: true };
  if (drift <= inStepSeconds) return { seek: false, playbackRate: 1 };
  const change = Math.min(mostRateChange, drift / catchUpSeconds);
  return { seek: false, playbackRate: 1 - Math.sign(driftSeconds) * change };
}
