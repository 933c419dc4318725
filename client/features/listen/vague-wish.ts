import type { Sorting } from '../../api/song-calls.ts';
import type { Part } from '../../api/types.ts';

/** Wishes that name a feeling and no sound (*common practice*: the words that engineers ask back about). */
const vague: readonly (readonly [RegExp, (match: RegExpExecArray) => string])[] = [
  [
    /\bmore (energy|life|vibe|excitement|punch|power|movement|depth|emotion|feeling|attitude|edge|impact|drive)\b/iu,
    (match) => `What should have more ${match[1]!.toLowerCase()}?`,
  ],
  [/\b(?:make it|should|needs? to|to) (?:really )?pop\b/iu, () => 'What should stand out more?'],
  [/\b(?:bigger|huge|massive)\b/iu, () => 'What should be bigger?'],
  [/\bneeds? something\b|\bsomething(?:['’]s| is)? missing\b/iu, () => 'What is missing, or where?'],
  [
    /\b(?:not|n['’]t) (?:quite )?feeling it\b|\bcould be better\b|\bnot there yet\b|\bboring\b/iu,
    () => 'What would you change first?',
  ],
];

/** Targets that are no part of the song. */
const nowhere: ReadonlySet<string> = new Set(['whole mix', 'whole song', 'pop noise']);

/** The one question back to a wish that names no part of the song; `null` where the words say what they are about. */
export function vagueQuestion(text: string, sorting: Sorting | null, parts: readonly Part[]): string | null {
  const [request, ...others] = sorting?.requests ?? [];
  if (!request || others.length || (request.target !== null && !nowhere.has(request.target))) return null;
  const said = text.toLowerCase();
  if (parts.some(({ name }) => said.includes(name.toLowerCase()))) return null;
  if (/\bwhole (?:song|mix|track)\b/u.test(said)) return null;
  for (const [pattern, question] of vague) {
    const match = pattern.exec(text);
    if (match) return question(match);
  }
  return null;
}

/** Whether a request asks for something at no place in the song, by its words or by where the note is pinned. */
export function lacksPlace(sorting: Sorting | null): boolean {
  return (
    sorting?.requests.some(
      ({ level, range, place }) =>
        (level === 'mix' || level === 'production') && range === null && place === null,
    ) ?? false
  );
}
