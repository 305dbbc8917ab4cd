// A report for the invented station, in the shape in which the station sends it. The numbers are made up.

const column = (heading, align = 'left', unit = '') => ({ heading, unit, align });
const row = (kind, ...cells) => ({ cells, kind });

function differences(width, lines) {
  const x = (value) => 40 + ((value + 200) / 700) * (width - 60);
  const marks = lines.map(({ label, low, at, high }, index) => {
    const y = 40 + index * 46;
    return `<text x="4" y="${y - 12}" font-size="14" fill="#1d2a38">${label}: ${at} (${low} to ${high})</text>
      <line x1="${x(low)}" x2="${x(high)}" y1="${y}" y2="${y}" stroke="#1d2a38" stroke-width="3"/>
      <circle cx="${x(at)}" cy="${y}" r="6" fill="#1d2a38"/>`;
  });
  const height = 40 + lines.length * 46;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" role="img" aria-label="Differences against the margin" font-family="sans-serif">
    <rect x="${x(-150)}" y="14" width="${x(150) - x(-150)}" height="${height - 34}" fill="#efe6d6"/>
    <line x1="${x(0)}" x2="${x(0)}" y1="14" y2="${height - 20}" stroke="#4d5a68"/>
    ${marks.join('')}
    <text x="${x(-150)}" y="${height - 4}" font-size="13" fill="#4d5a68">margin: 150 kg/ha each way</text></svg>`;
}

const lines = [
  { label: 'early less late', low: 38, at: 214, high: 390 },
  { label: '250 less 150', low: 41, at: 112, high: 183 },
];

export const report = {
  heading: {
    title: 'Early and late sowing of buckwheat',
    trial_code: 'ELSB-31',
    station: 'Quillfen (invented)',
    season: '2031',
    site: 'Lower Terrace, sandy loam',
    crop: 'buckwheat',
    people: [{ name: 'A. Invented', role: 'trial lead' }],
    prepared_on: '2031-11-25',
    stamp: { standing: 'draft', text: 'Draft: lodging is not recorded yet' },
  },
  question: {
    decision: 'Whether to sow buckwheat ten days earlier than is usual here',
    who_acts: 'The growers’ group of the lower valley',
    claim: 'Early sowing yields more than late sowing.',
    margin: '150 kg/ha',
    premise: {
      text: 'Mean soil temperature at 4 cm in the early plots below 10 degC in the first 48 h after seeding.',
      status: 'occurred',
      status_text: 'occurred',
      evidence: 'Loggers 3 and 7: 8.4 and 8.9 degC.',
    },
    chain: {
      caption: 'The chain from cause to yield',
      columns: ['Link', 'Expected', 'Measured', 'Found', 'Verdict'].map((heading) => column(heading)),
      rows: [
        row('attention', 'Colder seedbed', 'lower', 'first week after each sowing', '', 'not measured'),
        row('plain', 'Stand, early', 'lower by at least 15 plants/m2', 'three weeks after sowing', '-17 (-26 to -8) plants/m2', 'held'),
        row('plain', 'First flower', 'lower by at least 5 d', 'daily from mid June', '+5 (3 to 6) d', 'broken'),
      ],
      notes: [],
    },
    chain_sentence: 'The first link from the cause, a colder seedbed, was not measured.',
    rivals: ['Weeds were fewer in the early plots: stayed (difference 0.4 %, 95 % interval -1.1 to 1.9).'],
  },
  findings: [
    {
      claim: 'Yield, early against late sowing',
      verdict: { kind: 'supported', word: 'Supported' },
      sentence: 'At Lower Terrace in 2031 early sowing yielded more than late sowing; by how much is less sure.',
      numbers: '+214 kg/ha (95 % interval 38 to 390); margin 150 kg/ha',
      would_take: '',
      not_to_say: ['a single figure without its interval', '“proved”, “always”, “optimum”'],
    },
    {
      claim: 'Yield, 250 against 150 plants/m2',
      verdict: { kind: 'undecided', word: 'Undecided' },
      sentence: 'This trial cannot tell whether the dense stand pays its seed.',
      numbers: '+112 kg/ha (95 % interval 41 to 183); margin 73 kg/ha',
      would_take: 'Six replicates would give an 80 % chance to decide.',
      not_to_say: ['“no difference”', '“tended to”'],
    },
  ],
  method: {
    sentences: ['Two sowings on main plots and three rates on plots within them were randomised in 4 replicates (split-plot).'],
    treatments: {
      caption: 'Treatments',
      columns: [column('No', 'right'), column('Sowing'), column('Rate', 'right', 'plants/m2')],
      rows: ['early', 'late'].flatMap((sowing, s) => [150, 200, 250].map((rate, r) => row('plain', String(s * 3 + r + 1), sowing, String(rate)))),
      notes: [],
    },
  },
  map: null,
  season: { notes: ['A dry May was followed by a wet June.'], operations: null, deviations: null },
  responses: [
    {
      key: 'yield',
      measure: 'Grain yield at 16 % moisture',
      unit: 'kg/ha',
      n: 24,
      missing: 0,
      n_sentence: '24 of 24 plots have a value.',
      tests: {
        caption: 'Tests by stratum',
        columns: [column('Source'), column('df', 'right'), column('Error df', 'right'), column('Mean square', 'right'), column('F', 'right'), column('p', 'right')],
        rows: [
          row('group', 'plots', '', '', '', '', ''),
          row('plain', 'sowing x rate', '2', '12', '1 204', '0.41', '0.67'),
          row('plain', 'rate', '2', '12', '25 310', '8.70', '0.005'),
          row('plain', 'Residual', '12', '', '2 909', '', ''),
          row('group', 'main plots', '', '', '', '', ''),
          row('plain', 'sowing', '1', '3', '274 780', '15.0', '0.030'),
          row('plain', 'Residual', '3', '', '18 300', '', ''),
        ],
        notes: [],
      },
      gate_sentence:
        'The differences between early and late are alike at the three rates (largest difference between them 61 kg/ha, 95 % interval -120 to 242): a difference between them that matters is not excluded.',
      means: [
        {
          caption: 'Means',
          columns: [column('Sowing'), column('150', 'right', 'plants/m2'), column('200', 'right', 'plants/m2'), column('250', 'right', 'plants/m2'), column('Mean', 'right')],
          rows: [row('plain', 'early', '1 690', '1 750', '1 810', '1 750'), row('plain', 'late', '1 480', '1 540', '1 590', '1 536'), row('total', 'Mean', '1 585', '1 645', '1 700', '1 643')],
          notes: ['SED of two sowing means 55 kg/ha (3 df); LSD 5 % 176 kg/ha.'],
        },
      ],
      precision: ['CV of plots 3.3 %, of main plots 8.2 %.'],
      figures: [
        {
          caption: 'Differences with their 95 % intervals, against the margin (shaded).',
          chart: { kind: 'differences' },
          svg: differences(660, lines),
          svg_phone: differences(340, lines),
        },
      ],
      diagnostics: null,
      looking: { sentences: [], tables: [], map: null },
      notices: [{ level: 'warning', text: 'The error of main plots has 3 degrees of freedom, fewer than 12.' }],
    },
  ],
  harvest: null,
  sections: [],
  not_meant: ['One season at one site: it does not say what happens here in other years.'],
  cautions: ['Product labels, seed instructions and local rules come first.'],
  exclusions: { sentence: 'No plot was excluded.', table: null },
  provenance: [{ label: 'Layout seed', value: '7f3a09' }, { label: 'Data as of', value: '2031-11-25' }],
};
