/** The pages, each named as its folder in `features`. */
export type PageName =
  | 'home'
  | 'enter'
  | 'glossary'
  | 'new-record'
  | 'record'
  | 'set-up'
  | 'ledger'
  | 'taught'
  | 'listen'
  | 'sections'
  | 'queue'
  | 'scope'
  | 'sign-off'
  | 'changed'
  | 'figures'
  | 'post-version'
  | 'stems'
  | 'certificate';

/** One address, read: the page and what it is about. */
export interface Route {
  page: PageName;
  recordId: string | null;
  songId: string | null;
  gate: string | null;
}

const recordPages: readonly string[] = ['set-up', 'ledger', 'taught'];
const songPages: readonly string[] = [
  'sections',
  'queue',
  'scope',
  'sign-off',
  'changed',
  'figures',
  'post-version',
  'stems',
];

/** Reads a path; `null` for one that names no page. */
export function routeOf(path: string): Route | null {
  const pieces = path.split('/').filter(Boolean).map(decodeURIComponent);
  const [first, recordId, second, songId, third, fourth] = pieces;
  const route = (page: string, gate: string | null = null): Route => ({
    page: page as PageName,
    recordId: recordId ?? null,
    songId: songId ?? null,
    gate,
  });
  if (pieces.length === 0) return route('home');
  if (pieces.length === 1 && first === 'enter') return route('enter');
  if (pieces.length === 1 && first === 'glossary') return route('glossary');
  if (pieces.length === 1 && first === 'taught') return { ...route('taught'), recordId: null };
  if (pieces.length === 1 && first === 'new') return { ...route('new-record'), recordId: null };
  if (first !== 'r' || !recordId) return null;
  if (pieces.length === 2) return route('record');
  if (pieces.length === 3 && recordPages.includes(second!)) return route(second!);
  if (second !== 's' || !songId) return null;
  if (pieces.length === 4) return route('listen');
  if (pieces.length === 5 && songPages.includes(third!)) return route(third!);
  if (pieces.length === 6 && third === 'certificate') return route('certificate', fourth!);
  return null;
}

/** The address of a record's page. */
export function recordAddress(
  recordId: string,
  page: 'record' | 'set-up' | 'ledger' | 'taught' = 'record',
): string {
  const at = `/r/${encodeURIComponent(recordId)}`;
  return page === 'record' ? at : `${at}/${page}`;
}

/** The address of a song's page. */
export function songAddress(
  recordId: string,
  songId: string,
  page: Exclude<
    PageName,
    'home' | 'enter' | 'glossary' | 'new-record' | 'record' | 'set-up' | 'ledger' | 'taught' | 'certificate'
  > = 'listen',
  query: Record<string, string> = {},
): string {
  const at = `/r/${encodeURIComponent(recordId)}/s/${encodeURIComponent(songId)}`;
  const search = new URLSearchParams(query).toString();
  return `${page === 'listen' ? at : `${at}/${page}`}${search ? `?${search}` : ''}`;
}
