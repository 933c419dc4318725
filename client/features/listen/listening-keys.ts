const seekSeconds = 5;

/** What the keys of the listening page do. */
export interface ListeningDeeds {
  togglePlay: () => void;
  seekBy: (seconds: number) => void;
  hear: (what: 'newer' | 'older' | 'change') => void;
  markStart: () => void;
  markEnd: () => void;
  toggleLoop: () => void;
  write: () => void;
  stepLine: (direction: 1 | -1) => void;
  zoom: (by: 1 | -1) => void;
  clearPlace: () => void;
  showKeys: () => void;
}

/** The deed of a key, or `null`; nothing is taken from a field that is written in, from a dialog or from the browser. */
export function deedOfKey(event: KeyboardEvent, deeds: ListeningDeeds): (() => void) | null {
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return null;
  if (document.querySelector('dialog[open]')) return null;
  const target = event.target as HTMLElement;
  if (target.closest('input, textarea, select, [contenteditable]')) return null;
  if (event.key === ' ' && target.closest('button, a, summary')) return null;
  const by = event.shiftKey ? 1 : seekSeconds;
  const byKey: Record<string, () => void> = {
    ' ': deeds.togglePlay,
    ArrowLeft: () => deeds.seekBy(-by),
    ArrowRight: () => deeds.seekBy(by),
    a: () => deeds.hear('newer'),
    b: () => deeds.hear('older'),
    c: () => deeds.hear('change'),
    i: deeds.markStart,
    o: deeds.markEnd,
    l: deeds.toggleLoop,
    n: deeds.write,
    '[': () => deeds.stepLine(-1),
    ']': () => deeds.stepLine(1),
    '+': () => deeds.zoom(-1),
    '-': () => deeds.zoom(1),
    Escape: deeds.clearPlace,
    '?': deeds.showKeys,
  };
  return byKey[event.key] ?? null;
}
