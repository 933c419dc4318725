/** A place in a song as people say it: `3:07`; cut, not rounded, as counters do. */
export function clockTime(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds + 1e-6));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}
