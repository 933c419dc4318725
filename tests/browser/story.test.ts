import { spawnSync } from 'node:child_process';
import { join, resolve } from 'node:path';
import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { launchChromium } from './chromium.ts';
import { type ServerProcess, startServerProcess } from './server-process.ts';

/**
 * Proves the job as people do it: four of them, each in a browser of their own, take the demo's main song from Mix v3
 * to a signed Mix v4, and the ledger holds all of it. Every page on the way is checked for accessibility, for scrolling
 * sideways, and in light and dark, on a phone's and a desk's width.
 */
const root = resolve(import.meta.dirname, '../..');
const phone = { width: 390, height: 844 };
const desk = { width: 1440, height: 900 };

let server: ServerProcess;
let browser: Browser;
let artist: Page;
let engineer: Page;
let producer: Page;
let label: Page;
let record: string;
const faults: string[] = [];

async function open(name: string, viewport: { width: number; height: number }): Promise<Page> {
  const context = await browser.newContext({ viewport, hasTouch: viewport === phone, colorScheme: 'light' });
  const page = await context.newPage();
  page.setDefaultTimeout(60_000);
  page.on('pageerror', (error) => faults.push(`${name}: ${error.message}`));
  page.on('console', (message) => {
    if (message.type() === 'error' && /Content Security Policy/.test(message.text()))
      faults.push(`${name}: ${message.text()}`);
  });
  await page.goto(server.linkOf(name));
  await page.waitForURL((url) => !url.pathname.startsWith('/enter'));
  return page;
}

const song = (page = '') => `${server.url}/r/${record}/s/main${page}`;

/** Accessibility, sideways scrolling and both colour schemes at both widths. */
async function soundPage(page: Page, name: string): Promise<void> {
  const before = page.viewportSize() ?? desk;
  for (const viewport of [phone, desk])
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.setViewportSize(viewport);
      await page.emulateMedia({ colorScheme, reducedMotion: 'reduce' });
      await page.waitForTimeout(150);
      const width = await page.evaluate('document.documentElement.scrollWidth');
      expect([name, viewport.width, width]).toEqual([name, viewport.width, viewport.width]);
      // What isn't a matter of colour is the same in both schemes.
      const axe = new AxeBuilder({ page });
      const { violations } = await (colorScheme === 'dark' ? axe.withRules('color-contrast') : axe).analyze();
      expect(
        violations.map(
          ({ id, nodes }) => `${name} ${viewport.width} ${colorScheme}: ${id} ${nodes[0]?.html}`,
        ),
      ).toEqual([]);
    }
  await page.setViewportSize(before);
  await page.emulateMedia({ colorScheme: 'light' });
}

beforeAll(async () => {
  [server, browser] = await Promise.all([startServerProcess(), launchChromium()]);
  artist = await open('Ilse Varnholt', phone);
  engineer = await open('Owner', desk);
  producer = await open('Greta Lindqvale', desk);
  label = await open('Nadja Orrell', desk);
  record = /\/r\/([^/]+)/.exec(artist.url())?.[1] ?? '';
}, 240_000);

afterAll(async () => {
  await browser?.close();
  await server?.stop();
  await server?.remove();
});

describe('four people and one song', () => {
  it('lets everybody in by a personal link whose secret leaves the address bar', async () => {
    for (const page of [artist, engineer, producer, label]) expect(page.url()).not.toContain('#');
    await artist.goBack().catch(() => null);
    expect(artist.url()).not.toContain('#');
    await artist.goto(`${server.url}/r/${record}`);
    await soundPage(artist, 'record');
  });

  it('plays Mix v3 to the artist, and Mix v2 at the same playhead', async () => {
    await artist.goto(song());
    await artist.getByRole('button', { name: 'Play', exact: true }).click();
    const clock = artist.locator('.foot .where b');
    await expect.poll(() => clock.textContent(), { timeout: 10_000 }).toMatch(/^0:0[1-9]/);
    const versions = artist.getByRole('group', { name: 'Which version is heard' });
    await versions.getByRole('button', { name: /Mix v2/ }).click();
    const at = await clock.textContent();
    await expect.poll(() => clock.textContent(), { timeout: 10_000 }).not.toBe(at);
    await artist.getByRole('button', { name: 'Pause', exact: true }).click();
    await versions.getByRole('button', { name: /Mix v3/ }).click();
  });

  it('proposes levels while the artist writes, and pins the note; the engineer sees it at once', async () => {
    await engineer.goto(song('/queue'));
    await engineer.getByRole('heading', { name: /round 3/ }).waitFor();
    const composer = artist.getByRole('textbox', { name: /^Note on Mix v3/ });
    await composer.click();
    await artist.getByLabel('From', { exact: true }).fill('0:30');
    await artist.getByLabel('From', { exact: true }).press('Tab');
    await composer.fill('vocal up in chorus 1, and add a shaker in verse 2');
    await artist
      .getByText(/breaks the production lock/)
      .first()
      .waitFor();
    await soundPage(artist, 'listen');
    await artist.getByRole('button', { name: 'Pin note' }).click();
    const sent = Date.now();
    await engineer.locator('.req', { hasText: 'add a shaker in verse 2' }).first().waitFor();
    expect(Date.now() - sent).toBeLessThan(5000);
  });

  it('sends the round as one list', async () => {
    await artist
      .getByRole('button', { name: /^Send round 3/ })
      .first()
      .click();
    await artist.getByRole('dialog').getByRole('button', { name: 'Send round 3' }).click();
    await engineer
      .getByText(/sent by/i)
      .first()
      .waitFor();
    await soundPage(engineer, 'queue');
  });

  it('lets the engineer answer, and post Mix v4 with its print notes', async () => {
    await engineer.goto(song('/queue'));
    const done = engineer.getByRole('button', { name: 'Done: vocal up in chorus 1', exact: true });
    await done.click();
    await done.waitFor({ state: 'detached' });
    await engineer.goto(song('/post-version'));
    const print = join(server.dataFolder, 'demo', 'Harbour Wall Radio – Mix v4.wav');
    await engineer.locator('#version-file').setInputFiles(print);
    const post = engineer.getByRole('button', { name: 'Post as Mix v4' });
    await expect.poll(() => post.isEnabled(), { timeout: 90_000 }).toBe(true);
    await engineer.getByText('Its stems, if you have them').click();
    await engineer.locator('#stem-files').setInputFiles([print, join(root, 'README.md')]);
    await engineer.getByText('This is the print itself, not a stem of it.').waitFor();
    await engineer.getByText(/^The file is no audio/).waitFor();
    await soundPage(engineer, 'post version');
    for (const fileName of ['README.md', 'Harbour Wall Radio – Mix v4.wav'])
      await engineer.getByRole('button', { name: `Let go of ${fileName}`, exact: true }).click();
    await engineer.getByLabel(/^Print notes/).fill('Bass back in the bridge; lead up 1.1 dB in chorus 3.');
    await post.click();
    await engineer.waitForURL(/\/queue\?round=mix-3$/);
  });

  it('shows what changed, a sentence first', async () => {
    await engineer.goto(song('/changed'));
    await engineer
      .getByText(/Chorus 3/)
      .first()
      .waitFor({ timeout: 60_000 });
    await engineer.getByRole('table').first().waitFor();
  });

  it('says what each stem did, and lists the stems to the engineer alone', async () => {
    // As `fixtures/demo/scenario.ts` documents it, told by the stems of Mix v3.
    await engineer.getByText('Lead vocal +1.1 dB in chorus 3.', { exact: true }).waitFor();
    await engineer
      .getByText(/^The 6 stems sum to Mix v3: /)
      .first()
      .waitFor();
    await engineer.goto(song('/stems'));
    await engineer.getByLabel('Version').selectOption({ label: 'Mix v3, six stems' });
    await engineer.getByRole('link', { name: 'Harbour Wall Radio – Mix v3 – bass.wav' }).waitFor();
    await soundPage(engineer, 'stems');
    await artist.goto(song('/stems'));
    await artist.getByText(/^Stems are for the engineers and the producer alone/).waitFor();
    await engineer.goto(song('/changed'));
  });

  it('shows where it changed as a map, and plays the change alone once somebody asks', async () => {
    const place = engineer.getByRole('slider', { name: /^Place on the map/ });
    await place.waitFor({ timeout: 60_000 });
    await place.focus();
    for (let seconds = 0; seconds < 3; seconds++) await place.press('ArrowRight');
    await place.press('ArrowUp');
    expect(await place.getAttribute('aria-valuetext')).toMatch(/^0:03\.0 Intro · 31\.5 Hz · no /);
    await soundPage(engineer, 'changed, with the map');
    await engineer.getByRole('link', { name: 'Hear the change', exact: true }).first().click();
    await engineer
      .getByText(/^\s*Only what differs: Mix v4 less Mix v3, matched/)
      .waitFor({ timeout: 60_000 });
    const clock = engineer.locator('.foot .where b');
    const start = await clock.textContent();
    const heard = engineer.getByRole('group', { name: 'Which version is heard' });
    const alone = heard.getByRole('button', { name: 'The change alone' });
    await engineer.getByRole('button', { name: 'Play', exact: true }).click();
    await expect.poll(() => clock.textContent(), { timeout: 10_000 }).not.toBe(start);
    expect(await alone.getAttribute('aria-pressed')).toBe('true');
    await engineer.keyboard.press('a');
    expect(await alone.getAttribute('aria-pressed')).toBe('false');
    await engineer.keyboard.press('c');
    await expect.poll(() => alone.getAttribute('aria-pressed')).toBe('true');
    await engineer.getByRole('button', { name: 'Pause', exact: true }).click();
    await soundPage(engineer, 'the change alone');
  });

  it('shows all figures of a version, opens a pressed place, and explains each figure', async () => {
    await engineer.goto(song());
    await engineer.getByRole('link', { name: 'All figures' }).click();
    await engineer.waitForURL(/\/figures\?v=/);
    const place = engineer.getByRole('slider', { name: /^Place in the song/ });
    await place.waitFor({ timeout: 60_000 });
    await soundPage(engineer, 'figures');
    await place.focus();
    for (let seconds = 0; seconds < 3; seconds++) await place.press('ArrowRight');
    expect(await place.getAttribute('aria-valuetext')).toMatch(/^0:03\.0 Intro · momentary −\d+\.\d LUFS/);
    await place.press('Enter');
    await engineer.waitForURL(/\bt=3\b/);
    await expect.poll(() => engineer.locator('.foot .where b').textContent()).toMatch(/^0:0[23]\.\d$/);
    await engineer.goBack();
    await engineer.getByRole('link', { name: 'Mono fold-down' }).click();
    await engineer.waitForURL(/\/glossary#mono-fold-down$/);
    const entry = engineer.locator('#mono-fold-down');
    await expect.poll(async () => ((await entry.boundingBox())?.y ?? -1) > 0).toBe(true);
    expect((await entry.boundingBox())?.y).toBeLessThan(desk.height);
    await soundPage(engineer, 'glossary');
  });

  it('lets the producer price the flagged request and the label decline it', async () => {
    await producer.goto(song('/scope'));
    await soundPage(producer, 'scope');
    await producer.getByRole('button', { name: 'Price…' }).first().click();
    const dialog = producer.getByRole('dialog');
    await dialog.getByLabel(/What is done for it/).fill('Record a shaker for verse 2');
    await dialog.getByLabel('Hours').fill('1.5');
    await dialog.getByRole('button', { name: 'Price it at € 90.00' }).click();
    await label.goto(`${server.url}/r/${record}`);
    await label.getByText('€ 90.00').first().waitFor();
    await label.getByRole('button', { name: 'Decline…' }).first().click();
    await label.getByRole('dialog').getByLabel('Your reason').fill('Not on this record.');
    await label.getByRole('dialog').getByRole('button', { name: 'Decline' }).click();
    await producer.getByText('Not on this record.').first().waitFor();
  });

  it('closes the mix gate when artist and label sign the same file', async () => {
    for (const [page, name] of [
      [artist, 'artist'],
      [label, 'label'],
    ] as const) {
      await page.goto(song('/sign-off'));
      await page.getByRole('button', { name: 'Sign Mix v4…' }).click();
      await page.getByRole('dialog').getByRole('button', { name: 'Sign Mix v4' }).click();
      await page
        .getByText(/signed Mix v4/)
        .first()
        .waitFor();
      if (name === 'artist') await soundPage(label, 'sign-off');
    }
    await label.getByRole('navigation', { name: 'Gates' }).getByText('Mix').first().click();
    await label.getByRole('link', { name: 'Certificate' }).click();
    await label
      .getByText(/Mix v4/)
      .first()
      .waitFor();
    await soundPage(label, 'certificate');
  });

  it('keeps all of it on a ledger that is whole', async () => {
    await label.goto(`${server.url}/r/${record}/ledger`);
    await label.getByText(/The chain is/).waitFor();
    await soundPage(label, 'ledger');
    await engineer.goto(`${server.url}/r/${record}/set-up`);
    await engineer.getByRole('heading').first().waitFor();
    await soundPage(engineer, 'set-up');
    await server.stop();
    const verified = spawnSync(
      process.execPath,
      [join(root, 'dist/server/countoff.js'), 'ledger', 'verify', '--data', server.dataFolder],
      { encoding: 'utf8' },
    );
    expect(verified.stdout).toContain('the chain is whole');
    expect(verified.status).toBe(0);
  });

  it('broke no page and logged no secret', () => {
    expect(faults).toEqual([]);
    expect(server.printed()).not.toMatch(/"cookie"/);
  });
});
