import type { Context } from 'hono';
import type { AnalysisInput } from '../storage/analysis-store.ts';
import { problem } from './problem.ts';
import type { Services } from './services.ts';

/** What is answered where an analysis failed. */
export const notMeasured = (context: Context, why: string | null) =>
  problem(context, 'not_measured', why ?? 'This could not be measured. The file is safe and plays.');

/** A finished result as it was stored, or how far it has come; what nobody asked for yet is queued. */
export async function answerAnalysis(
  services: Services,
  context: Context,
  input: AnalysisInput,
): Promise<Response> {
  const stored = await services.analyst.result(input);
  if (stored) return context.body(stored, 200, { 'content-type': 'application/json' });
  const [state] = [...(await services.analyst.states([input])).values()];
  if (state?.state === 'failed') return notMeasured(context, state.message);
  if (!state) await services.analyst.queue(input);
  return context.json({ state: state?.state ?? 'waiting', progress: state?.progress ?? 0 }, 202);
}

/** Has what failed run again, and what nobody asked for yet run; what waits, runs or is there is left as it is. */
export async function answerAgain(
  services: Services,
  context: Context,
  input: AnalysisInput,
): Promise<Response> {
  const [state] = [...(await services.analyst.states([input])).values()];
  if (!state || state.state === 'failed') await services.analyst.queue(input, state !== undefined);
  return context.json({ state: 'waiting', progress: 0 }, 202);
}
