import { mkdir } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { launchChromium } from './chromium.ts';
import { startServerProcess } from './server-process.ts';

/** Takes the README's pictures of the demo record anew: `npx tsx tests/browser/pictures.ts`, after a build. */
const folder = resolve(import.meta.dirname, '../../fixtures/pictures');

interface Picture {
  name: string;
  by: string;
  page: string;
  viewport: { width: number; height: number };
  colorScheme: 'light' | 'dark';
  /** What is measured only once somebody looks, and is waited for. */
  told?: string;
}

const desk = { width: 1280, height: 860 };
const phone = { width: 390, height: 844 };
const pictures: Picture[] = [
  { name: 'listen', by: 'Ilse Varnholt', page: '/s/main', viewport: desk, colorScheme: 'light' },
  { name: 'listen-phone', by: 'Ilse Varnholt', page: '/s/main', viewport: phone, colorScheme: 'dark' },
  {
    name: 'changed',
    by: 'Owner',
    page: '/s/main/changed',
    viewport: desk,
    colorScheme: 'light',
    told: 'from the stems',
  },
  { name: 'queue', by: 'Owner', page: '/s/second/queue', viewport: desk, colorScheme: 'light' },
  { name: 'scope', by: 'Greta Lindqvale', page: '/s/second/scope', viewport: desk, colorScheme: 'light' },
  { name: 'sign-off', by: 'Ilse Varnholt', page: '/s/third/sign-off', viewport: desk, colorScheme: 'light' },
  { name: 'record', by: 'Nadja Orrell', page: '', viewport: desk, colorScheme: 'light' },
];

const [server, browser] = await Promise.all([startServerProcess(), launchChromium()]);
await mkdir(folder, { recursive: true });
for (const { name, by, page: address, viewport, colorScheme, told } of pictures) {
  const context = await browser.newContext({ viewport, colorScheme });
  const page = await context.newPage();
  await page.goto(server.linkOf(by));
  await page.waitForURL((url) => !url.pathname.startsWith('/enter'));
  const me = (await (await page.request.get(`${server.url}/api/me`)).json()) as { records: { id: string }[] };
  await page.goto(`${server.url}/r/${me.records[0]?.id}${address}`);
  await page.waitForLoadState('load');
  if (told) await page.getByText(told).first().waitFor({ timeout: 120_000 });
  await page.waitForTimeout(3500);
  await page.screenshot({ path: join(folder, `${name}.png`) });
  await context.close();
}
await browser.close();
await server.stop();
await server.remove();
