import {
  type CueHit,
  findCues,
  findTargets,
  type Language,
  type Lexicon,
  languages,
  lexiconOf,
  spelled,
  type TargetHit,
} from './lexicon.ts';
import { ownWords, type Word, wordsOf } from './token.ts';

/** A note with everything that the lexicon finds in it. */
export interface Reading {
  /** As typed. */
  text: string;
  language: Language;
  lexicon: Lexicon;
  words: Word[];
  cues: CueHit[];
  targets: TargetHit[];
  clauses: Clause[];
}

/** A stretch of words between two places where a new wish may begin. */
export interface Clause {
  from: number;
  to: number;
  /** What stands before it. */
  joint: Joint;
}

export type Joint =
  | 'start' | 'line' | 'sentence' | 'comma' | 'dash' | 'colon' | 'and' | 'but' | 'also' | 'other' | 'beside'; // biome-ignore format: one list

/** The language whose common and trade words a note holds most of; `null` when it holds hardly any of one. */
export function languageOf(words: readonly Word[]): Language | null {
  const letters = words.filter((word) => /\p{L}/u.test(word.form) && !word.quotation);
  if (letters.length === 0) return null;
  let best: { language: Language; share: number } | null = null;
  for (const language of languages) {
    const lexicon = lexiconOf(language);
    let found = 0;
    for (const { form } of letters)
      if (lexicon.grammar.stop!.has(form)) found += 1;
      else if (lexicon.known.has(form)) found += 0.9;
    const share = found / letters.length;
    if (!best || share > best.share + 1e-9) best = { language, share };
  }
  return best && best.share >= 0.34 ? best.language : null;
}

function jointBefore(word: Word, lexicon: Lexicon): Joint | null {
  const { before, form } = word;
  if (/[\n•]/u.test(before)) return 'line';
  if (/[.!?…;]/u.test(before) || form === '?') return form === '?' ? null : 'sentence';
  const conjunction = lexicon.grammar.conjunction!.has(form) || /\s[+&]\s/u.test(before);
  if (conjunction || /\/\s|\s\//u.test(before))
    return lexicon.grammar.and?.has(form) || /\s[+&]\s/u.test(before)
      ? 'and'
      : lexicon.grammar.but?.has(form)
        ? 'but'
        : lexicon.grammar.also?.has(form)
          ? 'also'
          : 'other';
  if (/\s[-–]+\s|—/u.test(before)) return 'dash';
  if (/:\s/u.test(before)) return 'colon';
  if (/,/u.test(before)) return 'comma';
  return null;
}

const signed = new Set(['up', 'down', 'excess', 'lack', 'quality', 'inverse', 'add', 'remove']);

/** Splits at punctuation and joining words, and where two short wishes stand side by side: “hats down claps up”. */
function clausesOf(words: readonly Word[], lexicon: Lexicon, cues: CueHit[], targets: TargetHit[]): Clause[] {
  const clauses: Clause[] = [];
  let from = 0;
  let joint: Joint = 'start';
  const cueAt = new Map<number, CueHit>();
  for (const cue of cues) if (!cueAt.has(cue.from)) cueAt.set(cue.from, cue);
  // “Left and right”, “a decibel and a half”: what joins the words of a phrase joins no clauses.
  const joinsPhrase = new Set(cues.flatMap(({ at }) => at.slice(1)));
  const inside = new Set<number>();
  for (const cue of cues) for (let index = cue.from + 1; index < cue.to; index++) inside.add(index);
  for (const target of targets)
    for (let index = target.from + 1; index < target.to; index++) inside.add(index);
  const targetAt = new Map(targets.filter((hit) => !hit.implied).map((hit) => [hit.from, hit]));
  for (let index = 1; index < words.length; index++) {
    let next =
      words[index]!.quotation && words[index]!.quotation === words[index - 1]!.quotation
        ? null
        : joinsPhrase.has(index) && lexicon.grammar.conjunction!.has(words[index]!.form)
          ? null
          : jointBefore(words[index]!, lexicon);
    // A question mark is a word of its own, so that what stands before the next word doesn't show it.
    if (words[index - 1]!.form === '?' && words[index]!.form !== '?') next ??= 'sentence';
    if (!next && !inside.has(index)) {
      const wished =
        targets.some((hit) => !hit.implied && hit.from >= from && hit.to <= index) &&
        cues.some((cue) => signed.has(cue.concept.sense) && cue.from >= from && cue.to <= index);
      const previous = words[index - 1]!.form;
      const open = lexicon.grammar.stop!.has(previous) || lexicon.grammar.negation!.has(previous);
      if (wished && !open) {
        const target = targetAt.get(index);
        if (target) {
          const after = [...cueAt.values()].some(
            (cue) =>
              signed.has(cue.concept.sense) &&
              cue.from >= target.to &&
              cue.from <= target.to + 3 &&
              words.slice(target.to, cue.from + 1).every((word) => jointBefore(word, lexicon) === null),
          );
          const justSigned = cues.some((cue) => cue.to === index && signed.has(cue.concept.sense));
          if (after && justSigned) next = 'beside';
        } else if (
          lexicon.grammar.imperative!.has(words[index]!.form) ||
          /^(?:more|less)$/u.test(cueAt.get(index)?.concept.name ?? '')
        ) {
          const justTarget = targets.some((hit) => hit.to === index) || cues.some((cue) => cue.to === index);
          if (justTarget && !lexicon.grammar.request!.has(previous)) next = 'beside';
        }
      }
    }
    if (!next) continue;
    if (index > from) clauses.push({ from, to: index, joint });
    from = index;
    joint = next;
  }
  if (words.length > from) clauses.push({ from, to: words.length, joint });
  // A joining word that stands alone after a comma belongs to what it joins.
  return clauses.reduce<Clause[]>((kept, clause) => {
    const last = kept[kept.length - 1];
    if (last && last.to - last.from === 1 && lexicon.grammar.conjunction!.has(words[last.from]!.form))
      kept[kept.length - 1] = { from: last.from, to: clause.to, joint: last.joint };
    else kept.push(clause);
    return kept;
  }, []);
}

/** “A beat early”, “ahead of the kick”: what a phrase of timing measures by is not what it speaks of. */
const isMeasure = (hit: TargetHit, { concept, from, to }: CueHit): boolean =>
  (concept.kinds.timing ?? 0) >= 2 && hit.from > from && hit.to <= to;

/** Reads a note in a language; words that are slips of the thumb are read as what they were meant for. */
export function read(text: string, wanted: Language | null = null): Reading | null {
  const words = wordsOf(ownWords(text));
  const language = wanted ?? languageOf(words);
  if (!language) return null;
  const lexicon = lexiconOf(language);
  for (const word of words) word.form = spelled(word.form, lexicon);
  const cues = findCues(words, lexicon);
  const targets = findTargets(words, lexicon).filter((hit) => !cues.some((cue) => isMeasure(hit, cue)));
  return { text, language, lexicon, words, cues, targets, clauses: clausesOf(words, lexicon, cues, targets) };
}
