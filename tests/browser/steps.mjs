// The steps of a trial as a person takes them: ask, plan, lay out, supply, observe, harvest, find, publish.

import assert from 'node:assert/strict';
import { CODE, HEAD, PERSON, harvestTable, plotsOf, storedStand, typedStand, wrongTable } from './trial.mjs';

const exactly = { exact: true };
const at = (page, place) => page.locator(`[id="at-${place}"]`);

/** Goes to the page of a step by its tab. */
async function turnTo(page, word, question) {
  await page.getByRole('navigation', { name: `Steps of trial ${CODE}` }).getByRole('link', { name: new RegExp(`^${word}`) }).click();
  await page.getByRole('heading', { level: 1, name: question }).waitFor();
}

async function quantity(within, label, amount, unit) {
  await within.getByLabel(label, exactly).fill(amount);
  await within.getByLabel(`Unit of: ${label}`, exactly).fill(unit);
}

async function savePlan(page, reason = '') {
  if (reason) await page.getByLabel('Why it changes', exactly).fill(reason);
  await page.getByRole('button', { name: 'Save the plan' }).click();
  await page.getByText(/Saved as version \d+\./).waitFor();
}

export async function start({ page, look }) {
  await page.getByText('There is no trial yet.').waitFor();
  await page.getByLabel('Recorded as').fill(PERSON);
  await page.getByLabel('Recorded as').press('Tab');
  await look('empty-station');
  await page.getByRole('link', { name: 'Start a trial' }).click();
  await page.getByLabel('The decision', exactly).fill(HEAD.decision);
  await page.getByLabel('Who will act on it', exactly).fill(HEAD.who);
  await page.getByLabel('Title of the trial', exactly).fill(HEAD.title);
  await page.getByLabel('Season', exactly).fill(HEAD.season);
  await page.getByLabel('Code', exactly).fill(CODE);
  await page.getByLabel('Crop', exactly).fill(HEAD.crop);
  await page.getByLabel('Site', exactly).fill(HEAD.site);
  await look('start');
  await page.getByRole('button', { name: 'Start the trial' }).click();
  await page.getByRole('heading', { level: 1, name: 'What is this trial to answer?' }).waitFor();
}

/** The words of the question; what is compared follows when the plan has factors. */
export async function ask({ page, look, station }) {
  await page.getByRole('button', { name: 'Write the main claim' }).click();
  const claim = at(page, 'question.claims[0]');
  await claim.getByLabel('The claim, as a person would say it').fill('Straw left on the ground raises the yield');
  await page.getByRole('button', { name: 'Add a step' }).click();
  await at(page, 'question.links[0]').getByLabel('Step 1', exactly).fill('more plants stand, since the seedbed stays moist');
  await at(page, 'question.links[0]').getByLabel('When', exactly).fill('three weeks after seeding');
  await page.getByRole('button', { name: 'Add an explanation' }).click();
  await at(page, 'question.rivals[0]').getByLabel('Explanation 1', exactly).fill('fewer weeds under the straw');
  await page.getByRole('button', { name: 'A condition is needed' }).click();
  await page.getByLabel('In words, as it would be said when it did not come').fill('the seedbed was not dry');
  await page.getByText('has no planned measure').first().waitFor();
  await savePlan(page);
  await look('ask');
  const { plan, remarks } = await station.get(`/api/trials/${CODE}`);
  assert.equal(plan.question.claims[0].statement, 'Straw left on the ground raises the yield');
  assert.ok(remarks.some(({ place }) => place === 'question.rivals[0].measure'), 'a rival without a measure is pointed out');
}

export async function plan({ page, look, station }) {
  await turnTo(page, 'Plan', 'What is compared, and what is measured?');
  await page.getByRole('button', { name: 'Add a factor' }).click();
  const cover = at(page, 'treatments.factors[0]');
  await cover.getByLabel('Factor 1', exactly).fill('cover');
  await cover.getByLabel('Level 1', exactly).fill('bare');
  await cover.getByLabel('Level 2', exactly).fill('straw');
  await page.getByRole('button', { name: 'Add a factor' }).click();
  const depth = at(page, 'treatments.factors[1]');
  await depth.getByLabel('Factor 2', exactly).fill('depth');
  await depth.getByRole('radio', { name: 'amounts' }).check();
  await depth.getByLabel('Unit', exactly).fill('cm');
  await depth.getByLabel('Amount 1', exactly).fill('4');
  await depth.getByLabel('Amount 2', exactly).fill('8');
  await page.getByRole('radio', { name: /^Split-plot/ }).check();
  await page.getByLabel('Replicates', exactly).fill('4');
  await page.getByRole('checkbox', { name: 'cover' }).check();
  await page.getByText('Degrees of freedom before anything is seeded').waitFor();
  await page.getByText('16 plots').first().waitFor();
  for (const [index, name, unit] of [[0, 'Stand', 'plants/m2'], [1, 'Weed cover', '%']]) {
    await page.getByRole('button', { name: 'Add a measure' }).click();
    const measure = at(page, `measures[${index}]`);
    await measure.getByLabel(`Measure ${index + 1}`, exactly).fill(name);
    await measure.getByLabel('Unit', exactly).fill(unit);
    await measure.getByLabel('Event', exactly).fill('Stand count');
  }
  await page.getByRole('button', { name: 'Plots are harvested for yield' }).click();
  await page.getByLabel('By which rule may a plot be excluded?').fill('plots under water for a day');
  await page.getByLabel('Currency', exactly).fill('EUR');
  await savePlan(page);
  await look('plan');
  await backToTheClaim({ page, look });
  const view = await station.get(`/api/trials/${CODE}`);
  // 4 replicates, 2 main plots in each, 2 plots in each: error df (r-1)(a-1) = 3 and a(r-1)(b-1) = 6.
  assert.deepEqual(view.skeleton.strata.map((stratum) => stratum.error_df), [3, 3, 6]);
  assert.deepEqual(view.plan.question.claims[0].margin, '250 kg/ha');
  assert.ok(view.remarks.every((remark) => remark.weight !== 'refuse'), JSON.stringify(view.remarks));
}

/** With factors and measures there, claim, chain and rival get theirs. */
async function backToTheClaim({ page, look }) {
  await turnTo(page, 'Ask', 'What is this trial to answer?');
  const claim = at(page, 'question.claims[0]');
  await claim.getByLabel('First option', exactly).selectOption({ label: 'cover: straw' });
  await claim.getByLabel('compared with', exactly).selectOption({ label: 'cover: bare' });
  await claim.getByLabel('in this measure', exactly).selectOption({ index: 1 });
  await quantity(claim, 'Size', '250', 'kg/ha');
  await claim.getByText('The margin is').waitFor();
  const link = at(page, 'question.links[0]');
  await link.getByLabel('Shown by', exactly).selectOption('stand');
  await quantity(link, 'Smallest step that matters', '3', 'plants/m2');
  const rival = at(page, 'question.rivals[0]');
  await rival.getByLabel('Would be shown by', exactly).selectOption('weed_cover');
  await quantity(rival, 'Too small to explain it below', '5', '%');
  await savePlan(page);
  await look('ask-complete');
}

export async function layOut({ page, look, station }) {
  await turnTo(page, 'Lay out', 'Where does each treatment stand?');
  await page.getByText('Draw from a seed of your own').click();
  await page.getByLabel('Seed', exactly).fill('31');
  await page.getByRole('button', { name: 'Draw', exact: true }).click();
  await page.getByText('Version 1 is drawn.').waitFor();
  const layout = await station.get(`/api/trials/${CODE}/layout`);
  const plots = plotsOf(layout);
  assert.equal(plots.length, 16);
  // A plot can be chosen by pointer, and from there by the arrow keys.
  await page.locator(`[data-plot="${plots[0].number}"]`).click();
  await page.getByRole('button', { name: `Plot ${plots[0].number} ${plots[0].treatment};`, pressed: true }).waitFor();
  await page.keyboard.press('ArrowRight');
  const beside = plots.find((plot) => plot.range === plots[0].range && plot.pass === plots[0].pass + 1);
  await page.locator(`[data-plot="${beside.number}"][aria-pressed="true"]`).waitFor();
  assert.equal(await page.locator('[data-plot][aria-pressed="true"]').count(), 1);
  // The tab key comes back to the chosen plot, and to no other.
  await page.getByRole('radio', { name: 'with treatments' }).focus();
  await tabTo(page, (element) => element.dataset.plot !== undefined);
  assert.equal(await page.evaluate(() => document.activeElement.dataset.plot), String(beside.number));
  assert.deepEqual(await page.locator('svg [data-plot]').count(), plots.length);
  await look('layout');
  await page.getByRole('radio', { name: 'without' }).check();
  const blind = page.locator('svg[aria-label="Plot map of W-31, blind"]');
  await blind.waitFor();
  const told = await blind.evaluate((drawing) => drawing.outerHTML);
  for (const word of ['straw', 'bare']) assert.ok(!told.includes(word), `a blind map does not say ${word}`);
  await look('layout-blind');
  // What the page shows is the drawing that the station gives everyone.
  const asked = await fetch(`${station.url}/api/trials/${CODE}/map.svg?blind=true`).then((answer) => answer.text());
  const texts = (svg) => [...svg.matchAll(/<text[^>]*>([^<]*)</g)].map(([, text]) => text).sort();
  if (page.viewportSize().width > 640) assert.deepEqual(texts(told), texts(asked));
}

export async function supply({ page, look, station }) {
  await turnTo(page, 'Supply', 'Is there seed for every plot?');
  await page.getByRole('button', { name: 'Register a lot' }).click();
  await page.getByLabel('Lot', exactly).fill('FB-1');
  await page.getByLabel('Crop', exactly).fill('faba bean');
  await page.getByLabel('Variety', exactly).fill('entry 1');
  await page.getByLabel('Thousand-kernel weight', exactly).fill('520');
  await page.getByLabel('Germination', exactly).fill('92');
  await page.getByLabel('Tested on', exactly).fill('2031-02-01');
  await quantity(page, 'On hand', '20', 'kg');
  await page.getByLabel('Seed treatment or inoculant', exactly).fill('seed dressing');
  await look('lot');
  await page.getByRole('button', { name: 'Save the lot' }).click();
  await page.getByRole('button', { name: 'change FB-1' }).waitFor();
  await page.getByRole('button', { name: 'Weigh seed by plot' }).click();
  await quantity(page, 'Plants per area 1', '45', 'plants/m2');
  await page.getByLabel('Sown from lot 1', exactly).selectOption('FB-1');
  await page.getByLabel('Overfill of each packet', exactly).fill('5');
  await page.getByLabel('Reserve of each lot', exactly).fill('10');
  await savePlan(page, 'seed is weighed by plot');
  await page.locator('[aria-label="Packets in seeding order"]').waitFor();
  const { packets } = await station.get(`/api/trials/${CODE}/packets`);
  // 45 plants/m2 / (0.92 x 0.85) x 12 m2 x 1.05 x 520 / 1000 = 377.04 g (plot arithmetic: target stand over what comes up).
  assert.equal(packets.length, 16);
  assert.ok(Math.abs(packets[0].grams - 377.04) < 0.06, `${packets[0].grams} g`);
  await page.getByRole('button', { name: 'Print packet labels' }).click();
  await page.getByRole('link', { name: /packet-labels/ }).first().waitFor();
  await look('supply');
  const view = await station.get(`/api/trials/${CODE}`);
  assert.ok(view.layout.line.locked, 'printing locks the layout');
}

/** Types the stand count by keyboard alone, then corrects one value. */
export async function observe({ page, look, station }) {
  await turnTo(page, 'Observe', 'What was seen in each plot?');
  await page.getByRole('radio', { name: /^Stand count/ }).check();
  await page.locator('[data-cell="0/0"]').waitFor();
  const rows = (await station.get(`/api/trials/${CODE}/observations?event=Stand%20count`)).rows;
  await page.getByRole('checkbox', { name: 'hide treatments' }).focus();
  await tabTo(page, (element) => element.dataset.cell === '0/0');
  const typed = rows.map((row, index) => typedStand(index, row.treatment));
  for (const value of typed) {
    await page.keyboard.type(value);
    await page.keyboard.press('Enter');
  }
  assert.equal(await focusedCell(page), `${rows.length - 1}/0`, 'below the last plot there is nowhere to go');
  await page.keyboard.press('ArrowRight');
  assert.equal(await focusedCell(page), `${rows.length - 1}/1`);
  for (let index = rows.length - 1; index >= 0; index -= 1) {
    assert.equal(await focusedCell(page), `${index}/1`);
    await page.keyboard.type(String(4 + (index % 3)));
    await page.keyboard.press('ArrowUp');
  }
  await look('observe-typed');
  await tabTo(page, (element) => /^Save \d+ values$/.test(element.textContent.trim()));
  await page.keyboard.press('Enter');
  await page.getByRole('button', { name: /^Save \d+ values/ }).waitFor({ state: 'detached' });
  await compareStands({ station, rows, typed });
  await correct({ page, station, look, plot: rows[1].plot });
}

async function compareStands({ station, rows, typed }) {
  const table = await station.get(`/api/trials/${CODE}/observations?event=Stand%20count`);
  const column = table.measures.findIndex((measure) => measure.key === 'stand');
  table.rows.forEach((row, index) => {
    const entries = row.cells[column];
    assert.equal(entries.length, 1, `plot ${row.plot}`);
    assert.equal(row.plot, rows[index].plot);
    assert.equal(entries[0].status, typed[index] === 'ns' ? 'not_seen' : 'value');
    assert.equal(entries[0].value ?? undefined, storedStand(typed[index]));
    assert.equal(entries[0].by, PERSON);
  });
}

async function correct({ page, station, look, plot }) {
  const cell = page.locator('[data-cell="1/0"]');
  await cell.focus();
  await page.keyboard.type('39');
  await page.keyboard.press('Enter');
  await page.getByText('A correction needs a reason').waitFor();
  await page.getByLabel('Why it is corrected').fill('counted again with a second person');
  // The next step looks at the table between the two entries, by the second.
  const [first] = await station.get(`/api/trials/${CODE}/history?plot=${plot}&measure=stand`);
  await page.waitForFunction((second) => Date.now() > second, secondAfter(first.recorded_at));
  await page.getByRole('button', { name: 'Save 1 value' }).click();
  await page.getByRole('button', { name: /^Save 1 value/ }).waitFor({ state: 'detached' });
  const history = await station.get(`/api/trials/${CODE}/history?plot=${plot}&measure=stand`);
  assert.equal(history.length, 2, 'the first value stays in the record');
  assert.equal(history[1].value, 39);
  assert.equal(history[1].reason, 'counted again with a second person');
  await cell.focus();
  await page.getByRole('button', { name: 'History of this cell' }).click();
  await page.getByText('Correction: counted again with a second person').waitFor();
  await look('observe-corrected');
}

/** The whole second that follows a moment, in milliseconds. */
const secondAfter = (moment) => Math.ceil(Date.parse(moment) / 1000) * 1000;

/** Looks at the table as it was before the correction, by a time and by the history of a cell. */
export async function past({ page, look, station, expectRefusals }) {
  const { rows } = await station.get(`/api/trials/${CODE}/observations?event=Stand%20count`);
  const [first, second] = await station.get(`/api/trials/${CODE}/history?plot=${rows[1].plot}&measure=stand`);
  const before = secondAfter(first.recorded_at);
  assert.ok(before < Date.parse(second.recorded_at), 'there is a second between the value and its correction');
  const corrected = page.locator('[data-cell="1/0"]');
  assert.equal(await corrected.inputValue(), '39');
  // What is typed and not saved belongs to now.
  const unsaved = page.locator('[data-cell="0/0"]');
  await unsaved.fill('50');

  await showTableAt(page, new Date(before));
  const told = page.getByText('This is the table as it was known at');
  await told.waitFor();
  assert.ok((await told.textContent()).includes(localTime(new Date(before))), await told.textContent());
  assert.equal(Number(await corrected.inputValue()), first.value);
  assert.notEqual(await unsaved.inputValue(), '50', 'the past does not hold what was typed since');
  assert.equal(await page.getByRole('button', { name: /^Save \d/ }).count(), 0);
  await corrected.focus();
  await page.keyboard.type('77');
  assert.equal(Number(await corrected.inputValue()), first.value, 'nothing can be typed into the past');
  assert.equal(await page.getByRole('group', { name: 'No value, because' }).count(), 0);
  await look('observe-past');
  await page.getByRole('button', { name: 'Back to now' }).click();
  await told.waitFor({ state: 'detached' });
  assert.deepEqual([await corrected.inputValue(), await unsaved.inputValue()], ['39', '50']);
  await page.getByRole('button', { name: 'Drop them' }).click();

  await corrected.focus();
  await page.getByRole('button', { name: 'History of this cell' }).click();
  await page.getByRole('button', { name: 'The table as it was then' }).first().click();
  await told.waitFor();
  assert.equal(Number(await corrected.inputValue()), first.value);
  await page.getByRole('button', { name: 'Back to now' }).click();
  await told.waitFor({ state: 'detached' });

  expectRefusals(1);
  await showTableAt(page, new Date(Date.now() + 86_400_000));
  await page.getByText('is still to come').waitFor();
  assert.equal(await page.locator('[data-cell]').count(), 0, 'no table stands under a time that has none');
  await page.getByRole('button', { name: 'Back to now' }).click();
  await corrected.waitFor();
  assert.equal(await corrected.inputValue(), '39');
}

const twoDigits = (value) => String(value).padStart(2, '0');
const localDay = (date) => `${date.getFullYear()}-${twoDigits(date.getMonth() + 1)}-${twoDigits(date.getDate())}`;
const localTime = (date) => [date.getHours(), date.getMinutes(), date.getSeconds()].map(twoDigits).join(':');

async function showTableAt(page, date) {
  const part = page.locator('details', { hasText: 'Show the table as it was known at an earlier time' });
  if (!(await part.evaluate((element) => element.open))) await part.locator('summary').click();
  await part.getByLabel('Day', exactly).fill(localDay(date));
  await part.getByLabel('Time', exactly).fill('25:00');
  assert.ok(await part.getByRole('button', { name: 'Show it' }).isDisabled(), 'there is no such time');
  await part.getByLabel('Time', exactly).fill(localTime(date));
  await part.getByRole('button', { name: 'Show it' }).click();
}

/** Judges the premise before any yield is in. */
export async function judge({ page, look, station }) {
  await turnTo(page, 'Find', 'What did the trial show?');
  await page.getByRole('radio', { name: 'It occurred' }).check();
  await page.getByLabel('Evidence', exactly).fill('gauge at the field: 2 mm of rain in the ten days after seeding');
  await look('find-premise');
  await page.getByRole('button', { name: 'Record the judgement' }).click();
  await page.getByText('Judged: occurred').waitFor();
  const { premise } = await station.get(`/api/trials/${CODE}`);
  assert.equal(premise.after_yields, false);
}

/** Notes of the season. */
export async function note({ page, look }) {
  await page.getByRole('navigation', { name: `Steps of trial ${CODE}` }).getByRole('link', { name: /^Notes/ }).click();
  await page.getByLabel('What happened', exactly).fill('Seeded, 09:10 to 10:40, dry topsoil.');
  await page.getByLabel('Day it is about', exactly).fill('2031-04-11');
  await page.getByRole('button', { name: 'Write it down' }).click();
  await page.getByText('Written down.').waitFor();
  await look('notes');
}

/** A file that is refused whole, and one that is taken in whole. */
export async function takeIn({ page, look, station }) {
  await turnTo(page, 'Observe', 'What was seen in each plot?');
  const layout = await station.get(`/api/trials/${CODE}/layout`);
  const chooser = page.locator('input[type="file"]');
  await chooser.setInputFiles({ name: 'harvest-wrong.csv', mimeType: 'text/csv', buffer: Buffer.from(wrongTable(layout)) });
  await page.getByText('It cannot be accepted as it is.').waitFor();
  for (const words of ['plot 999 is not in the layout', 'outside', 'did you mean']) await page.getByText(words, { exact: false }).first().waitFor();
  assert.ok(await page.getByRole('button', { name: 'Accept the whole file' }).isDisabled());
  await look('intake-refused');
  const untouched = await station.get(`/api/trials/${CODE}/observations?event=Harvest`);
  assert.ok(untouched.rows.every((row) => row.cells.every((cell) => cell.length === 0)), 'nothing of a refused file is written');
  await page.getByRole('button', { name: 'Do not accept it' }).click();
  await chooser.setInputFiles({ name: 'harvest.csv', mimeType: 'text/csv', buffer: Buffer.from(harvestTable(layout, { commas: true })) });
  await page.getByText('Checked. Nothing is written yet.').waitFor();
  await look('intake-checked');
  await page.getByRole('button', { name: 'Accept the whole file' }).click();
  await page.getByText(`${16 * 4} values accepted from harvest.csv.`).waitFor();
}

export async function harvest({ page, look, station }) {
  await turnTo(page, 'Harvest', 'What did each plot yield?');
  await page.locator('[aria-label="Yields by plot"]').waitFor();
  const view = await station.get(`/api/trials/${CODE}/harvest`);
  const rows = page.locator('[aria-label="Yields by plot"]').locator('tbody tr');
  assert.equal(await rows.count(), 16);
  const shown = (await rows.first().locator('td').last().textContent()).trim();
  assert.ok(Math.abs(Number(shown) - view.lines[0].standard) <= 0.5, `${shown} on the page, ${view.lines[0].standard} from the station`);
  await look('harvest');
}

export async function find({ page, look, station }) {
  await turnTo(page, 'Find', 'What did the trial show?');
  const { findings } = await station.get(`/api/trials/${CODE}/report`);
  assert.equal(findings[0].verdict.word, 'supported');
  await page.getByText(findings[0].sentence).waitFor();
  assert.ok(findings[0].sentence.includes('Low Field, 2031'), findings[0].sentence);
  await look('find');
}

export async function publish({ page, look, station }) {
  await turnTo(page, 'Publish', 'What leaves the station?');
  for (const [button, link] of [['Make the report as PDF', /report.*\.pdf$/], ['Make the data package', /-data\.zip$/], ['Make the script for R', /-r\.zip$/]]) {
    await page.getByRole('button', { name: button }).click();
    const made = page.getByRole('link', { name: link }).first();
    await made.waitFor();
    const bytes = await station.get(new URL(await made.getAttribute('href'), station.url).pathname);
    if (button.endsWith('PDF')) assert.equal(Buffer.from(bytes).subarray(0, 5).toString(), '%PDF-');
    else assert.equal(Buffer.from(bytes).subarray(0, 2).toString(), 'PK');
  }
  await look('publish');
  await page.getByRole('link', { name: 'Read it as a page' }).click();
  await page.getByRole('heading', { level: 1, name: HEAD.title }).waitFor();
  await look('report');
}

/** Every page once more in high contrast, and the overview. */
export async function contrast({ page, look, examine }) {
  await page.goto(new URL(`#/trial/${CODE}`, page.url()).href);
  await page.getByRole('heading', { name: 'How far it is' }).waitFor();
  await look('overview');
  await page.getByRole('button', { name: 'High contrast' }).click();
  for (const [word, question] of [
    ['Ask', 'What is this trial to answer?'],
    ['Plan', 'What is compared, and what is measured?'],
    ['Lay out', 'Where does each treatment stand?'],
    ['Supply', 'Is there seed for every plot?'],
    ['Observe', 'What was seen in each plot?'],
    ['Harvest', 'What did each plot yield?'],
    ['Find', 'What did the trial show?'],
    ['Publish', 'What leaves the station?'],
  ]) {
    await turnTo(page, word, question);
    await page.getByText(/ …$/).first().waitFor({ state: 'detached' });
    await page.waitForLoadState('networkidle');
    await examine(`${word}, high contrast`);
    if (word === 'Observe' || word === 'Find') await look(`contrast-${word.toLowerCase()}`);
  }
  await page.getByRole('link', { name: 'Guardrow' }).click();
  await page.getByRole('link', { name: HEAD.title }).waitFor();
  await look('contrast-station');
}

async function focusedCell(page) {
  return page.evaluate(() => document.activeElement?.dataset.cell);
}

/** Presses Tab until the focus is where `isThere` says; more than a page has would be a trap. */
async function tabTo(page, isThere) {
  const there = `(${isThere})(document.activeElement)`;
  for (let presses = 0; presses < 150; presses += 1) {
    if (await page.evaluate(there)) return;
    await page.keyboard.press('Tab');
  }
  assert.fail(`the keyboard did not come to ${isThere}`);
}
