// One trial from an empty station to its report, in a browser: on a desk (1440 px) and on a phone (390 px).
// Screenshots go to TEST_OUTPUT. Exits with 1 when a step fails, axe finds anything, or a request leaves this machine.

import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { newStation, serve } from './station.mjs';
import * as steps from './steps.mjs';
import { openPage } from './watched_page.mjs';

const OUTPUT = resolve(process.env.TEST_OUTPUT ?? new URL('../../test-output/browser', import.meta.url).pathname);
const DEVICES = [
  { name: 'desk', width: 1440, height: 900, touch: false },
  { name: 'phone', width: 390, height: 844, touch: true },
];
const WALK = ['start', 'ask', 'plan', 'layOut', 'supply', 'observe', 'past', 'judge', 'note', 'takeIn', 'harvest', 'find', 'publish', 'contrast'];

const only = process.argv[2];
let [passed, failed] = [0, 0];
for (const device of DEVICES.filter(({ name }) => only === undefined || name === only)) await walk(device);
console.log(`browser walk: ${passed} steps passed, ${failed} failed; screenshots in ${OUTPUT}`);
process.exit(failed > 0 ? 1 : 0);

async function walk(device) {
  const folder = await mkdtemp(join(tmpdir(), 'guardrow-station-'));
  newStation(join(folder, 'station'), 'Hollow Fen');
  const station = await serve(join(folder, 'station'));
  const output = join(OUTPUT, device.name);
  await rm(output, { recursive: true, force: true });
  const watched = await openPage({ ...device, url: station.url, output });
  try {
    await watched.page.goto(station.url);
    for (const name of WALK) {
      if (!(await take(device, name, station, watched))) {
        await watched.page.screenshot({ path: join(output, `failed-${name}.png`), fullPage: true });
        break;
      }
    }
  } finally {
    await watched.close();
    await station.close();
    await rm(folder, { recursive: true, force: true });
  }
}

/** One step; what went wrong while it was taken fails it, and the walk goes on when the page can still be used. */
async function take(device, name, station, watched) {
  const { page, wrong, expectRefusals } = watched;
  const began = Date.now();
  const tools = { page, station, expectRefusals, look: (shot) => watched.look(shot), examine: (what) => watched.examine(what) };
  let stopped;
  try {
    await steps[name](tools);
  } catch (error) {
    stopped = error;
  }
  const found = wrong.splice(0);
  const good = stopped === undefined && found.length === 0;
  if (good) passed += 1;
  else failed += 1;
  console.log(`${good ? 'pass' : 'FAIL'}  ${device.name}: ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
  for (const line of found) console.log(`      ${line}`);
  if (stopped) console.log(`      ${stopped.stack ?? stopped}`);
  return stopped === undefined;
}
