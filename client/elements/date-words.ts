const short = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short' });
const withYear = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric' });
const withWeekday = new Intl.DateTimeFormat('en-GB', { weekday: 'short', day: 'numeric', month: 'long' });
const clock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit' });

const dayOf = (date: Date) => new Date(date.getFullYear(), date.getMonth(), date.getDate()).getTime();

/** A date as one says it: `today`, `yesterday`, `23 Feb`, with the year when it is another one. */
export function dayWords(iso: string, now: Date = new Date()): string {
  const date = new Date(iso);
  const days = Math.round((dayOf(now) - dayOf(date)) / 86_400_000);
  if (days === 0) return 'today';
  if (days === 1) return 'yesterday';
  return (date.getFullYear() === now.getFullYear() ? short : withYear).format(date);
}

/** A day to come, with its weekday: `Fri 12 March`. */
export function dueWords(iso: string): string {
  return withWeekday.format(new Date(iso)).replace(',', '');
}

/** Day and time: `23 Feb, 14:05`. */
export function momentWords(iso: string, now: Date = new Date()): string {
  return `${dayWords(iso, now)}, ${clock.format(new Date(iso))}`;
}
