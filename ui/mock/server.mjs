// A stand-in for the station's server, to work on the pages with: in memory, on this machine, never part of the build.
// It understands far less than the station: its checks only show what a remark looks like.

import { createServer } from 'node:http';
import { readFile } from 'node:fs/promises';
import { dirname, extname, join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';
import { entriesOf, harvestMeasures, layoutOf, lots, notes, plan, skeleton, treatments } from './station_data.mjs';
import { report } from './report_data.mjs';

const port = Number(process.env.PORT ?? 4747);
const dist = join(dirname(fileURLToPath(import.meta.url)), '..', 'dist');
const now = () => new Date().toISOString();

const layoutLine = (version, seed, more = {}) => ({
  version,
  seed: seed.toString(16).padStart(64, '0'),
  algorithm: 1,
  drawn_at: '2031-04-02T09:30:00Z',
  by: 'A. Invented',
  reason: '',
  ...more,
});
const layout = layoutOf(77);
const trials = new Map([
  [
    'ELSB-31',
    {
      plan,
      version: 3,
      layouts: [
        { line: layoutLine(1, 76), layout: layoutOf(76) },
        { line: layoutLine(2, 77, { reason: 'Replicate 1 lay on an old track', locked: 'packet labels printed 2031-05-02 14:10' }), layout },
      ],
      entries: entriesOf(layout),
      notes: [...notes],
      publications: [{ kind: 'packet-labels', file: 'ELSB-31-packet-labels-v2.pdf', made_at: '2031-05-02T14:10:00Z' }],
      premise: undefined,
      stage: 'in_season',
      next: 'Score lodging in 24 plots before harvest.',
      answer: undefined,
    },
  ],
]);
const asked = structuredClone(plan);
asked.trial = { ...plan.trial, code: 'BRTN-32', title: 'Does a catch crop feed the buckwheat after it?', season: 2032 };
asked.question.links[0].measure = '';
asked.treatments = { factors: [] };
asked.arrangement = { kind: 'randomised_blocks', replicates: 4 };
delete asked.supply;
trials.set('BRTN-32', { plan: asked, version: 1, layouts: [], entries: {}, notes: [], publications: [], stage: 'asking', next: 'Write down the factors and their levels.' });

class Refused extends Error {
  constructor(status, kind, what, place, try_this) {
    super(what);
    Object.assign(this, { status, body: { error: { kind, what, place, try_this, remarks: [] } } });
  }
}

function remarksOn(draft) {
  const remarks = [];
  const say = (weight, place, what, try_this) => remarks.push({ weight, place, what, try_this });
  draft.question.links.forEach((link, index) => {
    if (link.measure === '') say('warn', `question.links[${index}].measure`, 'Nothing is planned that would show this link.', 'Choose a measure, or add one on the page Plan.');
  });
  if (draft.treatments.factors.length === 0) say('refuse', 'treatments', 'There is no factor yet.', 'Add what is varied, with at least two levels.');
  if (draft.question.decision === '') say('refuse', 'question.decision', 'No decision is written down.', 'Write what will be done differently, depending on the answer.');
  return remarks;
}

const hasTreatments = (draft) => draft.treatments.factors.length > 0;
const check = (draft) => ({
  remarks: remarksOn(draft),
  ...(hasTreatments(draft) ? { skeleton, method: report.method.sentences[0] } : {}),
  treatments: hasTreatments(draft) ? treatments : [],
  plots: hasTreatments(draft) ? 24 : 0,
  margins: draft.question.claims.map((claim) => (typeof claim.margin === 'string' ? claim.margin : claim.margin ? '73 kg/ha (38 EUR/ha over 0.52 EUR/kg)' : null)),
});

const measuresOf = (trial) => [...trial.plan.measures, ...(trial.plan.harvest ? harvestMeasures : [])];
const layoutView = ({ line, layout: ground }) => ({ line, treatments, layout: ground });

function eventsOf(trial) {
  const numbers = trial.layouts.at(-1)?.layout.plots.filter((one) => one.kind === 'plot').map((one) => one.number) ?? [];
  return [...new Set(measuresOf(trial).map((measure) => measure.event))].map((event) => {
    const measures = measuresOf(trial).filter((measure) => measure.event === event);
    const done = numbers.filter((plot) => measures.every(({ key }) => trial.entries[`${plot}/${key}`]?.length)).length;
    return { event, measures, done, plots: numbers.length };
  });
}

function view(trial) {
  const checked = check(trial.plan);
  return {
    plan: trial.plan,
    plan_version: trial.version,
    remarks: checked.remarks,
    skeleton: checked.skeleton,
    method: checked.method,
    layout: trial.layouts.length > 0 ? layoutView(trial.layouts.at(-1)) : undefined,
    layout_versions: trial.layouts.map(({ line }) => line),
    stage: trial.stage,
    next: trial.next,
    events: eventsOf(trial),
    premise: trial.premise,
    notes: trial.notes,
    publications: trial.publications,
  };
}

function table(trial, query) {
  const event = query.get('event') ?? '';
  const measures = measuresOf(trial).filter((measure) => event === '' || measure.event === event);
  const plots = trial.layouts.at(-1).layout.plots.filter((one) => one.kind === 'plot').sort((left, right) => left.number - right.number);
  const rows = plots.map((plot) => ({
    plot: plot.number,
    replicate: plot.replicate,
    treatment: query.get('blind') === 'true' ? undefined : treatments[plot.treatment],
    cells: measures.map(({ key }) => (query.get('as_of') ? [] : (trial.entries[`${plot.number}/${key}`] ?? []))),
  }));
  return { event, measures, rows, as_of: query.get('as_of') ?? undefined };
}

const EMPTY = { 'not seen': 'not_seen', lost: 'lost', 'not applicable': 'not_applicable', 'not yet': 'not_yet' };

function write(trial, body) {
  for (const { plot, measure, text, replaces, reason } of body.values) {
    const status = EMPTY[text] ?? 'value';
    const value = status === 'value' ? Number(text.replace(',', '.')) : undefined;
    const entry = { id: crypto.randomUUID(), status, value, text, by: body.by, recorded_at: now(), source: 'typed on screen', reason: reason || undefined, replaces };
    const others = (trial.entries[`${plot}/${measure}`] ?? []).filter((one) => one.id !== replaces);
    trial.entries[`${plot}/${measure}`] = [...others, entry];
  }
  return table(trial, new URLSearchParams());
}

function packetsOf(trial) {
  const plots = trial.layouts.at(-1).layout.plots.filter((one) => one.kind === 'plot');
  const packets = plots.map((plot, index) => {
    const stand = [150, 200, 250][plot.treatment % 3];
    const seeds = Math.ceil((stand * 13.68 * 1.03) / (0.93 * 0.82));
    return {
      sequence: index + 1,
      plot: plot.number,
      treatment: treatments[plot.treatment],
      lot: 'BW-0417',
      seeds,
      grams: (seeds * 26.4) / 1000,
      grams_shown: ((seeds * 26.4) / 1000).toFixed(1),
      how: `${stand} plants/m2 x 13.68 m2 / (germination 0.93 x emergence 0.82) x 1.03 = ${seeds} seeds; x 26.4 g / 1000`,
    };
  });
  const need = packets.reduce((sum, packet) => sum + packet.grams, 0) * 1.05;
  return { packets, lots: [{ lot: 'BW-0417', need_g: need, on_hand_g: 4200, left_g: 4200 - need }], remarks: [] };
}

function harvestOf(trial) {
  const plots = trial.layouts.at(-1).layout.plots.filter((one) => one.kind === 'plot').sort((left, right) => left.number - right.number);
  const value = (plot, key) => trial.entries[`${plot}/${key}`]?.at(-1)?.value ?? null;
  const lines = plots.map((plot) => {
    const [mass, moisture] = [value(plot.number, 'harvest_mass'), value(plot.number, 'harvest_moisture')];
    const raw = plot.number === 304 || mass === null ? null : (mass / (7.5 * 1.14)) * 10000;
    const standard = raw === null ? null : (raw * (100 - moisture)) / 84;
    return { plot: plot.number, treatment: treatments[plot.treatment], raw, standard, why_not: raw === null ? 'harvested mass is not seen' : '' };
  });
  return { unit: 'kg/ha', standard_moisture_pct: 16, lines };
}

function intakeOf(url) {
  const accept = url.searchParams.get('accept') === 'true';
  return {
    file: 'lodging.csv',
    sha256: '0'.repeat(64),
    read_as: 'CSV, one row per plot, comma as decimal sign, semicolon between fields',
    guesses: ['The column “lodge” was taken for lodging.'],
    counts: [['lodging', 24]],
    remarks: [{ weight: 'warn', place: 'line 14, column lodge', what: 'Plot 204 has 9, all others 1 to 3.', try_this: 'Look whether 9 is meant.' }],
    sample: [
      { place: 'line 2', plot: 101, measure: 'lodging', status: 'value', value: 2 },
      { place: 'line 3', plot: 102, measure: 'lodging', status: 'not_seen', value: null },
    ],
    acceptable: true,
    accepted: accept ? 24 : undefined,
  };
}

const units = ['kg/ha mass_per_area', 't/ha mass_per_area', 'plants/m2 count_per_area', 'kg mass', 'g mass', 'm length', 'cm length', '% share', 'score score', 'd time', 'degC temperature', 'money/ha money_per_area', 'money/kg money_per_mass'];

function answer(method, url, body) {
  const parts = url.pathname.split('/').filter(Boolean).map(decodeURIComponent);
  if (parts[1] === 'station') {
    const lines = [...trials.values()].map((trial) => ({
      code: trial.plan.trial.code,
      title: trial.plan.trial.title,
      season: trial.plan.trial.season,
      crop: trial.plan.trial.crop,
      stage: trial.stage,
      next: trial.next,
      answer: trial.answer,
    }));
    const older = { code: 'LODG-30', title: 'Shorter stems by a growth regulator', season: 2030, crop: 'naked oats', stage: 'observed', next: 'Print the report for the growers’ group.', answer: 'The regulator made no difference that matters to yield (less than 200 kg/ha) at Lower Terrace in 2030.' };
    return { name: 'Quillfen', invented: true, trials: [...lines, older].sort((left, right) => right.season - left.season), lots };
  }
  if (parts[1] === 'crops') return [{ name: 'buckwheat', standard_moisture_pct: 16, bushel_lb: 48 }, { name: 'naked oats', standard_moisture_pct: 13.5, bushel_lb: 34 }];
  if (parts[1] === 'units') return units.map((line) => ({ symbol: line.split(' ')[0], dimension: line.split(' ').slice(1).join(' ') }));
  if (parts[1] === 'plan') return check(body);
  if (parts[1] === 'lots') {
    const index = lots.findIndex((lot) => lot.code === body.lot.code);
    lots.splice(index < 0 ? lots.length : index, 1, body.lot);
    return body.lot;
  }
  if (parts[1] === 'trials' && parts.length === 2) {
    if (trials.has(body.plan.trial.code)) throw new Refused(409, 'taken', `There is a trial ${body.plan.trial.code} already.`, 'Code', 'Choose another code.');
    trials.set(body.plan.trial.code, { plan: { ground: plan.ground, ...body.plan }, version: 1, layouts: [], entries: {}, notes: [], publications: [], stage: 'asking', next: 'Write the claim.' });
    return view(trials.get(body.plan.trial.code));
  }
  const trial = trials.get(parts[2]);
  if (!trial) throw new Refused(404, 'not_found', `There is no trial ${parts[2]}.`, 'the address of this page', 'Choose a trial from the list.');
  switch (parts[3]) {
    case undefined:
      return view(trial);
    case 'plan':
      if (body.expected_version !== trial.version) throw new Refused(409, 'stale', `The plan was saved as version ${trial.version} in the meantime.`, `plan of ${parts[2]}`, 'Join both, or drop yours.');
      Object.assign(trial, { plan: body.plan, version: trial.version + 1 });
      return view(trial);
    case 'layout': {
      if (method === 'GET') return layoutView(trial.layouts.find(({ line }) => String(line.version) === url.searchParams.get('version')) ?? trial.layouts.at(-1));
      const version = trial.layouts.length + 1;
      trial.layouts.push({ line: layoutLine(version, 100 + version, { reason: body.reason, by: body.by, drawn_at: now() }), layout: layoutOf(100 + version) });
      return layoutView(trial.layouts.at(-1));
    }
    case 'packets':
      return packetsOf(trial);
    case 'documents': {
      const line = { kind: parts[4], file: `${parts[2]}-${parts[4]}.pdf`, made_at: now() };
      trial.publications.unshift(line);
      return line;
    }
    case 'observations':
      return method === 'GET' ? table(trial, url.searchParams) : write(trial, body);
    case 'history':
      return trial.entries[`${url.searchParams.get('plot')}/${url.searchParams.get('measure')}`] ?? [];
    case 'intake':
      return intakeOf(url);
    case 'harvest':
      return harvestOf(trial);
    case 'premise':
      trial.premise = { ...body, recorded_at: now(), after_yields: true };
      return view(trial);
    case 'notes':
      trial.notes.push(body);
      return view(trial);
    case 'report':
      return report;
    default:
      throw new Refused(404, 'not_found', 'There is no such page.', url.pathname, 'Go back.');
  }
}

const TYPES = { '.html': 'text/html', '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml', '.woff2': 'font/woff2' };

async function file(path) {
  const wanted = normalize(join(dist, path === '/' ? 'index.html' : path));
  if (!wanted.startsWith(dist)) return undefined;
  return { bytes: await readFile(wanted), type: TYPES[extname(wanted)] ?? 'application/octet-stream' };
}

createServer(async (request, response) => {
  const url = new URL(request.url, `http://127.0.0.1:${port}`);
  const chunks = [];
  for await (const chunk of request) chunks.push(chunk);
  try {
    if (!url.pathname.startsWith('/api/')) {
      const { bytes, type } = await file(url.pathname);
      response.writeHead(200, { 'content-type': type }).end(bytes);
      return;
    }
    const json = request.headers['content-type']?.startsWith('application/json');
    const body = json ? JSON.parse(Buffer.concat(chunks).toString()) : undefined;
    const said = JSON.stringify(answer(request.method, url, body));
    response.writeHead(200, { 'content-type': 'application/json' }).end(said);
  } catch (thrown) {
    if (!(thrown instanceof Refused) && url.pathname.startsWith('/api/')) console.error(thrown);
    const body = thrown.body ?? { error: { kind: 'not_found', what: String(thrown.message), place: url.pathname, try_this: '', remarks: [] } };
    response.writeHead(thrown.status ?? 404, { 'content-type': 'application/json' }).end(JSON.stringify(body));
  }
}).listen(port, '127.0.0.1', () => console.log(`The invented station listens on http://127.0.0.1:${port}`));
