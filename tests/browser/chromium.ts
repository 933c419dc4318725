import { existsSync } from 'node:fs';
import { type Browser, chromium } from 'playwright-core';

const places = [
  process.env.CHROMIUM,
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/usr/bin/google-chrome-stable',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  'C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe',
];

/**
 * A real Chromium or Chrome of this machine, without a window.
 * @throws Error that says in one line what to install, where there is none.
 */
export async function launchChromium(): Promise<Browser> {
  const executablePath = places.find((place) => place && existsSync(place));
  if (!executablePath)
    throw new Error('No Chromium found. Install it (apt-get install chromium), or set CHROMIUM to its path.');
  return chromium.launch({
    executablePath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      '--autoplay-policy=no-user-gesture-required',
    ],
  });
}
