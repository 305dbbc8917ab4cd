// Looks at every page, wide and on a phone: screenshots into look-output/, and axe on each. Exits with 1 when axe finds something.
// The station's policy lets no foreign script in, axe neither: it is put aside here. Needs a built dist/ and `npm run mock` listening. CHROMIUM names the browser.

import { mkdir, mkdtemp, rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const base = process.env.GUARDROW_STATION ?? 'http://127.0.0.1:4747';
const trial = process.env.TRIAL ?? 'ELSB-31';
const only = process.argv[2];
const axe = createRequire(import.meta.url).resolve('axe-core/axe.min.js');
const out = new URL('../look-output/', import.meta.url).pathname;
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];

const steps = ['', '/ask', '/plan', '/layout', '/supply', '/observe', '/harvest', '/find', '/publish', '/report', '/notes'];
const pages = [
  ['station', '#/'],
  ['new-trial', '#/new'],
  ['lots', '#/lots'],
  ...steps.map((step) => [`trial${step.replace('/', '-')}`, `#/trial/${trial}${step}`]),
  ['unknown', '#/nowhere'],
].filter(([name]) => only === undefined || name === only);

await mkdir(out, { recursive: true });
const folder = await mkdtemp(join(tmpdir(), 'guardrow-look-'));
const context = await chromium.launchPersistentContext(folder, { executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', headless: true, args: FLAGS, bypassCSP: true });
let found = 0;
const outside = new Set();
try {
  for (const [width, height] of [[1440, 900], [390, 844]]) {
    for (const theme of only ? ['paper', 'contrast'] : ['paper', 'contrast']) {
      const page = await context.newPage();
      page.on('request', (request) => request.url().startsWith(base) || request.url().startsWith('data:') || outside.add(request.url()));
      page.on('console', (message) => message.type() === 'error' && console.log(`console: ${message.text()}`));
      page.on('pageerror', (error) => { found += 1; console.log(`error: ${error.message}`); });
      await page.setViewportSize({ width, height });
      await page.addInitScript((chosen) => { localStorage.setItem('guardrow theme', chosen); localStorage.setItem('guardrow person', 'A. Invented'); }, theme);
      for (const [name, hash] of pages) {
        await page.goto(`${base}/${hash}`);
        await page.reload();
        await page.waitForLoadState('networkidle');
        await page.waitForTimeout(250);
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        if (wide > 0) { found += 1; console.log(`${name} ${width} ${theme}: ${wide} px wider than the window`); }
        await page.screenshot({ path: join(out, `${name}-${width}-${theme}.png`), fullPage: true });
        await page.addScriptTag({ path: axe });
        const { violations } = await page.evaluate(() => globalThis.axe.run());
        for (const violation of violations) {
          found += 1;
          console.log(`${name} ${width} ${theme}: ${violation.id}: ${violation.help}`);
          for (const node of violation.nodes.slice(0, 3)) console.log(`    ${node.html.slice(0, 160)}\n    ${node.failureSummary?.split('\n').slice(1, 2).join(' ')}`);
        }
      }
      await page.close();
    }
  }
} finally {
  await context.close();
  await rm(folder, { recursive: true, force: true });
}
if (outside.size > 0) console.log(`asked outside: ${[...outside].join(', ')}`);
console.log(`${pages.length} pages, ${found} findings`);
process.exit(found > 0 || outside.size > 0 ? 1 : 0);
