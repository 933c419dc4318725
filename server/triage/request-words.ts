import { requestKinds, talkKinds } from '../domain/request-kind.ts';
import { featuresOf, kindPrior, loudestKind, type Span, within } from './features.ts';
import type { Reading } from './reading.ts';

const talkative: ReadonlySet<string> = new Set(['praise', 'chat', 'question']);

/** Leaves out greeting, praise and protection at the edges of a request's stretch, and the joining word before it. */
export function trimmed(reading: Reading, span: Span): Span {
  const clauses = reading.clauses.filter((clause) => within(span, clause));
  const wish = clauses.map((clause) => {
    const { kind, strength } = loudestKind(featuresOf(reading, clause, false));
    return strength > 0.9 && !talkative.has(kind);
  });
  const first = wish.indexOf(true);
  if (first < 0) return withoutJoin(reading, span);
  const last = wish.lastIndexOf(true);
  let end = last;
  while (end + 1 < clauses.length) {
    const following = clauses[end + 1]!;
    const { kind, strength } = loudestKind(featuresOf(reading, following, false));
    const named = reading.targets.some((hit) => within(following, hit) && !hit.implied);
    if (
      (strength > 0.4 && talkative.has(kind)) ||
      following.joint === 'line' ||
      (following.joint === 'sentence' && !named)
    )
      break;
    end++;
  }
  let begin = first;
  // A clause that only names what the next one asks for belongs to it: “the drums, turn them up”.
  while (begin > 0) {
    const leading = clauses[begin - 1]!;
    const named = reading.targets.some((hit) => within(leading, hit) && !hit.implied);
    const { kind, strength } = loudestKind(featuresOf(reading, leading, false));
    if (!named || (strength > 0.9 && talkative.has(kind))) break;
    begin--;
  }
  return withoutJoin(reading, { from: clauses[begin]!.from, to: clauses[end]!.to });
}

export function withoutJoin(reading: Reading, span: Span): Span {
  let from = span.from;
  while (from < span.to - 1 && reading.lexicon.grammar.conjunction!.has(reading.words[from]!.form)) from++;
  let to = span.to;
  while (to > from + 1 && reading.words[to - 1]!.form === '?') to--;
  return { from, to };
}

/** Letters shorter than this are sorted whole. */
const shortestLetterWords = 22;

const talkIndexes = talkKinds.map((kind) => requestKinds.indexOf(kind));

/**
 * The sentences of a long note that hold its wish, from the first to the last of them; a short note, and one that takes
 * something back or puts it on hold, whole. In a letter the thanks are longer than the wish.
 */
export function coreOf(reading: Reading, span: Span): Span {
  if (span.to - span.from < shortestLetterWords) return span;
  if (reading.cues.some((cue) => within(span, cue) && /^(?:retract|on-hold)$/u.test(cue.concept.name)))
    return span;
  const sentences: Span[] = [];
  for (const clause of reading.clauses) {
    if (!within(span, clause)) continue;
    const last = sentences[sentences.length - 1];
    if (last && clause.joint !== 'sentence' && clause.joint !== 'line') last.to = clause.to;
    else sentences.push({ from: clause.from, to: clause.to });
  }
  if (sentences.length < 2) return span;
  const scores = sentences.map((sentence) => {
    const features = featuresOf(reading, sentence, false);
    const prior = kindPrior(features);
    const talk = Math.max(...talkIndexes.map((index) => prior[index]!));
    const wish = Math.max(...prior.filter((_, index) => !talkIndexes.includes(index)));
    const asks = ['c:want', 'c:ask', 'c:please'].some((name) => features.has(name)) ? 1 : 0;
    const complains = features.has('complaint:+') || features.has('complaint:-') ? 0.7 : 0;
    return wish < 0.9 ? 0 : wish + asks + complains - 0.6 * talk;
  });
  const best = Math.max(...scores);
  if (best < 1.5) return span;
  const kept = scores.map((score) => score >= Math.max(1.2, best * 0.5));
  return { from: sentences[kept.indexOf(true)]!.from, to: sentences[kept.lastIndexOf(true)]!.to };
}
