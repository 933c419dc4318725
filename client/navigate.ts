/** Goes to an address of the application without reload; the shell listens. */
export function navigate(address: string, { replace = false }: { replace?: boolean } = {}): void {
  if (replace) history.replaceState(null, '', address);
  else history.pushState(null, '', address);
  window.dispatchEvent(new Event('countoff:navigated'));
}
