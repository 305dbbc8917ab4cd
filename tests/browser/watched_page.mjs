// A page in Chromium that keeps account of what goes wrong while it is used: requests to other machines, errors of the
// program, pages wider than the window, and what axe finds.

import { mkdir, mkdtemp, readFile, rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const AXE = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];
/** A debug build of the station on two busy cores answers slowly. */
const PATIENCE_MS = 60_000;

export async function openPage({ url, width, height, touch, output }) {
  await mkdir(output, { recursive: true });
  const profile = await mkdtemp(join(tmpdir(), 'guardrow-walk-'));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    headless: true,
    args: FLAGS,
    viewport: { width, height },
    hasTouch: touch,
    acceptDownloads: true,
    locale: 'en-GB',
  });
  const wrong = [];
  let refusalsExpected = 0;
  context.on('request', (request) => {
    const at = new URL(request.url());
    const inside = at.origin === url || ['data:', 'blob:', 'about:'].includes(at.protocol);
    if (!inside) wrong.push(`a request left this machine: ${request.url()}`);
  });
  context.on('response', (response) => {
    if (response.status() < 400) return;
    if (refusalsExpected > 0) refusalsExpected -= 1;
    else wrong.push(`${response.status()} from ${response.request().method()} ${response.url()}`);
  });
  const page = context.pages()[0] ?? (await context.newPage());
  page.setDefaultTimeout(PATIENCE_MS);
  page.on('pageerror', (error) => wrong.push(`error of the program: ${error.message}`));
  page.on('console', (message) => {
    // A refused request is told by the browser as an error too; it is counted above.
    if (message.type() === 'error' && !message.text().startsWith('Failed to load resource')) wrong.push(`console: ${message.text()}`);
  });
  let shots = 0;

  return {
    page,
    wrong,
    /** The next `count` answers of 400 and above are part of the walk. */
    expectRefusals: (count) => (refusalsExpected += count),
    /** Looks at the page as it stands: a screenshot, its width, and axe. */
    async look(name) {
      await page.waitForLoadState('networkidle');
      shots += 1;
      await page.screenshot({ path: join(output, `${String(shots).padStart(2, '0')}-${name}.png`), fullPage: true });
      await this.examine(name);
    },
    /** Width and axe without a screenshot. */
    async examine(name) {
      const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      if (over > 0) wrong.push(`${name}: the page is ${over} px wider than the window`);
      // Evaluated from outside: the page's own rules let no script in, and stay as they are.
      await page.evaluate(AXE);
      const { violations } = await page.evaluate(() => globalThis.axe.run());
      for (const { id, help, nodes } of violations) {
        wrong.push(`${name}: ${id}, ${help}: ${nodes.slice(0, 3).map((node) => node.html.slice(0, 140)).join(' | ')}`);
      }
    },
    async close() {
      await context.close();
      await rm(profile, { recursive: true, force: true });
    },
  };
}
