// An invented station to work on the pages with. Every number here is made up by a small seeded generator.

function generator(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let z = Math.imul(state ^ (state >>> 15), state | 1);
    z ^= z + Math.imul(z ^ (z >>> 7), z | 61);
    return ((z ^ (z >>> 14)) >>> 0) / 4294967296;
  };
}

function shuffled(items, random) {
  const list = [...items];
  for (let last = list.length - 1; last > 0; last -= 1) {
    const other = Math.floor(random() * (last + 1));
    [list[last], list[other]] = [list[other], list[last]];
  }
  return list;
}

const names = (...labels) => labels.map((label) => ({ label }));

export const plan = {
  format: 'guardrow plan 1',
  trial: {
    code: 'ELSB-31',
    title: 'Early and late sowing of buckwheat',
    season: 2031,
    site: 'Lower Terrace, sandy loam',
    crop: 'buckwheat',
    currency: 'EUR',
    people: [
      { name: 'A. Invented', role: 'trial lead' },
      { name: 'B. Madeup', role: 'seed room' },
    ],
  },
  question: {
    decision: 'Whether to sow buckwheat ten days earlier than is usual here',
    who_acts: 'The growers’ group of the lower valley, when they order seed in February',
    claims: [
      {
        statement: 'Early sowing yields more than late sowing',
        measure: 'yield',
        comparison: { first: { factor: 'sowing', level: 'early' }, second: { factor: 'sowing', level: 'late' } },
        direction: 'higher',
        margin: '150 kg/ha',
      },
      {
        statement: 'A dense stand pays its seed',
        measure: 'yield',
        comparison: { first: { factor: 'rate', level: '250' }, second: { factor: 'rate', level: '150' } },
        direction: 'higher',
        margin: { added_cost: '38 money/ha', price: '0.52 money/kg' },
      },
    ],
    links: [
      { step: 'The seedbed is colder when sown early', measure: '', direction: 'lower', smallest: '2 degC', when: 'first week after each sowing' },
      { step: 'Fewer plants come up', measure: 'stand_early', direction: 'lower', smallest: '15 plants/m2', when: 'three weeks after sowing' },
      { step: 'Flowering begins before the July heat', measure: 'first_flower', direction: 'lower', smallest: '5 d', when: 'daily from mid June' },
      { step: 'More seeds are set', measure: 'yield', direction: 'higher', smallest: '150 kg/ha', when: 'harvest' },
    ],
    rivals: [{ explanation: 'Weeds were fewer in the early plots', measure: 'weed_cover', smallest: '10 %' }],
    premise: {
      words: 'the seedbed was not cold at the early date',
      condition: {
        measure: 'soil temperature',
        place: 'seed zone, 4 cm, early plots',
        window: 'first 48 h after seeding',
        statistic: 'mean',
        below: true,
        threshold: '10 degC',
        sensor_error: '0.3 degC',
      },
    },
  },
  treatments: {
    factors: [
      { name: 'sowing', scale: { kind: 'qualitative' }, levels: names('early', 'late') },
      {
        name: 'rate',
        scale: { kind: 'quantitative', unit: 'plants/m2' },
        levels: [150, 200, 250].map((amount) => ({ label: String(amount), amount })),
      },
    ],
  },
  arrangement: { kind: 'split_plot', replicates: 4, main_plot_factors: ['sowing'] },
  ground: {
    plot_length_m: 9,
    plot_width_m: 1.52,
    harvested_length_m: 7.5,
    harvested_width_m: 1.14,
    rows: 8,
    row_spacing_m: 0.19,
    plots_per_range: 6,
    numbering: 'serpentine',
    alley_between_ranges_m: 1.5,
    alley_between_replicates_m: 2.5,
    guards_at_range_ends: 1,
    guards_between_main_plots: 1,
    guard_ranges: 0,
    north_bearing_deg: 20,
    seeder_start: 'front_left',
  },
  measures: [
    { key: 'stand_early', name: 'Stand, early', unit: 'plants/m2', event: 'Stand count', method: 'Two lengths of 1 m in the inner rows.', range: [0, 400] },
    { key: 'weed_cover', name: 'Weed cover', unit: '%', event: 'Stand count', method: 'By eye, two people, mean.', range: [0, 100] },
    { key: 'first_flower', name: 'First flower', unit: 'd', event: 'Flowering', method: 'Days from seeding to the first open flower.', range: [20, 80] },
    { key: 'lodging', name: 'Lodging', unit: 'score', event: 'Before harvest', method: 'Whole plot.', range: [1, 9], anchors: ['all upright', 'all flat'] },
  ],
  harvest: { standard_moisture_pct: 16, yield_unit: 'kg/ha' },
  supply: {
    stands: [
      { only: { factor: 'rate', level: '150' }, stand: '150 plants/m2' },
      { only: { factor: 'rate', level: '200' }, stand: '200 plants/m2' },
      { stand: '250 plants/m2' },
    ],
    lots: [{ lot: 'BW-0417' }],
    emergence_pct: 82,
    overfill_pct: 3,
    reserve_pct: 5,
  },
  exclusion_rule: 'A plot is left out when more than a quarter of it was lost to something that no treatment can have caused.',
};

export const harvestMeasures = [
  { key: 'harvest_mass', name: 'Harvested mass', unit: 'kg', event: 'Harvest', method: 'Grain as it was weighed, tare taken off.', range: [0, 10000] },
  { key: 'harvest_moisture', name: 'Grain moisture', unit: '%', event: 'Harvest', method: 'Wet basis, meter set to the crop.', range: [0, 99.9] },
];

export const treatments = ['early, 150', 'early, 200', 'early, 250', 'late, 150', 'late, 200', 'late, 250'];

export const skeleton = {
  strata: [
    { name: 'block', rows: [], error_df: 3, total_df: 3 },
    { name: 'main plot', rows: [{ source: 'sowing', factors: ['sowing'], df: 1 }], error_df: 3, total_df: 4 },
    {
      name: 'plot',
      rows: [
        { source: 'rate', factors: ['rate'], df: 2 },
        { source: 'sowing x rate', factors: ['sowing', 'rate'], df: 2 },
      ],
      error_df: 12,
      total_df: 16,
    },
  ],
  total_df: 23,
  notices: [
    {
      topic: 'few_error_df',
      sentence:
        'Between main plots only 3 degrees of freedom are left for error to judge sowing; fewer than 12 find only large differences. 13 replicates would give 12 or more.',
    },
  ],
};

export function layoutOf(seed) {
  const random = generator(seed);
  const plots = [];
  for (let replicate = 1; replicate <= 4; replicate += 1) {
    const range = replicate;
    const y_m = (range - 1) * 11.5;
    const mains = shuffled([0, 1], random).map((sowing, main) => ({ main: main + 1, rates: shuffled([0, 1, 2], random).map((rate) => sowing * 3 + rate) }));
    const rightwards = replicate % 2 === 1;
    const order = rightwards ? mains : mains.toReversed();
    const row = [];
    const guard = () => row.push({ number: null, kind: 'guard', units: {}, treatment: null });
    guard();
    order.forEach(({ main, rates }, index) => {
      if (index > 0) guard();
      (rightwards ? rates : rates.toReversed()).forEach((treatment, within) => {
        const place = (main - 1) * 3 + (rightwards ? within + 1 : 3 - within);
        row.push({ number: replicate * 100 + place, kind: 'plot', units: { 'main plot': main }, treatment });
      });
    });
    guard();
    row.forEach((plot, index) => {
      plots.push({ ...plot, replicate, range, pass: index + 1, x_m: index * 1.52, y_m, width_m: 1.52, length_m: 9 });
    });
  }
  return { ground: plan.ground, plots, ranges: 4, passes: 9, width_m: 13.68, length_m: 43.5 };
}

export function entriesOf(layout) {
  const random = generator(31);
  const noise = (size) => (random() + random() + random() - 1.5) * size;
  const entries = {};
  let id = 0;
  const enter = (plot, measure, value, more = {}) => {
    id += 1;
    const entry = {
      id: `00000000-0000-7000-8000-${String(id).padStart(12, '0')}`,
      status: 'value',
      value,
      text: String(value),
      by: 'C. Nobody',
      recorded_at: '2031-06-09T08:12:00Z',
      source: 'stand.xlsx, sheet Stand count, line 9',
      ...more,
    };
    (entries[`${plot}/${measure}`] ??= []).push(entry);
  };
  for (const plot of layout.plots.filter((one) => one.kind === 'plot')) {
    const early = plot.treatment < 3;
    const rate = plot.treatment % 3;
    enter(plot.number, 'stand_early', Math.round(120 + 38 * rate - (early ? 18 : 0) + noise(16)));
    enter(plot.number, 'weed_cover', Math.round(9 - 2 * rate + noise(4)));
    if (plot.replicate < 4) enter(plot.number, 'first_flower', Math.round((early ? 41 : 36) + noise(2)));
    const mass = 1.28 + 0.09 * rate + (early ? 0.17 : 0) + noise(0.09);
    enter(plot.number, 'harvest_mass', Number(mass.toFixed(3)), { source: 'typed on screen', recorded_at: '2031-09-18T15:40:00Z' });
    enter(plot.number, 'harvest_moisture', Number((17.1 + noise(1.2)).toFixed(1)), { source: 'typed on screen', recorded_at: '2031-09-18T15:40:00Z' });
  }
  entries['202/weed_cover'] = [
    { ...entries['202/weed_cover'][0], status: 'not_seen', value: undefined, text: 'not seen' },
  ];
  enter(103, 'stand_early', 151, { by: 'B. Madeup', source: 'typed on screen' });
  return entries;
}

export const lots = [
  {
    code: 'BW-0417',
    crop: 'buckwheat',
    variety: 'invented variety A',
    thousand_kernel_weight_g: 26.4,
    germination_pct: 93,
    germination_tested: '2031-02-11',
    treatment: '',
    on_hand: '4.2 kg',
    caution: '',
  },
  { code: 'BW-0502', crop: 'buckwheat', variety: 'invented variety B', germination_pct: 88, treatment: 'bare', caution: '' },
];

export const notes = [
  { kind: 'operation', on: '2031-05-12', text: 'Early plots sown, soil moist, wind light.', plots: [], by: 'A. Invented' },
  { kind: 'operation', on: '2031-05-23', text: 'Late plots sown.', plots: [], by: 'A. Invented' },
  { kind: 'incident', on: '2031-06-20', text: 'Pigeons on the outer plots for two mornings.', plots: [101, 401], by: 'C. Nobody' },
];
